//! A bar made ready to be placed: its moments, its words, and how wide it is at
//! a given looseness. A bar that no line can hold is cut into pieces.

use super::column::{Column, columns};
use super::cut::{cuts, part};
use super::metrics::{self, INK_GAP, LINE_GAP, THICK, THIN};
use super::rows::{LETTER_PAD, LETTER_SIZE, MARK_NOTE_SIZE, UNDER, typographic};
use super::signs::HatState;
use crate::music::Beats;
use crate::sheet::{Anchor, Face, Glyph, Kind, Written, WrittenBar, ink};
use std::borrow::Cow;

/// Rows that keep their own distance between moments: notes, counts, sticking,
/// letters.
const ROWS: usize = 4;
/// Least white in each row.
const ROW_GAP: [f32; ROWS] = [INK_GAP, 0.85, 0.7, 0.5];
/// Least white between a bar line and the ink of each row.
const BAR_GAP: [f32; ROWS] = [0.8, 0.25, 0.25, 0.25];
/// Nothing in a row: any distance will do.
const NOTHING: f32 = f32::NEG_INFINITY;
/// Width of a sixteenth at looseness 1.
const SIXTEENTH: f32 = 2.9;
/// How width grows with duration: a note twice as long takes 1.46 times the room.
const GROWTH: f32 = 0.55;
/// Least room between two bar lines.
const LEAST_BAR: f32 = 5.0;

/// A moment's room.
#[derive(Debug, Clone, Copy)]
struct Room {
    /// To the next moment or the end, at looseness 1.
    ideal: f32,
    left: [f32; ROWS],
    right: [f32; ROWS],
}

/// Words at a moment.
#[derive(Debug, Clone)]
pub struct Said {
    /// Column they stand at.
    pub column: usize,
    /// Printable words.
    pub text: String,
    /// Printed lighter.
    pub light: bool,
}

/// A letter with what is written beside it.
#[derive(Debug, Clone)]
pub struct LetterBox {
    /// Column it stands at.
    pub column: usize,
    /// The letter; empty for none.
    pub letter: String,
    /// Its index, for the colour.
    pub index: u32,
    /// Words after the box.
    pub note: String,
}

/// A bar or, if no line can hold it, a part of one.
#[derive(Debug)]
pub struct Piece<'a> {
    /// Index of the bar.
    pub index: usize,
    /// What is written.
    pub bar: Cow<'a, WrittenBar>,
    /// Start and end within the bar.
    pub span: (Beats, Beats),
    /// The bar begins here.
    pub opens: bool,
    /// The bar ends here.
    pub closes: bool,
    /// The sheet ends here.
    pub last: bool,
    /// Moments.
    pub columns: Vec<Column>,
    /// Column of each element, by voice.
    pub places: [Vec<usize>; 2],
    /// Counts and sticking.
    pub under: [Vec<Said>; 2],
    /// Letters.
    pub letters: Vec<LetterBox>,
    /// Section names and their columns.
    pub sections: Vec<(usize, String)>,
    rooms: Vec<Room>,
    /// Width at looseness 1.
    pub natural: f32,
    /// Width with everything as close as may be.
    pub least: f32,
}

/// What is shown, and how wide a line is.
#[derive(Debug, Clone, Copy)]
pub struct Shown {
    /// Counts and sticking.
    pub under: [bool; 2],
    /// Letters and section names.
    pub letters: bool,
    /// Room for music on a line, after the clef.
    pub line: f32,
}

/// All bars of a range, cut where needed.
pub fn pieces<'a>(
    written: &'a Written,
    bars: std::ops::Range<usize>,
    shown: Shown,
) -> Vec<Piece<'a>> {
    let mut pieces = Vec::with_capacity(bars.len());
    let mut hat = HatState::default();
    let end = written.bars.len();
    for index in bars {
        let bar = &written.bars[index];
        let before = hat;
        let mut whole = Part {
            bar: Cow::Borrowed(bar),
            span: (Beats::ZERO, bar.length),
            opens: true,
            closes: true,
        };
        let piece = piece(index, whole, shown, &mut hat, index + 1 == end);
        if piece.least <= shown.line {
            pieces.push(piece);
            continue;
        }
        hat = before;
        let cuts = cuts(&piece, shown.line);
        let mut from = Beats::ZERO;
        for to in cuts.into_iter().chain([bar.length]) {
            whole = part(bar, from, to);
            pieces.push(self::piece(index, whole, shown, &mut hat, index + 1 == end));
            from = to;
        }
    }
    pieces
}

