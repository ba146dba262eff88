//! Why something cannot be written, and what to do about it.

use barform_score::music::{Beats, BeatsError, Letter};
use barform_score::score::ScoreError;
use std::fmt;

/// Which bar.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Whereabouts {
    /// A bar by its printed number.
    Bar(u32),
    /// The bar before the first bar line.
    Pickup,
    /// A cell that stands alone.
    Cell(Letter),
    /// An ostinato that stands alone, by its name.
    Ostinato(String),
}

impl fmt::Display for Whereabouts {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Whereabouts::Bar(number) => write!(f, "bar {number}"),
            Whereabouts::Pickup => f.write_str("the pickup bar"),
            Whereabouts::Cell(letter) => write!(f, "cell {letter}"),
            Whereabouts::Ostinato(name) => write!(f, "ostinato {name}"),
        }
    }
}

/// Why a score cannot be written as notes. Times are in quarter-note beats from
/// the bar line.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NotateError {
    /// A value below a 1024th note.
    #[error(
        "{place}, {at} beats after the bar line: shorter than a 1024th note; \
         put the cell on a coarser grid or play it at a slower rate"
    )]
    TooShort {
        /// Which bar.
        place: Whereabouts,
        /// Beats from the bar line.
        at: Beats,
    },
    /// Strokes that share no division of the beat which could be read.
    #[error(
        "{place}, {at} beats after the bar line: no tuplet of at most {most} parts has all \
         strokes of this beat; start the cell on a beat, or put it on a simpler grid",
        most = super::MAX_TUPLET
    )]
    NoTuplet {
        /// Which bar.
        place: Whereabouts,
        /// Beats from the bar line: where the beat begins.
        at: Beats,
    },
    /// Exact times that do not fit 63 bits.
    #[error("{place}: its times are too fine to add up exactly; put its cells on simpler grids")]
    TooFine {
        /// Which bar.
        place: Whereabouts,
    },
    /// More notes and rests than [`MAX_ELEMENTS`](super::MAX_ELEMENTS).
    #[error(
        "{place}: more than {most} notes and rests so far; write each letter once, fold the \
         repeats, or take smaller repeats",
        most = super::MAX_ELEMENTS
    )]
    TooLong {
        /// The bar that no longer fits.
        place: Whereabouts,
    },
    /// The score itself is not sound.
    #[error(transparent)]
    Score(#[from] ScoreError),
    /// The form does not add up exactly.
    #[error(transparent)]
    Beats(#[from] BeatsError),
}

/// The same inside of one bar, before anyone says which.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Fault {
    TooShort(Beats),
    NoTuplet(Beats),
    TooFine,
}

impl From<BeatsError> for Fault {
    fn from(_: BeatsError) -> Fault {
        Fault::TooFine
    }
}

impl Fault {
    pub fn at(self, place: Whereabouts) -> NotateError {
        match self {
            Fault::TooShort(at) => NotateError::TooShort { place, at },
            Fault::NoTuplet(at) => NotateError::NoTuplet { place, at },
            Fault::TooFine => NotateError::TooFine { place },
        }
    }
}
