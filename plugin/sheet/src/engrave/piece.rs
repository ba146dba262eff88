//! A bar made ready to be placed: its moments, its words, and how wide it is at
//! a given looseness. A bar that no line can hold is cut into pieces.

use super::column::{Column, columns};
use super::cut::{cuts, part};
use super::metrics::{self, LINE_GAP, THICK, THIN};
use super::rows::{LETTER_PAD, LETTER_SIZE, MARK_NOTE_SIZE, typographic, under_words};
use super::signs::HatState;
use super::spacing::{Room, rooms, walk};
use crate::{Face, Glyph, Item, Written, WrittenBar, ink};
use barform_score::music::Beats;
use std::borrow::Cow;

/// Words at a moment.
#[derive(Debug, Clone)]
pub struct Said {
    /// Column they stand at.
    pub column: usize,
    /// What is printed, about a moment at 0.
    pub items: Vec<Item>,
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
    let under_row = |row: usize| -> Vec<Said> {
        let all = part.bar.under.iter().filter(|_| shown.under[row]);
        all.filter_map(|u| {
            let text = if row == 0 { &u.count } else { &u.sticking };
            let text = ink::printable(text);
            (!text.trim().is_empty()).then(|| Said {
                column: at(u.at),
                items: under_words(row, &text, u.light),
            })
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
        self.rooms[column].rightmost()
    }

    fn walk(&self, looseness: f32, place: impl FnMut(f32)) -> f32 {
        walk(&self.rooms, self.lead(), looseness, place) + self.closing()
    }
}