/// What a piece is made from.
pub struct Part<'a> {
    /// What is written.
    pub bar: Cow<'a, WrittenBar>,
    /// Start and end within the bar.
    pub span: (Beats, Beats),
    /// The bar begins here.
    pub opens: bool,
    /// The bar ends here.
    pub closes: bool,
}

fn piece<'a>(
    index: usize,
    part: Part<'a>,
    shown: Shown,
    hat: &mut HatState,
    end: bool,
) -> Piece<'a> {
    let (columns, places) = columns(&part.bar, hat);
    let at = |beats: Beats| columns.partition_point(|c| c.at < beats);
    let said = |column: usize, text: &str, light: bool| {
        let text = ink::printable(text);
        (!text.trim().is_empty()).then_some(Said {
            column,
            text,
            light,
        })
    };
    let under_row = |row: usize| -> Vec<Said> {
        let all = part.bar.under.iter().filter(|_| shown.under[row]);
        all.filter_map(|u| {
            let text = if row == 0 { &u.count } else { &u.sticking };
            said(at(u.at), text, row == 0 && u.light)
        })
        .collect()
    };
    let under = [under_row(0), under_row(1)];
    let marks = part.bar.marks.iter().filter(|_| shown.letters);
    let letters: Vec<LetterBox> = marks
        .clone()
        .map(|m| LetterBox {
            column: at(m.at),
            letter: m
                .letter
                .as_ref()
                .map_or_else(String::new, |l| typographic(l.as_str())),
            index: m.letter_index,
            note: ink::printable(&m.note),
        })
        .filter(|l| !l.letter.is_empty() || !l.note.is_empty())
        .collect();
    let sections = marks
        .filter_map(|m| Some((at(m.at), ink::printable(m.section.as_deref()?))))
        .filter(|(_, name)| !name.trim().is_empty())
        .collect();
    let mut piece = Piece {
        index,
        last: end && part.closes,
        span: part.span,
        opens: part.opens,
        closes: part.closes,
        rooms: rooms(&part, &columns, &under, &letters),
        bar: part.bar,
        columns,
        places,
        under,
        letters,
        sections,
        natural: 0.0,
        least: 0.0,
    };
    piece.natural = piece.width(1.0);
    piece.least = piece.width(0.0);
    piece
}

/// Room of each moment: ideal after the shortest note that sounds across it, so
/// that a note's room does not depend on what the other voice does meanwhile
/// (the rule of springs in Gourlay, "Spacing a line of music", Ohio State
/// University 1987; from memory).
fn rooms(
    part: &Part,
    columns: &[Column],
    under: &[Vec<Said>; 2],
    letters: &[LetterBox],
) -> Vec<Room> {
    let mut rooms: Vec<Room> = columns
        .iter()
        .map(|c| {
            let mut room = Room {
                ideal: 0.0,
                left: [NOTHING; ROWS],
                right: [NOTHING; ROWS],
            };
            if let Some((left, right)) = c.reach {
                (room.left[0], room.right[0]) = (left, right);
            }
            room
        })
        .collect();
    for (row, said) in under.iter().enumerate() {
        let (face, size) = UNDER[row];
        for words in said {
            let b = metrics::text_at(&words.text, 0.0, 0.0, size, face, Anchor::Middle);
            let room = &mut rooms[words.column];
            (room.left[row + 1], room.right[row + 1]) = (-b.left, b.right);
        }
    }
    for letter in letters {
        let room = &mut rooms[letter.column];
        (room.left[3], room.right[3]) = (0.6, letter_width(letter) - 0.6);
    }
    let mut said: Vec<usize> = under.iter().flatten().map(|s| s.column).collect();
    said.sort_unstable();
    said.dedup();
    let mut slot = 0.0;
    let mut at = [0_usize; 2];
    let lines = [&part.bar.hands, &part.bar.feet];
    for (i, column) in columns.iter().enumerate() {
        let to = columns.get(i + 1).map_or(part.span.1, |c| c.at);
        let gap = (to.to_f64() - column.at.to_f64()) as f32;
        let mut shortest = f32::MAX;
        // Counts and sticking are read as an even row: slots are a voice too.
        if let Some(next) = said.binary_search(&i).ok() {
            let to = said.get(next + 1).map_or(part.span.1, |c| columns[*c].at);
            slot = (to.to_f64() - column.at.to_f64()) as f32;
        }
        if slot > 0.0 {
            shortest = slot;
        }
        for (line, at) in lines.iter().zip(&mut at) {
            while line
                .elements
                .get(*at + 1)
                .is_some_and(|e| e.at <= column.at)
            {
                *at += 1;
            }
            if let Some(e) = line.elements.get(*at)
                && !matches!(e.kind, Kind::Rest { hidden: true, .. })
            {
                shortest = shortest.min(e.length.to_f64() as f32);
            }
        }
        // A moment that only words mark, under nothing that sounds.
        let sounding = if shortest == f32::MAX { gap } else { shortest }.max(1.0 / 256.0);
        rooms[i].ideal = SIXTEENTH * (sounding * 4.0).powf(GROWTH) * (gap / sounding).max(0.0);
    }
    rooms
}

