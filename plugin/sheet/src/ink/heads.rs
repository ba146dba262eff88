//! Note heads and the parentheses of ghost notes, drawn round their middle.
//!
//! Proportions as engravers commonly cut them: a head fills one space and is
//! about 1.18 as wide, leaning up to the right.

use super::super::Path;
use super::pen::{Contour, Pen};

/// The oval of quarter and half heads: 1.18 wide, 1 high.
fn oval() -> Contour {
    Contour::ellipse(0.6127, 0.4720).turned(25.0)
}

/// Quarter note and shorter.
pub(super) fn filled() -> Path {
    Pen::new().solid(oval()).path()
}

/// Half note: a slim counter that leans further than the head.
pub(super) fn half() -> Path {
    Pen::new()
        .solid(oval())
        .hole(Contour::ellipse(0.515, 0.255).turned(33.0))
        .path()
}

/// Whole note: wide, its counter leaning back.
pub(super) fn whole() -> Path {
    Pen::new()
        .solid(Contour::ellipse(0.845, 0.5))
        .hole(Contour::ellipse(0.45, 0.30).turned(-60.0))
        .path()
}

/// Two crossed bars in a box of the given half sizes; `cut` is how far the ends
/// are cut off the corners.
fn crossed(across: f32, along: f32, cut: f32) -> Contour {
    let (end_x, end_y) = (across - cut / 2.0, along - cut / 2.0);
    let inner_y = along - (across - cut) * end_y / end_x;
    let inner_x = across - (along - cut) * end_x / end_y;
    Contour::polygon(&[
        (inner_x, 0.0),
        (across, along - cut),
        (across - cut, along),
        (0.0, inner_y),
        (cut - across, along),
        (-across, along - cut),
        (-inner_x, 0.0),
        (-across, cut - along),
        (cut - across, -along),
        (0.0, -inner_y),
        (across - cut, -along),
        (across, cut - along),
    ])
}

/// x head.
pub(super) fn cross() -> Path {
    Pen::new().solid(crossed(0.55, 0.5, 0.14)).path()
}

/// x head of a half note and longer.
pub(super) fn cross_open() -> Path {
    Pen::new()
        .solid(crossed(0.64, 0.58, 0.4))
        .hole(crossed(0.455, 0.395, 0.2))
        .path()
}

/// x in a circle: a disc with four holes that leave the ring and the x.
pub(super) fn circled_cross() -> Path {
    let (outer, inner, half_bar) = (0.55_f32, 0.445_f32, 0.062_f32);
    let reach = (inner * inner - half_bar * half_bar).sqrt();
    // The wedge to the right of the middle: along a bar, round, back.
    let diagonal = std::f32::consts::FRAC_1_SQRT_2;
    let apex = half_bar / diagonal;
    let end_x = (reach + half_bar) * diagonal;
    let end_y = (reach - half_bar) * diagonal;
    let angle = end_y.atan2(end_x);
    let handle = inner * 4.0 / 3.0 * (angle / 4.0).tan();
    let (turn_x, turn_y) = (end_y / inner * handle, end_x / inner * handle);
    let wedge = Contour::from(apex, 0.0)
        .line(end_x, -end_y)
        .curve(end_x + turn_x, turn_y - end_y, inner, -handle, inner, 0.0)
        .curve(inner, handle, end_x + turn_x, end_y - turn_y, end_x, end_y);
    [0.0, 90.0, 180.0, 270.0]
        .into_iter()
        .fold(
            Pen::new().solid(Contour::ellipse(outer, outer)),
            |pen, turn| pen.hole(wedge.clone().turned(turn)),
        )
        .path()
}

fn rhombus(across: f32, along: f32) -> Contour {
    Contour::polygon(&[(across, 0.0), (0.0, along), (-across, 0.0), (0.0, -along)])
}

/// Diamond of a quarter note and shorter.
pub(super) fn diamond() -> Path {
    Pen::new().solid(rhombus(0.56, 0.5)).path()
}

/// Diamond of a half note and longer.
pub(super) fn diamond_open() -> Path {
    Pen::new()
        .solid(rhombus(0.56, 0.5))
        .hole(rhombus(0.36, 0.32))
        .path()
}

fn upright(across: f32, top: f32, bottom: f32) -> Contour {
    Contour::polygon(&[(-across, bottom), (0.0, top), (across, bottom)])
}

/// Triangle of a quarter note and shorter.
pub(super) fn triangle() -> Path {
    Pen::new().solid(upright(0.58, -0.5, 0.5)).path()
}

/// Triangle of a half note and longer.
pub(super) fn triangle_open() -> Path {
    Pen::new()
        .solid(upright(0.58, -0.5, 0.5))
        .hole(upright(0.35, -0.22, 0.385))
        .path()
}

/// Parenthesis on one side (-1 left, 1 right) of a head.
pub(super) fn paren(side: f32) -> Path {
    let crescent = Contour::from(0.715, -0.72)
        .curve(1.08, -0.34, 1.08, 0.34, 0.715, 0.72)
        .line(0.69, 0.69)
        .curve(0.925, 0.3, 0.925, -0.3, 0.69, -0.69);
    Pen::new().solid(crescent.scaled(side, 1.0)).path()
}
