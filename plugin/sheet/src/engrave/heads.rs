//! Heads of one moment: side by side where they would touch, with their ledger
//! lines, parentheses and dots.

use super::canvas::{line, sign};
use super::column::HANDS;
use super::metrics::{self, LEDGER, LEDGER_OUT, STEM, head_glyph, y_of};
use crate::{Bounds, Glyph, Item, Role, WrittenStroke};
use barform_score::music::Level;

/// A head with its place.
#[derive(Debug, Clone)]
pub struct Placed {
    /// What is struck.
    pub stroke: WrittenStroke,
    /// Its head.
    pub glyph: Glyph,
    /// Middle of the head.
    pub x: f32,
    /// Middle of the head.
    pub y: f32,
    /// On the far side of the stem.
    pub displaced: bool,
}

impl Placed {
    /// The head as an item.
    pub fn item(&self) -> Item {
        sign(
            self.glyph,
            self.x,
            self.y,
            1.0,
            Role::Head,
            self.stroke.source,
        )
    }

    /// Its box.
    pub fn bounds(&self) -> Bounds {
        metrics::glyph_at(self.glyph, self.x, self.y, 1.0)
    }

    /// Middle of a stem on its right (up) or left.
    pub fn stem_x(&self, up: bool) -> f32 {
        let b = self.bounds();
        if up {
            b.right - STEM / 2.0
        } else {
            b.left + STEM / 2.0
        }
    }
}

/// Heads of one voice. Of two closer than a third, one goes to the other side of
/// the stem: the upper one to the right of a stem that points up, the lower one
/// to the left of one that points down.
pub fn place(strokes: &[WrittenStroke], halvings: u8, voice: usize) -> Vec<Placed> {
    let up = voice == HANDS;
    let oval = metrics::glyph(Glyph::HeadFilled);
    let mut order: Vec<&WrittenStroke> = strokes.iter().collect();
    order.sort_by_key(|s| if up { s.step.0 } else { -s.step.0 });
    let mut placed: Vec<Placed> = Vec::with_capacity(order.len());
    for stroke in order {
        let glyph = head_glyph(stroke.head, halvings);
        let b = metrics::glyph(glyph);
        // Heads share a stem, so they are flush on its side.
        let flush = if up {
            oval.right - b.right
        } else {
            oval.left - b.left
        };
        let y = y_of(stroke.step);
        let mut head = Placed {
            stroke: *stroke,
            glyph,
            x: flush,
            y,
            displaced: false,
        };
        while placed.iter().any(|p| touches(p, &head)) {
            let step = b.right - b.left - STEM;
            head.x += if up { step } else { -step };
            head.displaced = true;
        }
        placed.push(head);
    }
    placed
}

/// Whether heads share an area; half a stem of overlap is the stem between them.
fn touches(a: &Placed, b: &Placed) -> bool {
    let (a, b) = (a.bounds(), b.bounds());
    let inset = STEM * 1.01;
    a.left + inset < b.right
        && b.left + inset < a.right
        && a.top + 0.02 < b.bottom
        && b.top + 0.02 < a.bottom
}

/// Both voices: the feet stand under the hands, or to their right where they
/// would touch or cross.
pub fn apart([hands, mut feet]: [Vec<Placed>; 2]) -> [Vec<Placed>; 2] {
    let lowest = hands.iter().map(|p| p.y).fold(f32::MIN, f32::max);
    let highest = feet.iter().map(|p| p.y).fold(f32::MAX, f32::min);
    let near = hands.iter().any(|h| feet.iter().any(|f| touches(h, f)));
    if !hands.is_empty() && !feet.is_empty() && (near || highest < lowest) {
        let right = hands
            .iter()
            .map(|p| p.bounds().right)
            .fold(f32::MIN, f32::max);
        let left = feet
            .iter()
            .map(|p| p.bounds().left)
            .fold(f32::MAX, f32::min);
        for foot in &mut feet {
            foot.x += right - left + 0.12;
        }
    }
    [hands, feet]
}

/// Ledger lines of all heads.
pub fn ledgers<'a>(heads: impl Iterator<Item = &'a Placed>) -> Vec<Item> {
    let mut lines: Vec<(i8, f32, f32)> = Vec::new();
    for head in heads {
        let step = head.stroke.step.0;
        let b = head.bounds();
        let above = (10..=step).step_by(2);
        let below = (step..=-2).filter(|s| s % 2 == 0);
        for at in above.chain(below) {
            let (left, right) = (b.left - LEDGER_OUT, b.right + LEDGER_OUT);
            match lines.iter_mut().find(|l| l.0 == at) {
                Some(l) => (l.1, l.2) = (l.1.min(left), l.2.max(right)),
                None => lines.push((at, left, right)),
            }
        }
    }
    let draw = |(step, left, right)| {
        let y = y_of(crate::StaffStep(step));
        line((left, y), (right, y), LEDGER, Role::Ledger)
    };
    lines.into_iter().map(draw).collect()
}

/// Pushes an item sideways until it is clear of the others.
fn push_clear(mut item: Item, by: f32, items: &[Item]) -> Item {
    let grown = |b: Bounds| Bounds {
        left: b.left - 0.05,
        right: b.right + 0.05,
        ..b
    };
    while items.iter().any(|i| i.bounds.overlaps(grown(item.bounds))) {
        item = super::column::shifted(item, by);
    }
    item
}

/// Parentheses round ghost notes.
pub fn parentheses(voices: &[Vec<Placed>; 2], items: &mut Vec<Item>) {
    for head in voices.iter().flatten() {
        if head.stroke.stroke.level != Level::Ghost {
            continue;
        }
        for (glyph, by) in [(Glyph::ParenLeft, -0.1), (Glyph::ParenRight, 0.1)] {
            let paren = sign(glyph, head.x, head.y, 1.0, Role::Paren, head.stroke.source);
            let paren = push_clear(paren, by, items);
            items.push(paren);
        }
    }
}

/// Augmentation dots, in the spaces: a note on a line has its dot above.
pub fn dots(heads: &[Placed], count: u8, items: &mut Vec<Item>) {
    let dot = metrics::glyph(Glyph::Dot);
    let mut taken: Vec<f32> = Vec::new();
    let mut heads: Vec<&Placed> = heads.iter().collect();
    heads.sort_by(|a, b| a.y.total_cmp(&b.y));
    let right = heads
        .iter()
        .map(|h| h.bounds().right)
        .fold(f32::MIN, f32::max);
    for head in heads {
        let on_line = head.stroke.step.0.rem_euclid(2) == 0;
        let mut y = if on_line { head.y - 0.5 } else { head.y };
        while taken.contains(&y) {
            y += 1.0;
        }
        taken.push(y);
        let mut x = right + 0.3 - dot.left;
        for _ in 0..count {
            let item = sign(Glyph::Dot, x, y, 1.0, Role::Dot, head.stroke.source);
            let item = push_clear(item, 0.1, items);
            x = item.bounds.right + 0.2 - dot.left;
            items.push(item);
        }
    }
}
