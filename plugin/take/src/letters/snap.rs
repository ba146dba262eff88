//! Every stroke on its slot as all the beats like it, and the letter it belongs
//! to, have it.

use super::classes::Classes;
use super::content::{Content, Mark};
use crate::subdivide::Shape;

/// A stroke this many spreads from that of its letter is still that one.
const NEAR: f64 = 3.5;

/// Puts the marks of each beat on the slots of its class and, where it is a
/// letter with a slip, of its letter. `meant` holds the class that the letter
/// has on each beat.
pub fn snap(
    contents: &mut [Content],
    classes: &Classes,
    meant: &[usize],
    spread: &[f64],
    shapes: &[Shape],
) {
    for (k, content) in contents.iter_mut().enumerate() {
        let own = &classes.list[classes.of[k]];
        let letter = meant.get(k).map_or(own, |m| &classes.list[*m]);
        let by_class = on_class(content, own);
        let by_letter = if std::ptr::eq(own, letter) {
            by_class.clone()
        } else {
            on_letter(content, &by_class, letter, NEAR * spread[k])
        };
        let slots = if clash(content, &by_letter) {
            by_class
        } else {
            by_letter
        };
        for (mark, slot) in content.marks.iter_mut().zip(slots) {
            mark.slot = slot;
        }
        let on =
            |c: &Content| c.part == content.part && fits(&shapes[c.shape], c.part, &content.marks);
        if on(letter) {
            content.shape = letter.shape;
        } else if on(own) {
            content.shape = own.shape;
        } else {
            let single = shapes.iter().enumerate().filter(|(_, s)| s.pulses == 1);
            let found = single.filter(|(_, s)| fits(s, 0, &content.marks));
            // Fewest slots first.
            let found = found.min_by_key(|(_, s)| s.slots.len());
            if let Some((shape, _)) = found {
                (content.shape, content.part) = (shape, 0);
            }
        }
        content.marks.sort_by(|a, b| {
            (a.slot.0 * b.slot.1)
                .cmp(&(b.slot.0 * a.slot.1))
                .then(a.voice.cmp(&b.voice))
        });
    }
}

/// Slots of the class, matched drum by drum in order of time.
fn on_class(content: &Content, class: &Content) -> Vec<(i64, i64)> {
    let nth = |marks: &[Mark], i: usize| {
        let m = &marks[i];
        let earlier = |o: &&Mark| o.voice == m.voice && o.played < m.played;
        marks.iter().filter(earlier).count()
    };
    (0..content.marks.len())
        .map(|i| {
            let (mark, n) = (&content.marks[i], nth(&content.marks, i));
            let same =
                |j: &usize| class.marks[*j].voice == mark.voice && nth(&class.marks, *j) == n;
            let found = (0..class.marks.len()).find(same);
            found.map_or(mark.slot, |j| class.marks[j].slot)
        })
        .collect()
}

/// Slots of the letter where a stroke of it is near.
fn on_letter(
    content: &Content,
    slots: &[(i64, i64)],
    letter: &Content,
    near: f64,
) -> Vec<(i64, i64)> {
    let marks = content.marks.iter().zip(slots);
    marks
        .map(|(mark, slot)| {
            let same = letter.marks.iter().filter(|m| m.voice == mark.voice);
            let nearest = same.min_by(|a, b| {
                let off = |m: &Mark| (m.played - mark.played).abs();
                off(a).total_cmp(&off(b))
            });
            match nearest {
                Some(m) if (m.played - mark.played).abs() <= near => m.slot,
                _ => *slot,
            }
        })
        .collect()
}

fn clash(content: &Content, slots: &[(i64, i64)]) -> bool {
    (0..slots.len()).any(|i| {
        (0..i).any(|j| {
            content.marks[i].voice == content.marks[j].voice
                && slots[i].0 * slots[j].1 == slots[j].0 * slots[i].1
        })
    })
}

/// Whether marks lie on the slots of a shape.
pub fn fits(shape: &Shape, part: usize, marks: &[Mark]) -> bool {
    let part = part as i64;
    marks.iter().all(|m| {
        let (num, den) = (m.slot.0 + part * m.slot.1, m.slot.1);
        shape.slots.iter().any(|(n, d)| n * den == num * d)
    })
}
