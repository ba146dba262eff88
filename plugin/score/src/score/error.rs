//! What can be wrong with a score, where, and the nearest mend.

mod kind;

pub use kind::ScoreErrorKind;

use crate::music::{Beats, Voice};
use std::fmt;
use std::ops::Range;

/// Where in a file. A score built in code has no text: line 0.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Place {
    /// File name as given to the reader.
    pub file: String,
    /// Line, from 1.
    pub line: u32,
    /// Column in characters, from 1.
    pub column: u32,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}:{}", self.file, self.line, self.column)
    }
}

/// Which part of a score an error is about, for an editor that shows it there.
/// Indexes count from 0 in the order written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Spot {
    /// The file as a whole, or text that was not understood at all.
    File,
    /// The title.
    Title,
    /// The tempo.
    Tempo,
    /// The meter.
    Meter,
    /// The pickup.
    Pickup,
    /// A section.
    Section(usize),
    /// The meter of a section.
    SectionMeter(usize),
    /// The overrides of a section.
    SectionOverrides(usize),
    /// The form of a section; parts are its items, groups before their content.
    Form(usize),
    /// A line of a cell.
    Cell(usize, Line),
    /// A line of an ostinato.
    Ostinato(usize, Line),
    /// A voicing; parts are its entries.
    Voicing(usize),
    /// The kit's order.
    KitOrder,
    /// A voice of the kit.
    KitVoice(Voice),
    /// The timing of the take.
    Timing,
}

/// A line of a cell or an ostinato.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Line {
    /// Its head with the letter or name.
    Head,
    /// The parent.
    Like,
    /// The grid; parts are its spans.
    Grid,
    /// The sticking; parts are its slots.
    Sticking,
    /// The voices; parts are its slots.
    Voices,
}

/// Something wrong with a score: where, and what.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScoreError {
    /// File, line and column.
    pub place: Place,
    /// Bytes of the text it is about; empty without text.
    pub span: Range<usize>,
    /// The element it is about.
    pub spot: Spot,
    /// The slot, span, item or entry of that element, from 0.
    pub part: Option<usize>,
    /// What is wrong.
    pub kind: Box<ScoreErrorKind>,
    /// The line of the file, and a caret under the column.
    excerpt: Box<str>,
}

impl std::error::Error for ScoreError {}

impl fmt::Display for ScoreError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.place.line > 0 {
            write!(f, "{}: ", self.place)?;
        }
        fmt::Display::fmt(&self.kind, f)
    }
}

impl ScoreError {
    /// The line of the file with a caret under what is wrong, two lines for a
    /// terminal; empty where there is no text.
    pub fn excerpt(&self) -> &str {
        &self.excerpt
    }

    /// The nearest mend, if there is one.
    pub fn mend(&self) -> Option<&str> {
        self.kind.mend()
    }
}

/// A suggestion at the end of a message; may be none.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Mend(pub Option<String>);

impl fmt::Display for Mend {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.as_ref().map_or(Ok(()), |mend| write!(f, "; {mend}"))
    }
}

/// An error before it has a place: found by the checks, which see no text.
#[derive(Debug)]
pub(super) struct Fault {
    /// The element.
    pub spot: Spot,
    /// The part of it.
    pub part: Option<usize>,
    /// What is wrong.
    pub kind: Box<ScoreErrorKind>,
}

impl Fault {
    /// A fault of a whole element.
    pub fn new(spot: Spot, kind: ScoreErrorKind) -> Fault {
        Fault {
            spot,
            part: None,
            kind: Box::new(kind),
        }
    }

    /// A fault of one part of an element.
    pub fn part(spot: Spot, part: usize, kind: ScoreErrorKind) -> Fault {
        Fault {
            spot,
            part: Some(part),
            kind: Box::new(kind),
        }
    }

    /// The error, for a score without text.
    pub fn without_text(self) -> ScoreError {
        ScoreError {
            place: Place::default(),
            span: 0..0,
            spot: self.spot,
            part: self.part,
            kind: self.kind,
            excerpt: Box::default(),
        }
    }

    /// The error, at `span` of `text`.
    pub fn at(self, text: &str, file: &str, span: Range<usize>) -> ScoreError {
        let (place, excerpt) = locate(text, file, span.start);
        let Fault { spot, part, kind } = self;
        ScoreError {
            place,
            span,
            spot,
            part,
            kind,
            excerpt,
        }
    }
}

/// Characters shown on either side of a fault on a very long line.
const EXCERPT_CHARS: usize = 60;

/// Line and column of a byte of `text`, and the line with a caret under it.
pub fn locate(text: &str, file: &str, byte: usize) -> (Place, Box<str>) {
    let mut byte = byte.min(text.len());
    while !text.is_char_boundary(byte) {
        byte -= 1;
    }
    let before = &text[..byte];
    let line_start = before.rfind('\n').map_or(0, |i| i + 1);
    let line = before.bytes().filter(|b| *b == b'\n').count() + 1;
    // A byte order mark is no column.
    let head = before[line_start..].trim_start_matches('\u{feff}');
    let tail = text[byte..].lines().next().unwrap_or_default();
    let column = head.chars().count() + 1;

    let skipped = column.saturating_sub(1 + EXCERPT_CHARS);
    // Tabs and other controls become blanks, so that the caret stays in line.
    let plain = |c: char| if c.is_control() { ' ' } else { c };
    let shown = head
        .chars()
        .skip(skipped)
        .chain(tail.chars().take(EXCERPT_CHARS))
        .map(plain);
    let mut excerpt: String = shown.collect();
    excerpt.push('\n');
    excerpt.extend(std::iter::repeat_n(' ', column - 1 - skipped));
    excerpt.push('^');

    let number = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
    let place = Place {
        file: file.to_owned(),
        line: number(line),
        column: number(column),
    };
    (place, excerpt.into())
}

/// What was read, cut to a length that fits a message.
pub(super) fn brief(text: &str) -> String {
    const MOST: usize = 40;
    if text.chars().count() <= MOST {
        return text.to_owned();
    }
    text.chars().take(MOST - 1).chain(['…']).collect()
}

/// `beat` or `beats`.
pub(super) fn beats(length: Beats) -> String {
    let s = if length <= Beats::ONE && length.is_positive() {
        ""
    } else {
        "s"
    };
    format!("{length} beat{s}")
}
