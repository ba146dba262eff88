//! Which ink may lie on which, and a search for pairs that must not.

use barform_app::sheet::{Bounds, Item, PathStep, Role, Shape};

fn is_text(item: &Item) -> bool {
    matches!(item.shape, Shape::Text { .. })
}

/// Whether two parts of a sheet may share an area. The order does not matter.
fn may(a: &Item, b: &Item) -> bool {
    use Role::*;
    if is_text(a) && is_text(b) {
        return false;
    }
    let one = |a: &Item, b: &Item| match (a.role, b.role) {
        // All music crosses the staff's lines; words do not.
        (
            StaffLine,
            Count | LightCount | Sticking | GraceSticking | Section | Letter(_) | BarNumber,
        ) => false,
        (StaffLine, RepeatText | Title | Tempo | Key | Folio | StaffLine) => false,
        (StaffLine, _) => true,
        // A ledger line lies under its head and whatever is attached to it.
        (Ledger, Head | Stem | Paren | Grace | Ledger | Slur | Beam | Dot | Buzz) => true,
        // A stem runs through the heads of its chord and into its beam or flag.
        (Stem, Head | Beam | Flag | Paren | Buzz | Stem) => true,
        (Beam, Beam) => true,
        (BarLine, BarLine) => true,
        // Heads of a second share the stem between them.
        (Head, Head) => overlap(a.bounds, b.bounds).0 <= 0.13 * space(a),
        // A letter lies in its box.
        (Letter(i), Letter(j)) => i == j && is_text(a) != is_text(b) && holds(a, b),
        // Parts of one group of grace notes, its slur included.
        (Grace, Grace | Slur) => a.source == b.source,
        // The note of the tempo mark; a head of the key on its staff.
        (Tempo, Tempo) => true,
        (Key, Key) => true,
        // Corners of a bracket.
        (TupletBracket, TupletBracket) => {
            let upright =
                |i: &Item| i.bounds.bottom - i.bounds.top > i.bounds.right - i.bounds.left;
            upright(a) != upright(b)
        }
        _ => false,
    };
    one(a, b) || one(b, a)
}

fn holds(a: &Item, b: &Item) -> bool {
    a.bounds.holds(b.bounds) || b.bounds.holds(a.bounds)
}

/// Staff space of a head, from its own shape.
fn space(item: &Item) -> f32 {
    match item.shape {
        Shape::Glyph { space, .. } => space,
        _ => 0.0,
    }
}

/// Width and height of what two boxes share; negative where they do not.
fn overlap(a: Bounds, b: Bounds) -> (f32, f32) {
    (
        a.right.min(b.right) - a.left.max(b.left),
        a.bottom.min(b.bottom) - a.top.max(b.top),
    )
}

/// The part of an item's box between two uprights: a slanting beam is high only
/// where it passes.
fn within(item: &Item, left: f32, right: f32) -> Bounds {
    let b = item.bounds;
    let Shape::Fill(path) = &item.shape else {
        return b;
    };
    if item.role != Role::Beam {
        return b;
    }
    let points: Vec<(f32, f32)> = path
        .0
        .iter()
        .filter_map(|s| match s {
            PathStep::Move(p) | PathStep::Line(p) => Some((p.x, p.y)),
            _ => None,
        })
        .collect();
    assert_eq!(points.len(), 4, "a beam has four corners");
    let at = |i: usize, j: usize, x: f32| {
        let ((x0, y0), (x1, y1)) = (points[i], points[j]);
        y0 + (y1 - y0) * ((x - x0) / (x1 - x0)).clamp(0.0, 1.0)
    };
    let ys = [left, right]
        .into_iter()
        .flat_map(|x| [at(0, 1, x), at(3, 2, x)]);
    let (top, bottom) = ys.fold((f32::MAX, f32::MIN), |(t, b), y| (t.min(y), b.max(y)));
    Bounds { top, bottom, ..b }
}

/// Pairs on one page that lie on each other and must not.
pub fn clashes(items: &[Item]) -> Vec<(&Item, &Item)> {
    // A thousandth of a millimetre is rounding, not ink.
    const HAIR: f32 = 0.001;
    let mut order: Vec<&Item> = items.iter().collect();
    order.sort_by(|a, b| a.bounds.left.total_cmp(&b.bounds.left));
    let mut clashes = Vec::new();
    for (i, a) in order.iter().enumerate() {
        for b in order[i + 1..]
            .iter()
            .take_while(|b| b.bounds.left < a.bounds.right)
        {
            let (left, right) = (
                a.bounds.left.max(b.bounds.left),
                a.bounds.right.min(b.bounds.right),
            );
            let (x, y) = overlap(within(a, left, right), within(b, left, right));
            if x > HAIR && y > HAIR && !may(a, b) {
                clashes.push((*a, *b));
            }
        }
    }
    clashes
}
