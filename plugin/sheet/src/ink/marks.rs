//! Clef, dots, accents and the signs above and across notes, drawn round their
//! middle; the clef from its left edge.

use super::super::Path;
use super::pen::{Contour, Pen};

fn block(left: f32, top: f32, right: f32, bottom: f32) -> Contour {
    Contour::polygon(&[(left, top), (right, top), (right, bottom), (left, bottom)])
}

/// A straight stroke of a thickness.
fn stroke(from: (f32, f32), to: (f32, f32), width: f32) -> Contour {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let length = dx.hypot(dy);
    let (nx, ny) = (-dy / length * width / 2.0, dx / length * width / 2.0);
    Contour::polygon(&[
        (from.0 + nx, from.1 + ny),
        (to.0 + nx, to.1 + ny),
        (to.0 - nx, to.1 - ny),
        (from.0 - nx, from.1 - ny),
    ])
}

/// Two upright bars over the inner spaces.
pub(super) fn clef() -> Path {
    Pen::new()
        .solid(block(0.0, -1.0, 0.34, 1.0))
        .solid(block(0.64, -1.0, 0.98, 1.0))
        .path()
}

/// Augmentation dot.
pub(super) fn dot() -> Path {
    Pen::new().solid(Contour::ellipse(0.2, 0.2)).path()
}

/// Accent: a wedge that opens to the left.
pub(super) fn accent() -> Path {
    Pen::new()
        .solid(Contour::polygon(&[
            (-0.68, -0.49),
            (0.68, -0.07),
            (0.68, 0.07),
            (-0.68, 0.49),
            (-0.68, 0.34),
            (0.42, 0.0),
            (-0.68, -0.34),
        ]))
        .path()
}

fn ring() -> Pen {
    Pen::new()
        .solid(Contour::ellipse(0.33, 0.33))
        .hole(Contour::ellipse(0.235, 0.235))
}

/// Open hi-hat.
pub(super) fn open() -> Path {
    ring().path()
}

/// Half-open hi-hat.
pub(super) fn half_open() -> Path {
    ring()
        .solid(stroke((-0.33, 0.42), (0.33, -0.42), 0.095))
        .path()
}

/// Closed hi-hat.
pub(super) fn closed() -> Path {
    let (arm, half) = (0.4, 0.065);
    Pen::new()
        .solid(Contour::polygon(&[
            (-half, -arm),
            (half, -arm),
            (half, -half),
            (arm, -half),
            (arm, half),
            (half, half),
            (half, arm),
            (-half, arm),
            (-half, half),
            (-arm, half),
            (-arm, -half),
            (-half, -half),
        ]))
        .path()
}

/// Choke: a comma.
pub(super) fn choke() -> Path {
    Pen::new()
        .solid(
            Contour::from(-0.22, -0.20)
                .curve(-0.22, -0.34, -0.10, -0.42, 0.02, -0.42)
                .curve(0.16, -0.42, 0.24, -0.30, 0.24, -0.14)
                .curve(0.24, 0.12, 0.06, 0.34, -0.20, 0.42)
                .line(-0.22, 0.37)
                .curve(-0.04, 0.28, 0.08, 0.16, 0.08, 0.0)
                .curve(0.04, 0.02, 0.0, 0.02, -0.03, 0.02)
                .curve(-0.14, 0.02, -0.22, -0.08, -0.22, -0.20),
        )
        .path()
}

/// Buzz: a bold z.
pub(super) fn buzz() -> Path {
    Pen::new()
        .solid(Contour::polygon(&[
            (-0.40, -0.44),
            (0.42, -0.44),
            (0.42, -0.32),
            (-0.12, 0.28),
            (0.42, 0.28),
            (0.42, 0.44),
            (-0.42, 0.44),
            (-0.42, 0.32),
            (0.12, -0.28),
            (-0.40, -0.28),
        ]))
        .path()
}

/// Slash of a grace note, up to the right.
pub(super) fn grace_slash() -> Path {
    Pen::new()
        .solid(stroke((-0.6, 0.45), (0.6, -0.45), 0.1))
        .path()
}
