//! Words in lines of a given width.

use crate::engrave::canvas::words;
use crate::engrave::metrics::text_at;
use crate::{Anchor, Face, Item, Role, ink};

/// Face and size in millimetres.
pub type Type = (Face, f32);

/// From the base line up and down that a line of words takes at least, in em;
/// the ink of tall signs adds to it.
const ASCENT: f32 = 0.78;
const DESCENT: f32 = 0.24;
/// White between lines, in em.
const LEADING: f32 = 0.2;

/// A block of lines whose upper left corner is 0, 0.
pub struct Block {
    /// The lines.
    pub items: Vec<Item>,
    /// Its height in millimetres.
    pub height: f32,
}

/// Width of the ink from where the words begin, or from their ink if that
/// reaches further left.
pub fn wide(text: &str, (face, size): Type) -> f32 {
    let b = ink::text_bounds(text, face, size);
    b.right.max(ink::text_width(text, face, size)) - b.left.min(0.0)
}

/// Lines no wider than `width` millimetres, broken between words, inside one
/// only where it alone is wider.
pub fn wrap(text: &str, face: Type, width: f32) -> Vec<String> {
    let text = ink::printable(text);
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        if let Some(line) = lines.last_mut() {
            let longer = format!("{line} {word}");
            if wide(&longer, face) <= width {
                *line = longer;
                continue;
            }
        }
        let mut part = String::new();
        for sign in word.chars() {
            part.push(sign);
            if part.chars().count() > 1 && wide(&part, face) > width {
                part.pop();
                lines.push(std::mem::take(&mut part));
                part.push(sign);
            }
        }
        lines.push(part);
    }
    lines
}

/// One line whose ink begins at or right of `left`, its top at `top`; and how
/// far down it reaches.
pub fn line(text: &str, left: f32, top: f32, (face, size): Type, role: Role) -> (Item, f32) {
    let b = ink::text_bounds(text, face, size);
    let base = top + (ASCENT * size).max(-b.top);
    let x = left - b.left.min(0.0);
    let item = words(text, (x, base), (face, size), Anchor::Start, role);
    (item, base + (DESCENT * size).max(b.bottom))
}

/// Wrapped words as a block.
pub fn block(text: &str, face: Type, width: f32) -> Block {
    let mut items = Vec::new();
    let mut height = 0.0;
    for (i, words) in wrap(text, face, width).iter().enumerate() {
        if i > 0 {
            height += LEADING * face.1;
        }
        let (item, below) = line(words, 0.0, height, face, Role::Words);
        items.push(item);
        height = below;
    }
    Block { items, height }
}

/// Words that end at `right`, on a base line.
pub fn ending(text: &str, right: f32, base: f32, (face, size): Type, role: Role) -> Item {
    let b = text_at(text, right, base, size, face, Anchor::End);
    let x = right - (b.right - right).max(0.0);
    words(text, (x, base), (face, size), Anchor::End, role)
}
