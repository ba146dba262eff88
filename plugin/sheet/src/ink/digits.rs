//! Digits of meters and tuplets, taken from a bold face and fitted to height.

use super::super::{Bounds, Path, Point};
use super::face::{Letters, SERIF_BOLD, SERIF_BOLD_ITALIC};
use super::outline::path_bounds;
use super::pen::{Contour, Pen, at, map_step};

/// Height of a meter's digit in spaces.
const METER: f32 = 2.0;
/// Height of a tuplet's digit in spaces.
const TUPLET: f32 = 1.05;

/// Two spaces high.
pub(super) fn meter(digit: u8) -> Path {
    fitted(&SERIF_BOLD, digit, METER)
}

/// About one space high, leaning.
pub(super) fn tuplet(digit: u8) -> Path {
    fitted(&SERIF_BOLD_ITALIC, digit, TUPLET)
}

/// Between the numbers of a tuplet.
pub(super) fn colon() -> Path {
    let radius = 0.11;
    let dot = |x: f32, y: f32| Contour::ellipse(radius, radius).moved(x, y);
    Pen::new()
        .solid(dot(radius, TUPLET / 2.0 - 0.2))
        .solid(dot(radius + 0.09, -0.14))
        .path()
}

/// A digit whose ink begins at 0 and reaches from `-height / 2` to
/// `height / 2`: round digits do not stand out beyond straight ones, since
/// staff lines would show it.
fn fitted(face: &Letters, digit: u8, height: f32) -> Path {
    let sign = char::from(b'0' + digit.min(9));
    let path = face.glyph(sign).map(|glyph| glyph.path.clone());
    let path = path.unwrap_or_default();
    let Bounds {
        left, top, bottom, ..
    } = path_bounds(&path);
    let scale = height / (bottom - top);
    let f = |p: Point| at((p.x - left) * scale, (p.y - top) * scale - height / 2.0);
    Path(path.0.iter().map(|step| map_step(*step, f)).collect())
}
