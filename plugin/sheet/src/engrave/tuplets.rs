//! Signs above the hands and below the feet: articulations and accents outside
//! of stems and beams, then numbers and brackets of tuplets, inner ones first.

use super::canvas::{Canvas, line, sign};
use super::column::HANDS;
use super::metrics;
use super::piece::Piece;
use crate::{Bounds, Glyph, Ratio, Role, Tuplet};

/// White between a sign and what it stands on.
const CLEAR: f32 = 0.25;
/// Length of the ends of a bracket.
const HOOK: f32 = 0.6;
/// Thickness of a bracket.
const BRACKET: f32 = 0.12;

/// Articulations and accents of a voice: above the hands, below the feet, outside
/// of all ink of the note, its stem included.
pub fn signs(canvas: &mut Canvas, piece: &Piece, xs: &[f32], voice: usize) {
    for (column, x) in piece.columns.iter().zip(xs) {
        let Some(note) = &column.notes[voice] else {
            continue;
        };
        let (at, stem) = (x + note.head_x, x + note.stem_x);
        for (glyph, role) in &note.signs {
            let b = metrics::glyph(*glyph);
            let left = (at + b.left - 0.05).min(stem);
            let right = (at + b.right + 0.05).max(stem);
            let y = if voice == HANDS {
                canvas.top.over(left, right) - CLEAR - b.bottom
            } else {
                canvas.bottom.over(left, right) + CLEAR - b.top
            };
            canvas.put(sign(*glyph, at, y, 1.0, *role, note.source));
        }
    }
}

/// Numbers and brackets of a voice's tuplets.
pub fn draw(canvas: &mut Canvas, piece: &Piece, xs: &[f32], voice: usize) {
    let written = if voice == HANDS {
        &piece.bar.hands
    } else {
        &piece.bar.feet
    };
    let mut order: Vec<&Tuplet> = written.tuplets.iter().collect();
    order.sort_by_key(|t| std::cmp::Reverse(t.depth));
    for tuplet in order {
        let places = &piece.places[voice];
        let (from, to) = (places[tuplet.first], places[tuplet.last]);
        let reach = |column: usize| piece.columns[column].reach.unwrap_or((0.5, 0.5));
        // Heads, not grace notes or dots, mark the ends.
        let left = xs[from] - reach(from).0.min(0.6);
        let right = xs[to] + reach(to).1.min(0.6);
        // Without a bracket the number belongs to the beam, which joins stems.
        let stem = |column: usize| {
            let note = piece.columns[column].notes[voice].as_ref();
            note.map(|n| xs[column] + n.stem_x)
        };
        let middle = match (stem(from), stem(to)) {
            (Some(a), Some(b)) if !tuplet.bracket => (a + b) / 2.0,
            _ => (left + right) / 2.0,
        };
        number(canvas, tuplet, (left, middle, right), voice);
    }
}

fn number(
    canvas: &mut Canvas,
    tuplet: &Tuplet,
    (left, middle, right): (f32, f32, f32),
    voice: usize,
) {
    let up = voice == HANDS;
    let out = if up { -1.0 } else { 1.0 };
    let glyphs = number_glyphs(tuplet.ratio);
    let boxes: Vec<Bounds> = glyphs.iter().map(|g| metrics::glyph(*g)).collect();
    let width: f32 = boxes.iter().map(|b| b.right - b.left + 0.06).sum::<f32>() - 0.06;
    let height = boxes.iter().fold(0.0_f32, |h, b| h.max(b.bottom - b.top));
    let bracket = tuplet.bracket && right - left > 0.8;
    let broken = bracket && right - left > width + 1.6;
    let (mut low, mut high) = (middle - width / 2.0 - 0.1, middle + width / 2.0 + 0.1);
    if bracket {
        (low, high) = (low.min(left), high.max(right));
    }
    let base = if up {
        canvas.top.over(low, high)
    } else {
        canvas.bottom.over(low, high)
    };
    let mut y = base + out * (CLEAR + height / 2.0);
    if bracket {
        let at = base + out * (CLEAR + HOOK);
        for x in [left + BRACKET / 2.0, right - BRACKET / 2.0] {
            let end = at + out * BRACKET / 2.0;
            canvas.put(line(
                (x, at - out * HOOK),
                (x, end),
                BRACKET,
                Role::TupletBracket,
            ));
        }
        let gap = width / 2.0 + 0.3;
        let parts = if broken {
            vec![(left, middle - gap), (middle + gap, right)]
        } else {
            vec![(left, right)]
        };
        for (a, b) in parts {
            canvas.put(line((a, at), (b, at), BRACKET, Role::TupletBracket));
        }
        y = if broken {
            at
        } else {
            at + out * (CLEAR + height / 2.0)
        };
        // What stands under the bracket is full.
        canvas.take(Bounds {
            left,
            right,
            top: at.min(base),
            bottom: at.max(base),
        });
    }
    let mut x = middle - width / 2.0;
    for (glyph, b) in glyphs.into_iter().zip(boxes) {
        let dy = -(b.top + b.bottom) / 2.0;
        canvas.put(sign(
            glyph,
            x - b.left,
            y + dy,
            1.0,
            Role::TupletNumber,
            None,
        ));
        x += b.right - b.left + 0.06;
    }
}

/// Whether the number alone says the ratio: so many in the time of the next
/// lower power of two, or two or four in the time of three (common practice).
pub fn is_customary(ratio: Ratio) -> bool {
    let below = if ratio.actual > 1 {
        1 << (ratio.actual - 1).ilog2()
    } else {
        1
    };
    ratio.normal == below || matches!((ratio.actual, ratio.normal), (2 | 4, 3))
}

fn number_glyphs(ratio: Ratio) -> Vec<Glyph> {
    let digits = |n: u32| -> Vec<Glyph> {
        n.to_string()
            .bytes()
            .map(|d| Glyph::TupletDigit(d - b'0'))
            .collect()
    };
    let mut glyphs = digits(ratio.actual);
    if !is_customary(ratio) {
        glyphs.push(Glyph::TupletColon);
        glyphs.extend(digits(ratio.normal));
    }
    glyphs
}
