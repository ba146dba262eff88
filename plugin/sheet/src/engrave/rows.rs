//! What stands in rows over and under a staff: letters in boxes, section names,
//! bar number, times of a repeat; counts and sticking.

use super::canvas::{Canvas, frame, moved, moved_box, words};
use super::metrics::{self, STAFF};
use super::piece::{LetterBox, Piece, letter_width};
use crate::{Anchor, Bounds, Face, Item, Role, ink};

/// Size of a letter's words in staff spaces.
pub const LETTER_SIZE: f32 = 2.1;
/// White between a letter and its box.
pub const LETTER_PAD: f32 = 0.4;
/// Size of what is noted beside a letter.
pub const MARK_NOTE_SIZE: f32 = 1.6;
/// Size of a section's name.
const SECTION_SIZE: f32 = 2.3;
/// Size of a bar number.
const NUMBER_SIZE: f32 = 1.5;
/// Size of a repeat's "×3".
const TIMES_SIZE: f32 = 1.9;
/// Faces and sizes of counts and sticking.
const UNDER: [(Face, f32); 2] = [(Face::Sans, 1.65), (Face::SansBold, 1.75)];
/// Size of the letters of grace notes against those of strokes.
const GRACE_SIZE: f32 = 0.68;
/// How far they are raised, against the size of the letters of strokes.
const GRACE_UP: f32 = 0.3;
/// White after them.
const GRACE_GAP: f32 = 0.12;
/// Thickness of a letter's box.
const FRAME: f32 = 0.14;
/// Where the middle of a letter's box edge stands, left of its note's middle.
pub const LETTER_LEFT: f32 = 0.6;

/// A letter with the typographic prime.
pub fn typographic(letter: &str) -> String {
    ink::printable(&letter.replace('\'', "′"))
}

/// A placed piece: the piece, where it begins, its columns, where it ends.
pub struct Placed<'a, 'b> {
    /// What stands there.
    pub piece: &'a Piece<'b>,
    /// Left edge.
    pub left: f32,
    /// Middles of its columns.
    pub xs: Vec<f32>,
    /// Right edge.
    pub right: f32,
}

/// Words with the ink that would stand above or below, given the base line at 0.
fn box_of(text: &str, face: (Face, f32), anchor: Anchor, x: f32) -> Bounds {
    metrics::text_at(text, x, 0.0, face.1, face.0, anchor)
}

/// A row's words about a moment at 0, on a base line at 0. In sticking, letters
/// of grace hands are small raised capitals, since a small `l` reads as an I or
/// a 1; they hang out to the left as their notes do.
pub fn under_words(row: usize, text: &str, light: bool) -> Vec<Item> {
    let (face, size) = UNDER[row];
    let role = match (row, light) {
        (0, false) => Role::Count,
        (0, true) => Role::LightCount,
        _ => Role::Sticking,
    };
    if row == 0 {
        return vec![words(text, (0.0, 0.0), (face, size), Anchor::Middle, role)];
    }
    let is_grace = |sign: char| sign.is_ascii_lowercase();
    let small = (face, size * GRACE_SIZE);
    let mut items: Vec<Item> = Vec::new();
    let (mut x, mut left, mut rest) = (0.0, None, text);
    while let Some(first) = rest.chars().next() {
        let grace = is_grace(first);
        let end = rest.find(|s| is_grace(s) != grace).unwrap_or(rest.len());
        let (run, after) = rest.split_at(end);
        let item = if grace {
            let up = -size * GRACE_UP;
            words(
                &run.to_uppercase(),
                (x, up),
                small,
                Anchor::Start,
                Role::GraceSticking,
            )
        } else {
            let item = words(run, (x, 0.0), (face, size), Anchor::Start, role);
            left.get_or_insert(item.bounds.left);
            item
        };
        x = item.bounds.right + GRACE_GAP;
        items.push(item);
        rest = after;
    }
    let middle = (left.unwrap_or_default() + x - GRACE_GAP) / 2.0;
    items
        .into_iter()
        .map(|i| moved(i, 1.0, -middle, 0.0))
        .collect()
}

/// Counts, then sticking, each on one base line.
pub fn under(canvas: &mut Canvas, placed: &[Placed]) {
    let mut edge = STAFF + 1.0;
    for row in 0..UNDER.len() {
        let said = placed.iter().flat_map(|p| {
            let row = p.piece.under[row].iter();
            row.map(|s| (s.column, &s.items)).map(|(c, i)| (p.xs[c], i))
        });
        let items: Vec<Item> = said
            .flat_map(|(x, items)| items.iter().map(move |i| moved(i.clone(), 1.0, x, 0.0)))
            .collect();
        let line = items
            .iter()
            .map(|i| {
                let b = i.bounds;
                canvas.bottom.over(b.left - 0.1, b.right + 0.1).max(edge) + 0.55 - b.top
            })
            .fold(f32::MIN, f32::max);
        for item in items {
            let item = moved(item, 1.0, 0.0, line);
            edge = edge.max(item.bounds.bottom);
            canvas.put(item);
        }
    }
}