/// Width of a letter's box and the words after it.
pub fn letter_width(letter: &LetterBox) -> f32 {
    let mut width = 0.0;
    if !letter.letter.is_empty() {
        width += ink::text_width(&letter.letter, Face::SerifBold, LETTER_SIZE) + 2.0 * LETTER_PAD;
    }
    if !letter.note.is_empty() {
        width += 0.5 + ink::text_width(&letter.note, Face::Serif, MARK_NOTE_SIZE);
    }
    width
}

/// Width of a meter's digits.
pub fn meter_width(bar: &WrittenBar) -> f32 {
    [bar.meter.count(), bar.meter.unit()]
        .into_iter()
        .map(number_width)
        .fold(0.0, f32::max)
}

/// Width of a number in digits of a meter.
pub fn number_width(number: u8) -> f32 {
    let digits = number.to_string();
    digits
        .bytes()
        .map(|d| metrics::glyph(Glyph::MeterDigit(d - b'0')).right + 0.08)
        .sum()
}

/// Width of a repeat sign: dots, thin line, thick line.
pub const REPEAT_SIGN: f32 = 0.4 + 0.3 + THIN + LINE_GAP + THICK;

impl Piece<'_> {
    /// Room before the first moment: meter, repeat sign.
    pub fn lead(&self) -> f32 {
        let mut lead = 0.0;
        if self.opens && self.bar.show_meter {
            lead += 0.8 + meter_width(&self.bar);
        }
        if self.opens && self.bar.repeat_from {
            lead += REPEAT_SIGN + if lead > 0.0 { 0.8 } else { 0.0 };
        }
        lead
    }

    /// Width of the sign that closes the piece.
    pub fn closing(&self) -> f32 {
        if !self.closes {
            0.0
        } else if self.bar.repeat_to.is_some() {
            REPEAT_SIGN
        } else if self.last {
            THIN + LINE_GAP + THICK
        } else if self.bar.double_after {
            2.0 * THIN + LINE_GAP
        } else {
            THIN
        }
    }

    /// Width at a looseness of 0 or more.
    pub fn width(&self, looseness: f32) -> f32 {
        self.walk(looseness, |_| ())
    }

    /// Places of the moments and the width, at a looseness of 0 or more.
    pub fn positions(&self, looseness: f32) -> (Vec<f32>, f32) {
        let mut xs = Vec::with_capacity(self.rooms.len());
        let width = self.walk(looseness, |x| xs.push(x));
        (xs, width)
    }

    /// How far right of a column anything reaches.
    pub fn reach(&self, column: usize) -> f32 {
        self.rooms[column].right.iter().copied().fold(0.0, f32::max)
    }

    fn walk(&self, looseness: f32, mut place: impl FnMut(f32)) -> f32 {
        let start = self.lead();
        let mut last = [0.0; ROWS];
        for row in 0..ROWS {
            last[row] = start + BAR_GAP[row] - ROW_GAP[row];
        }
        // Words may begin above and below a meter or a repeat sign.
        let mut ideal = start + BAR_GAP[0] + 0.6;
        let mut x = ideal;
        for room in &self.rooms {
            x = ideal;
            for row in 0..ROWS {
                x = x.max(last[row] + ROW_GAP[row] + room.left[row]);
            }
            for row in 0..ROWS {
                last[row] = last[row].max(x + room.right[row]);
            }
            place(x);
            // Time goes on even where nothing is printed.
            ideal = x + (looseness * room.ideal).max(0.15);
        }
        let mut end = ideal.max(x).max(start + LEAST_BAR);
        for row in 0..ROWS {
            let gap = if row == 0 {
                INK_GAP + 0.2
            } else {
                BAR_GAP[row]
            };
            end = end.max(last[row] + gap);
        }
        end + self.closing()
    }
}
