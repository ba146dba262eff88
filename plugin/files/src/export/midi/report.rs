//! What became of a MIDI file and what can go wrong.

use crate::export::{MAX_EVENTS, OptionError};
use barform_score::music::{Beats, BeatsError};
use num_rational::Ratio;

/// Why a MIDI file cannot be written.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum MidiError {
    /// An option out of its range.
    #[error(transparent)]
    Option(#[from] OptionError),
    /// More than [`MAX_EVENTS`].
    #[error("more than {MAX_EVENTS} notes; ask for fewer passes")]
    TooLong,
    /// Lengths that do not add up exactly.
    #[error(transparent)]
    Beats(#[from] BeatsError),
    /// The bytes could not be put together.
    #[error("the MIDI file could not be put together: {0}")]
    Write(String),
}

/// A finished file.
#[derive(Debug, Clone)]
pub struct MidiFile {
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// What it holds and what was rounded.
    pub report: MidiReport,
}

/// What a file holds and where it could not be exact.
#[derive(Debug, Clone, PartialEq)]
pub struct MidiReport {
    /// Ticks per quarter note.
    pub division: u16,
    /// Largest distance of a main stroke, bar line or marker from its tick, in
    /// ticks, exact; zero wherever 15 bits suffice.
    pub largest_error_ticks: Ratio<u64>,
    /// The same in microseconds at the file's tempo.
    pub largest_error_us: f64,
    /// First tempo in the file, microseconds per quarter note.
    pub us_per_quarter: u32,
    /// What the tempo asks for, exact; a file holds whole microseconds only.
    pub us_per_quarter_wanted: Ratio<i64>,
    /// Length of the file in seconds, as its tempos make it.
    pub seconds: f64,
    /// How far the end of the file is from where the exact tempos would put it,
    /// in microseconds; late is positive.
    pub tempo_drift_us: f64,
    /// Track names and numbers of notes, without track 0.
    pub tracks: Vec<(String, usize)>,
    /// Strokes that fell together with another one on the same drum and track
    /// and became one note with it.
    pub merged: usize,
    /// Grace notes that fell before the start of the file and lie on its first
    /// tick.
    pub graces_at_start: usize,
    /// Length of the file in beats, lead-in included.
    pub length: Beats,
}

impl MidiReport {
    /// Whether the file's first tempo is the one asked for.
    pub fn tempo_is_exact(&self) -> bool {
        self.us_per_quarter_wanted == Ratio::from_integer(i64::from(self.us_per_quarter))
    }

    /// How far the end of the file is from where the exact tempo would put it,
    /// in microseconds; late is positive.
    pub fn tempo_drift_us(&self) -> f64 {
        self.tempo_drift_us
    }

    /// Length of the file in seconds.
    pub fn seconds(&self) -> f64 {
        self.seconds
    }
}