/// "×3" over the repeat signs that say so.
pub fn times(canvas: &mut Canvas, placed: &[Placed]) {
    for p in placed {
        let Some(repeat) = p.piece.bar.repeat_to.filter(|r| r.times != 2) else {
            continue;
        };
        let text = ink::printable(&format!("×{}", repeat.times));
        let face = (Face::SerifBold, TIMES_SIZE);
        let b = box_of(&text, face, Anchor::End, p.right);
        let y = canvas.top.over(b.left - 0.2, b.right + 0.2) - 0.5 - b.bottom;
        canvas.put(words(
            &text,
            (p.right, y),
            face,
            Anchor::End,
            Role::RepeatText,
        ));
    }
}

/// The number of the first bar, over the clef.
pub fn bar_number(canvas: &mut Canvas, placed: &[Placed]) {
    let number = placed
        .first()
        .filter(|p| p.piece.opens)
        .and_then(|p| p.piece.bar.number);
    if let Some(number) = number {
        let text = number.to_string();
        let face = (Face::Serif, NUMBER_SIZE);
        let b = box_of(&text, face, Anchor::Start, 0.0);
        let y = canvas.top.over(b.left, b.right + 0.2) - 0.7 - b.bottom;
        canvas.put(words(
            &text,
            (-b.left, y),
            face,
            Anchor::Start,
            Role::BarNumber,
        ));
    }
}

/// Letters in boxes of one height on one line, each over its first note.
pub fn letters(canvas: &mut Canvas, placed: &[Placed]) {
    let all = || {
        placed.iter().flat_map(|p| {
            p.piece
                .letters
                .iter()
                .map(move |l| (l, p.xs[l.column] - LETTER_LEFT))
        })
    };
    // From a prime to the tails of J and Q: as high as any letter gets.
    let b = box_of("JQ8′", (Face::SerifBold, LETTER_SIZE), Anchor::Start, 0.0);
    let (above, below) = (b.top - LETTER_PAD, b.bottom + LETTER_PAD);
    let line = all()
        .map(|(l, x)| canvas.top.over(x - 0.2, x + letter_width(l) + 0.2))
        .fold(-0.9, f32::min)
        - 0.5
        - below;
    for (l, x) in all() {
        letter(canvas, l, x, line, (above, below));
    }
}

fn letter(canvas: &mut Canvas, l: &LetterBox, x: f32, line: f32, (above, below): (f32, f32)) {
    let mut x = x;
    let role = Role::Letter(l.index);
    if !l.letter.is_empty() {
        let face = (Face::SerifBold, LETTER_SIZE);
        let advance = ink::text_width(&l.letter, face.0, face.1);
        let edge = Bounds {
            left: x,
            right: x + advance + 2.0 * LETTER_PAD,
            top: line + above,
            bottom: line + below,
        };
        canvas.put(frame(edge, FRAME, role));
        let middle = (edge.left + edge.right) / 2.0;
        canvas.put(words(&l.letter, (middle, line), face, Anchor::Middle, role));
        x = edge.right + 0.5;
    }
    if !l.note.is_empty() {
        let face = (Face::Serif, MARK_NOTE_SIZE);
        canvas.put(words(
            &l.note,
            (x, line),
            face,
            Anchor::Start,
            Role::Section,
        ));
    }
}

/// Section names, each over the moment it begins at; one that finds no room
/// beside its neighbour goes a row higher, and none leaves the line.
pub fn sections(canvas: &mut Canvas, placed: &[Placed], width: f32) {
    let face = (Face::SerifBold, SECTION_SIZE);
    let mut rows: Vec<Vec<(String, Bounds)>> = Vec::new();
    for p in placed {
        for (column, name) in &p.piece.sections {
            // The first moment's name begins with the bar.
            let x = if *column == 0 {
                p.left
            } else {
                p.xs[*column] - LETTER_LEFT
            };
            let name = fitted(name, face, width);
            let b = box_of(&name, face, Anchor::Start, 0.0);
            let x = x.min(width - b.right).max(-b.left);
            let b = moved_box(b, 1.0, x, 0.0);
            let free = |row: &Vec<(String, Bounds)>| {
                row.iter()
                    .all(|(_, o)| o.right + 1.0 < b.left || b.right + 1.0 < o.left)
            };
            match rows.iter_mut().find(|row| free(row)) {
                Some(row) => row.push((name, b)),
                None => rows.push(vec![(name, b)]),
            }
        }
    }
    for row in rows {
        let line = row
            .iter()
            .map(|(_, b)| canvas.top.over(b.left - 0.2, b.right + 0.2) - 0.6 - b.bottom)
            .fold(-1.5, f32::min);
        for (name, b) in row {
            let x = b.left - box_of(&name, face, Anchor::Start, 0.0).left;
            canvas.put(words(&name, (x, line), face, Anchor::Start, Role::Section));
        }
    }
}

/// The words, shortened with an ellipsis if they are wider than `width`.
pub fn fitted(text: &str, face: (Face, f32), width: f32) -> String {
    let wide = |t: &str| {
        let b = box_of(t, face, Anchor::Start, 0.0);
        b.right - b.left.min(0.0)
    };
    if wide(text) <= width {
        return text.to_owned();
    }
    let signs: Vec<char> = text.chars().collect();
    let short = |n: usize| -> String {
        let start: String = signs[..n].iter().collect();
        format!("{}…", start.trim_end())
    };
    // The longest start that fits; width grows with length.
    let (mut low, mut high) = (0, signs.len());
    while low < high {
        let middle = (low + high).div_ceil(2);
        if wide(&short(middle)) <= width {
            low = middle
        } else {
            high = middle - 1
        }
    }
    short(low)
}
