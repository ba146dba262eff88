//! Grace notes: one for a flam, two for a drag, three for a ruff. Small, stems
//! up, close before their note and slurred to it.

use super::canvas::{line, polygon, sign};
use super::heads::Placed;
use super::metrics::{self, GRACE, LEDGER, STEM};
use crate::{Bounds, Glyph, Head, Item, Path, PathStep, Point, Role, Shape, ink};

/// Length of a grace note's stem.
const STEM_UP: f32 = 2.2;
/// Thickness of a grace note's beam.
const BEAM: f32 = 0.3;
/// From one grace beam to the next.
const BEAM_STEP: f32 = 0.48;

/// Adds the grace notes of all heads, to the left of what stands there.
pub fn notes(voices: &[Vec<Placed>; 2], items: &mut Vec<Item>) {
    for head in voices.iter().flatten() {
        let count = head.stroke.stroke.graces.len();
        if count > 0 {
            group(head, count, items);
        }
    }
}

fn group(main: &Placed, count: usize, items: &mut Vec<Item>) {
    let glyph = match main.stroke.head {
        Head::Oval => Glyph::HeadFilled,
        head => metrics::head_glyph(head, 3),
    };
    let source = main.stroke.source;
    let b = metrics::glyph(glyph);
    let (half_left, half_right) = (-b.left * GRACE, b.right * GRACE);
    let stem = STEM * 0.85;
    let y = main.y;
    let edge = items
        .iter()
        .map(|i| i.bounds.left)
        .fold(main.bounds().left, f32::min);
    // A single one carries a flag to the right of its stem.
    let flag = metrics::glyph(Glyph::FlagsUp(1));
    let after = if count == 1 {
        flag.right * GRACE - stem
    } else {
        0.0
    };
    let apart = half_left + half_right + 0.3;
    let last = edge - 0.3 - after - half_right;
    let xs: Vec<f32> = (0..count)
        .map(|i| last - apart * (count - 1 - i) as f32)
        .collect();
    let tip = y - STEM_UP;
    let leaves = metrics::stem_leaves(glyph, true) * GRACE;
    let stem_x = |x: f32| x + half_right - stem / 2.0;
    let start = items.len();
    for x in &xs {
        items.push(sign(glyph, *x, y, GRACE, Role::Grace, source));
        let at = stem_x(*x);
        let top = if count == 1 { tip } else { tip + 0.02 };
        items.push(line((at, y - leaves), (at, top), stem, Role::Grace));
        ledgers(main, *x - half_left, *x + half_right, items);
    }
    if count == 1 {
        let at = stem_x(last);
        items.push(sign(
            Glyph::FlagsUp(1),
            at - stem / 2.0,
            tip,
            GRACE,
            Role::Grace,
            source,
        ));
        items.push(sign(
            Glyph::GraceSlash,
            at,
            tip + 0.85,
            0.8,
            Role::Grace,
            source,
        ));
    } else {
        let (left, right) = (stem_x(xs[0]) - stem / 2.0, stem_x(last) + stem / 2.0);
        for level in 0..2 {
            let top = tip + level as f32 * BEAM_STEP;
            let corners = [
                (left, top),
                (right, top),
                (right, top + BEAM),
                (left, top + BEAM),
            ];
            items.push(polygon(&corners, Role::Grace));
        }
    }
    items.push(slur(xs[0], edge - 0.08, y + half_left.max(0.35) + 0.12));
    for item in &mut items[start..] {
        item.source = source;
    }
}

/// Short ledger lines of a grace note.
fn ledgers(main: &Placed, left: f32, right: f32, items: &mut Vec<Item>) {
    let step = main.stroke.step.0;
    let lines = (10..=step)
        .step_by(2)
        .chain((step..=-2).filter(|s| s % 2 == 0));
    for at in lines {
        let y = metrics::y_of(crate::StaffStep(at));
        items.push(line(
            (left - 0.12, y),
            (right + 0.12, y),
            LEDGER * 0.8,
            Role::Ledger,
        ));
    }
}

/// A slur below the heads, thicker in its middle.
fn slur(from: f32, to: f32, y: f32) -> Item {
    let p = |x, y| Point { x, y };
    let third = (to - from) / 3.0;
    let (deep, thick) = (0.42, 0.14);
    let path = Path(vec![
        PathStep::Move(p(from, y)),
        PathStep::Curve(p(from + third, y + deep), p(to - third, y + deep), p(to, y)),
        PathStep::Curve(
            p(to - third, y + deep + thick),
            p(from + third, y + deep + thick),
            p(from, y),
        ),
        PathStep::Close,
    ]);
    let bounds: Bounds = ink::path_bounds(&path);
    Item {
        shape: Shape::Fill(path),
        bounds,
        role: Role::Slur,
        source: None,
    }
}
