//! Files of other programs, read into a score.
//!
//! In: the bytes of a Standard MIDI File or a MusicXML document, and options.
//! Out: a checked [`Score`] and a list of what was not understood or could not
//! be kept. Never here: a file system, a guess that is not reported, a panic on
//! any input.

pub mod midi;
pub mod musicxml;

use barform_score::music::BeatsError;
use barform_score::score::{Score, ScoreError};
use std::fmt;

/// A file read into a score.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Imported {
    /// What was read; it passes [`Score::check`].
    pub score: Score,
    /// What was not, in order of time; remarks on the whole file come first.
    pub notes: Vec<Remark>,
}

/// Something a reader did not understand, could not keep, or took for granted.
/// Like ones are told once, with how many there were.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remark {
    /// What it is about.
    pub kind: RemarkKind,
    /// What was met and what became of it, as a sentence without a full stop.
    pub what: String,
    /// The bar where it was met first, the first full bar being 1; `None` for
    /// the whole file.
    pub bar: Option<u32>,
    /// How often it was met, at least 1.
    pub times: u32,
}

/// What a [`Remark`] is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum RemarkKind {
    /// The file says something that the reader does not know; it was passed
    /// over.
    NotUnderstood,
    /// The reader knows what the file says, but a score cannot hold it.
    NotKept,
    /// The file leaves open what a score must say; a usual answer was taken.
    Assumed,
}

impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(bar) = self.bar {
            write!(f, "bar {bar}: ")?;
        }
        f.write_str(&self.what)?;
        if self.times > 1 {
            write!(f, " ({} times)", self.times)?;
        }
        Ok(())
    }
}

/// Why a file could not be read at all.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ImportError {
    /// The file, or what is packed in it, is larger than a reader takes.
    #[error("{what} is larger than {limit} bytes, the most that is read")]
    TooLarge {
        /// What is too large.
        what: String,
        /// Most bytes.
        limit: u64,
    },
    /// The music is longer or finer than a score may be.
    #[error("too much for one score: {0}")]
    TooMuch(String),
    /// The bytes are not what they should be.
    #[error("this is not a valid {format} file: {what}")]
    Damaged {
        /// `MusicXML` or `MIDI`.
        format: &'static str,
        /// What is wrong, and where if that is known.
        what: String,
    },
    /// The file is sound, but nothing in it is for a drum set.
    #[error("nothing to read: {0}")]
    Nothing(String),
    /// An option is out of its range.
    #[error("{0}")]
    Option(String),
    /// The exact arithmetic does not fit.
    #[error(transparent)]
    Beats(#[from] BeatsError),
    /// The music does not make a score that can be kept.
    #[error(transparent)]
    Score(#[from] ScoreError),
}

/// Most bytes of a file that one of the readers takes.
pub const MAX_BYTES: u64 = if musicxml::MAX_XML_BYTES > midi::MAX_BYTES as u64 {
    musicxml::MAX_XML_BYTES
} else {
    midi::MAX_BYTES as u64
};

/// Whether a file begins as MIDI files do, bare or wrapped in RIFF; what does
/// not can only be MusicXML.
pub fn is_midi(bytes: &[u8]) -> bool {
    bytes.starts_with(b"MThd") || bytes.starts_with(b"RIFF")
}

/// Reads a file of either kind with the usual options.
///
/// # Errors
/// See [`ImportError`]; never a partial score.
pub fn read(bytes: &[u8]) -> Result<Imported, ImportError> {
    if is_midi(bytes) {
        midi::read(bytes, &midi::Options::default())
    } else {
        musicxml::read(bytes, &musicxml::Options::default())
    }
}

/// Remarks as they are met; like ones are counted.
#[derive(Debug, Clone, Default)]
pub(crate) struct Remarks(Vec<Remark>);

/// Most unlike remarks that are kept; a damaged file could make any number.
const MAX_REMARKS: usize = 200;

impl Remarks {
    /// Notes that `what` was met in `bar`.
    pub fn add(&mut self, kind: RemarkKind, bar: Option<u32>, what: impl Into<String>) {
        let what = what.into();
        let known = |r: &&mut Remark| r.kind == kind && r.what == what;
        if let Some(remark) = self.0.iter_mut().find(known) {
            remark.times = remark.times.saturating_add(1);
            return;
        }
        if self.0.len() < MAX_REMARKS {
            self.0.push(Remark {
                kind,
                what,
                bar,
                times: 1,
            });
        }
    }

    /// All of them in order of time.
    pub fn into_sorted(mut self) -> Vec<Remark> {
        self.0.sort_by_key(|r| r.bar);
        self.0
    }
}
