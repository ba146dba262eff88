//! Flags, drawn from the end of the stem at its left edge.

use super::super::Path;
use super::pen::{Contour, Pen};

/// From one flag to the next, in spaces.
const STEP: f32 = 0.75;
/// Thickness of the stem the flags hang on.
const STEM: f32 = 0.12;

/// Flags on a stem that points up (`down` = 1) or, mirrored, down (-1).
pub(super) fn flags(count: u8, down: f32) -> Path {
    let count = count.clamp(1, 8);
    let last = count - 1;
    (0..count)
        .fold(Pen::new(), |pen, n| {
            let shape = match (count, n) {
                (1, _) => single(),
                (_, n) if n == last => lowest(),
                _ => upper(),
            };
            let shape = shape.moved(0.0, f32::from(n) * STEP);
            pen.solid(shape.scaled(1.0, down))
        })
        .path()
}

/// The flag of an eighth: thick at the stem, long and curling back.
fn single() -> Contour {
    Contour::from(0.0, 0.0)
        .line(STEM, 0.0)
        .curve(0.17, 0.58, 0.52, 0.95, 0.80, 1.42)
        .curve(1.06, 1.88, 1.04, 2.46, 0.76, 3.06)
        .line(0.70, 3.03)
        .curve(0.92, 2.46, 0.88, 2.02, 0.62, 1.66)
        .curve(0.44, 1.40, 0.24, 1.14, STEM, 1.02)
        .line(0.0, 0.98)
}

/// The flag nearest the head of a sixteenth and shorter.
fn lowest() -> Contour {
    Contour::from(0.0, 0.0)
        .line(STEM, 0.0)
        .curve(0.18, 0.46, 0.52, 0.70, 0.80, 1.06)
        .curve(1.06, 1.40, 1.06, 1.92, 0.86, 2.42)
        .line(0.80, 2.40)
        .curve(0.93, 1.94, 0.88, 1.56, 0.64, 1.26)
        .curve(0.46, 1.04, 0.26, 0.86, STEM, 0.78)
        .line(0.0, 0.74)
}

/// A flag with another one beneath it: thinner, and ending above its curl.
fn upper() -> Contour {
    Contour::from(0.0, 0.0)
        .line(STEM, 0.0)
        .curve(0.18, 0.40, 0.54, 0.56, 0.80, 0.86)
        .curve(1.00, 1.10, 1.06, 1.36, 0.98, 1.66)
        .line(0.92, 1.65)
        .curve(0.95, 1.40, 0.86, 1.20, 0.66, 1.00)
        .curve(0.48, 0.82, 0.26, 0.66, STEM, 0.58)
        .line(0.0, 0.54)
}
