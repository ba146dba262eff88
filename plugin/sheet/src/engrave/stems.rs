//! Stems, flags and beams of one voice in one piece.
//!
//! A beam follows its outer notes at half their slope and at most one space up
//! or down; it lies flat where an inner note comes closer to it than both
//! (Gould, *Behind Bars*, 2011; from memory). Every stem keeps its length, and
//! the beams pass clear of all ink between their ends.

use super::canvas::{Canvas, line, polygon, sign};
use super::column::{HANDS, NoteHere, flag_glyph};
use super::metrics::{BEAM, BEAM_STEP, STEM, STEM_LENGTH};
use super::piece::Piece;
use crate::{Beam, Bounds, Item, Kind, Role, VoiceLine};

/// White between a beam and other ink.
const BEAM_CLEAR: f32 = 0.25;
/// Length of a hook.
const HOOK: f32 = 1.1;

/// Draws the stems of a voice; `xs` are the places of the columns.
pub fn draw(canvas: &mut Canvas, piece: &Piece, xs: &[f32], voice: usize) {
    let written = if voice == HANDS {
        &piece.bar.hands
    } else {
        &piece.bar.feet
    };
    let note = |element: usize| -> Option<(f32, &NoteHere)> {
        let column = *piece.places[voice].get(element)?;
        let note = piece.columns[column].notes[voice].as_ref()?;
        (note.element == element).then_some((xs[column] + note.stem_x, note))
    };
    let mut free: Vec<bool> = vec![true; written.elements.len()];
    for beam in written.beams.iter().filter(|b| is_group(written, b)) {
        let members: Vec<(usize, f32, &NoteHere)> = (beam.first..=beam.last)
            .filter_map(|i| note(i).map(|(x, n)| (i, x, n)))
            .collect();
        if members.len() < 2 {
            continue;
        }
        for (i, ..) in &members {
            free[*i] = false;
        }
        group(canvas, piece, xs, voice, written, *beam, &members);
    }
    for i in (0..written.elements.len()).filter(|i| free[*i]) {
        let Some((x, n)) = note(i) else { continue };
        let Some(tip) = n.tip else { continue };
        canvas.put(stem(x, n, tip));
        if n.flags > 0 {
            let glyph = flag_glyph(voice, n.flags);
            canvas.put(sign(glyph, x - STEM / 2.0, tip, 1.0, Role::Flag, n.source));
        }
    }
}

/// Whether a beam carries a group: of the first level, with two notes or more.
pub fn is_group(line: &VoiceLine, beam: &Beam) -> bool {
    beam.level == 1
        && beam.first < beam.last
        && line.elements[beam.first..=beam.last]
            .iter()
            .filter(|e| matches!(e.kind, Kind::Notes(_)))
            .count()
            >= 2
}

fn stem(x: f32, n: &NoteHere, tip: f32) -> Item {
    let mut item = line((x, n.root), (x, tip), STEM, Role::Stem);
    item.source = n.source;
    item
}

fn group(
    canvas: &mut Canvas,
    piece: &Piece,
    xs: &[f32],
    voice: usize,
    written: &VoiceLine,
    whole: Beam,
    members: &[(usize, f32, &NoteHere)],
) {
    let up = voice == HANDS;
    // All heights below are counted away from the heads: `out` is outward.
    let out = if up { -1.0 } else { 1.0 };
    let inside: Vec<&Beam> = written
        .beams
        .iter()
        .filter(|b| b.level >= 1 && b.first >= whole.first && b.last <= whole.last)
        .collect();
    let levels = inside.iter().map(|b| b.level).max().unwrap_or(1);
    let depth = BEAM + f32::from(levels - 1) * BEAM_STEP;
    let (x0, first) = (members[0].1, members[0].2);
    let (x1, last) = (members[members.len() - 1].1, members[members.len() - 1].2);
    let outward = |n: &NoteHere| n.near * out;
    let outer = outward(first).max(outward(last));
    let inner = &members[1..members.len() - 1];
    let flat = inner.iter().any(|(_, _, n)| outward(n) > outer);
    let rise = if flat {
        0.0
    } else {
        let half = (outward(last) - outward(first)) * 0.5;
        let most = (0.12 * (x1 - x0)).min(1.0);
        ((half * 4.0).round() / 4.0).clamp(-most, most)
    };
    let slope = rise / (x1 - x0).max(0.1);
    // How far out the beam's outer edge must lie at its first stem.
    let mut level = f32::MIN;
    let mut need = |x: f32, reach: f32| level = level.max(reach - slope * (x - x0));
    let extra = f32::from(levels.saturating_sub(2)) * BEAM_STEP * 0.8;
    for (_, x, n) in members {
        need(*x, outward(n) + STEM_LENGTH + extra);
        need(*x, n.clear * out + 0.4 + depth);
    }
    let from = piece.places[voice][members[0].0];
    let to = piece.places[voice][members[members.len() - 1].0];
    for (column, x) in piece.columns[from..=to].iter().zip(&xs[from..=to]) {
        let Some((top, bottom)) = column.edge else {
            continue;
        };
        let (left, right) = column.reach.unwrap_or_default();
        let reach = if up { -top } else { bottom };
        for x in [(x - left).max(x0), (x + right).min(x1)] {
            need(x, reach + BEAM_CLEAR + depth);
        }
    }
    let level = (level * 4.0).ceil() / 4.0;
    let edge = |x: f32| (level + slope * (x - x0)) * out;
    for (_, x, n) in members {
        canvas.put(stem(*x, n, edge(*x) - out * 0.1));
    }
    for beam in inside {
        let ends = members
            .iter()
            .filter(|m| m.0 >= beam.first && m.0 <= beam.last);
        let (mut left, mut right) = (f32::MAX, f32::MIN);
        for m in ends {
            (left, right) = (left.min(m.1), right.max(m.1));
        }
        if left > right {
            continue;
        }
        if beam.first == beam.last || left == right {
            let at = members.iter().position(|m| m.1 == left).unwrap_or(0);
            let next = if beam.backward {
                at.checked_sub(1)
            } else {
                Some(at + 1)
            };
            let Some(next) = next.and_then(|n| members.get(n)) else {
                continue;
            };
            let length = HOOK.min((next.1 - left).abs() / 2.0 - 0.15).max(0.3);
            if beam.backward {
                left -= length
            } else {
                right += length
            };
        }
        let (left, right) = (left - STEM / 2.0, right + STEM / 2.0);
        let inward = f32::from(beam.level - 1) * BEAM_STEP;
        let y = |x: f32| edge(x) - out * inward;
        let corners = [
            (left, y(left)),
            (right, y(right)),
            (right, y(right) - out * BEAM),
            (left, y(left) - out * BEAM),
        ];
        put_sloped(canvas, polygon(&corners, Role::Beam), left, right, y, out);
    }
}

/// A slanting beam takes the room it covers, not its whole box.
fn put_sloped(
    canvas: &mut Canvas,
    item: Item,
    left: f32,
    right: f32,
    y: impl Fn(f32) -> f32,
    out: f32,
) {
    let mut x = left;
    while x < right {
        let next = (x + 0.5).min(right);
        let (a, b) = (y(x), y(next));
        canvas.take(Bounds {
            left: x,
            right: next,
            top: a.min(b) - if out > 0.0 { BEAM } else { 0.0 },
            bottom: a.max(b) + if out < 0.0 { BEAM } else { 0.0 },
        });
        x = next;
    }
    canvas.items.push(item);
}
