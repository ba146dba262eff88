//! What can be wrong with a score, where, and the nearest mend.

use super::limits::MAX_FILE_BYTES;
use std::fmt;
use std::ops::Range;

use crate::music::{Beats, Letter, Meter, Voice};

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

impl std::error::Error for ScoreError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        Some(&*self.kind)
    }
}

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

/// What is wrong with a score. Every message says what was read, then what is
/// allowed, then the mend.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ScoreErrorKind {
    /// The file is larger than [`MAX_FILE_BYTES`].
    #[error("a score of {bytes} bytes; at most {MAX_FILE_BYTES} are read")]
    TooLarge {
        /// Its size.
        bytes: usize,
    },
    /// The text is not TOML.
    #[error("not TOML: {message}")]
    Toml {
        /// What the TOML reader says.
        message: String,
    },
    /// The file's version is not one this reader knows.
    #[error("a score of version {read}; this reader knows version 1{mend}")]
    Version {
        /// What was read.
        read: String,
        /// The mend.
        mend: Mend,
    },
    /// A key that means nothing here.
    #[error("unknown key '{key}' in {within}; allowed are {allowed}{mend}")]
    UnknownKey {
        /// The key.
        key: String,
        /// The table.
        within: String,
        /// Keys known there.
        allowed: String,
        /// The mend.
        mend: Mend,
    },
    /// Something required is missing.
    #[error("{within} has no {what}; {allowed}{mend}")]
    Missing {
        /// What is missing.
        what: String,
        /// Where.
        within: String,
        /// How to write it.
        allowed: String,
        /// The mend.
        mend: Mend,
    },
    /// A value of the wrong TOML type.
    #[error("{key} is {read}; allowed is {allowed}")]
    WrongType {
        /// The key.
        key: String,
        /// Type read.
        read: String,
        /// Type allowed.
        allowed: String,
    },
    /// Text that cannot be read as what it should be.
    #[error("'{read}' is no {what}; allowed is {allowed}{mend}")]
    Unreadable {
        /// What it should be.
        what: &'static str,
        /// What was read.
        read: String,
        /// What is allowed.
        allowed: String,
        /// The mend.
        mend: Mend,
    },
    /// A name that is not known.
    #[error("unknown {what} '{read}'; known are {known}{mend}")]
    Unknown {
        /// What it should name.
        what: &'static str,
        /// What was read.
        read: String,
        /// What is known.
        known: String,
        /// The mend.
        mend: Mend,
    },
    /// A value out of its range.
    #[error("{what} is {read}; allowed is {allowed}")]
    OutOfRange {
        /// Which value.
        what: String,
        /// What was read.
        read: String,
        /// Its range.
        allowed: String,
    },
    /// More of something than a limit allows.
    #[error("{read} {what}; at most {most} are allowed{mend}")]
    TooMany {
        /// What there is too much of.
        what: &'static str,
        /// How much.
        read: String,
        /// The limit.
        most: u64,
        /// The mend.
        mend: Mend,
    },
    /// A name stated twice.
    #[error("{what} '{name}' is stated twice; each has one {what} of its own")]
    Twice {
        /// What it names.
        what: &'static str,
        /// The name.
        name: String,
    },
    /// A line whose entries do not match the grid.
    #[error("{owner} has {found} slots in its {line}, its grid '{grid}' has {slots}{mend}")]
    SlotCount {
        /// The cell or ostinato.
        owner: String,
        /// `sticking` or `voices`.
        line: &'static str,
        /// Entries on the line.
        found: usize,
        /// Slots of the grid.
        slots: usize,
        /// The grid.
        grid: String,
        /// The mend.
        mend: Mend,
    },
    /// One slot that does not go together.
    #[error("{owner}, slot {slot}: {problem}{mend}")]
    Slot {
        /// The cell or ostinato.
        owner: String,
        /// Slot, from 1.
        slot: usize,
        /// What was read and what is allowed.
        problem: String,
        /// The mend.
        mend: Mend,
    },
    /// A variation that is, through its parents, its own parent.
    #[error("cell {letter} is like itself ({chain}); a variation leads to a cell without 'like'")]
    Cycle {
        /// The letter.
        letter: Letter,
        /// The parents in order.
        chain: String,
    },
    /// A form that cannot be read.
    #[error("{problem}; {allowed}{mend}")]
    Form {
        /// What was read.
        problem: String,
        /// What is allowed.
        allowed: String,
        /// The mend.
        mend: Mend,
    },
    /// A cell that does not fit on a subdivision.
    #[error(
        "cell {letter} ({}) does not fit on {subdivision}: {why}{mend}",
        beats(*length)
    )]
    Refit {
        /// The cell.
        letter: Letter,
        /// Its length in beats.
        length: Beats,
        /// The subdivision asked for.
        subdivision: String,
        /// Why not.
        why: String,
        /// The mend.
        mend: Mend,
    },
    /// No bar line falls where the score says.
    #[error(
        "{what}, but bar {bar} has {into} of {whole} here; a bar of {meter} ends \
         {later} later or {earlier} earlier{mend}",
        whole = beats(meter.bar()),
        later = beats(*short),
        earlier = beats(*over)
    )]
    BarLine {
        /// What asks for the bar line.
        what: String,
        /// Bar number; the pickup is bar 0.
        bar: u64,
        /// Meter of the bar.
        meter: Meter,
        /// Beats of the bar before this place.
        into: Beats,
        /// Beats to the next bar line.
        short: Beats,
        /// Beats from the bar line before.
        over: Beats,
        /// The mend.
        mend: Mend,
    },
    /// Exact arithmetic ran out of room.
    #[error("{what} cannot be added up exactly; use lengths with fewer unlike divisions")]
    Overflow {
        /// What.
        what: String,
    },
}

impl ScoreErrorKind {
    /// The nearest mend, if there is one.
    pub fn mend(&self) -> Option<&str> {
        use ScoreErrorKind::*;
        match self {
            Version { mend, .. }
            | UnknownKey { mend, .. }
            | Missing { mend, .. }
            | Unreadable { mend, .. }
            | Unknown { mend, .. }
            | TooMany { mend, .. }
            | SlotCount { mend, .. }
            | Slot { mend, .. }
            | Form { mend, .. }
            | Refit { mend, .. }
            | BarLine { mend, .. } => mend.0.as_deref(),
            TooLarge { .. }
            | Toml { .. }
            | WrongType { .. }
            | OutOfRange { .. }
            | Twice { .. }
            | Cycle { .. }
            | Overflow { .. } => None,
        }
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

/// Line and column of a byte, and the line with a caret under it.
fn locate(text: &str, file: &str, byte: usize) -> (Place, Box<str>) {
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
