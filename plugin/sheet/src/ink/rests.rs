//! Rests, drawn from the middle of the staff at their left edge.

use super::super::Path;
use super::pen::{Contour, Pen};

/// How far a slanted stem runs to the left for each space down.
const SLANT: f32 = 0.27;

/// A rest of a value in halvings of a whole note, up to the 1024th.
pub(super) fn rest(halvings: u8) -> Path {
    match halvings {
        0 => block(-1.0),
        1 => block(-0.5),
        2 => quarter(),
        more => hooked(more.min(10) - 2),
    }
}

/// Half a space of black: hanging from a line or lying on one.
fn block(top: f32) -> Path {
    let bottom = top + 0.5;
    Pen::new()
        .solid(Contour::polygon(&[
            (0.0, top),
            (1.16, top),
            (1.16, bottom),
            (0.0, bottom),
        ]))
        .path()
}

/// Quarter rest.
fn quarter() -> Path {
    Pen::new()
        .solid(
            // Down the right side: the upper stroke and its turn.
            Contour::from(0.30, -1.50)
                .curve(0.36, -1.42, 0.84, -0.82, 0.91, -0.72)
                .curve(0.98, -0.62, 0.97, -0.55, 0.90, -0.46)
                // Back to the waist, then the lower stroke to its tip.
                .curve(0.72, -0.24, 0.62, -0.08, 0.63, 0.08)
                .curve(0.65, 0.30, 0.84, 0.52, 1.06, 0.76)
                .curve(1.10, 0.81, 1.06, 0.87, 1.00, 0.84)
                // Inside of the hook and its tip.
                .curve(0.76, 0.72, 0.50, 0.70, 0.46, 0.90)
                .curve(0.43, 1.06, 0.54, 1.22, 0.66, 1.38)
                .curve(0.70, 1.44, 0.65, 1.50, 0.59, 1.45)
                // Outside of the hook, up to the lower stroke.
                .curve(0.34, 1.26, 0.04, 0.98, 0.12, 0.68)
                .curve(0.18, 0.44, 0.42, 0.42, 0.60, 0.49)
                // Left side.
                .curve(0.46, 0.30, 0.16, -0.02, 0.08, -0.13)
                .curve(0.02, -0.21, 0.03, -0.28, 0.10, -0.36)
                .curve(0.30, -0.58, 0.41, -0.72, 0.40, -0.88)
                .curve(0.39, -1.04, 0.26, -1.26, 0.19, -1.40)
                .curve(0.16, -1.48, 0.25, -1.57, 0.30, -1.50),
        )
        .path()
}

/// Eighth rest and shorter: dots in the spaces, each with a hook to a slanted
/// stem.
fn hooked(hooks: u8) -> Path {
    let top = -0.5 - f32::from((hooks - 1) / 2);
    let bottom = top + f32::from(hooks - 1);
    // The lowest dot touches the left edge.
    let radius = 0.235;
    let dot_to_stem = 0.66;
    let foot = bottom + 1.5;
    let stem_x = |y: f32| radius + dot_to_stem + (bottom - y) * SLANT;
    let mut pen = Pen::new();
    for n in 0..hooks {
        let y = top + f32::from(n);
        let x = stem_x(y) - dot_to_stem;
        let (end_x, end_y) = (stem_x(y - 0.2), y - 0.2);
        pen = pen
            .solid(Contour::ellipse(radius, radius).moved(x, y))
            .solid(
                Contour::from(x - 0.02, y + radius)
                    .curve(x + 0.30, y + 0.27, end_x - 0.24, y + 0.16, end_x, end_y)
                    .line(end_x - 0.05, end_y - 0.02)
                    .curve(
                        end_x - 0.20,
                        y + 0.06,
                        x + 0.30,
                        y + 0.14,
                        x + 0.16,
                        y - 0.05,
                    ),
            );
    }
    let head = top - 0.24;
    pen.solid(Contour::polygon(&[
        (stem_x(head) - 0.045, head),
        (stem_x(head) + 0.075, head),
        (stem_x(foot) + 0.065, foot),
        (stem_x(foot) - 0.075, foot),
    ]))
    .path()
}
