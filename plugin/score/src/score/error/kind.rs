//! Everything that can be wrong with a score.

use super::super::limits::MAX_FILE_BYTES;
use super::{Mend, beats};
use crate::music::{Beats, Letter, Meter};

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
    #[error("this cannot be read: {message}")]
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
    /// An edit that cannot be made.
    #[error("{problem}; {allowed}{mend}")]
    Edit {
        /// What was asked for and why not.
        problem: String,
        /// What is allowed.
        allowed: String,
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
    /// What the TOML reader says, on one line; what it says most often in the
    /// words of the score file.
    pub(crate) fn toml(message: &str) -> ScoreErrorKind {
        let message = match message {
            "key with no value, expected `=`" => "a name without '=' and a value".to_owned(),
            other => other.split_whitespace().collect::<Vec<_>>().join(" "),
        };
        ScoreErrorKind::Toml { message }
    }

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
            | Edit { mend, .. }
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
