//! From a performance to a lettered form.
//!
//! Somebody played: on pads, to a click or without one, with the timing that
//! people have. [`Reading::of`] finds where the beats are, on which subdivision
//! each of them is, which stroke belongs to which slot, what repeats, and gives
//! it letters; [`Reading::score`] is the score of that form. What was found is a
//! proposal with reasons, one of several, and [`edit`] changes it as a drummer
//! says.
//!
//! MIDI bytes → [`recording`] → [`strokes`] → [`beat`] → [`subdivide`] →
//! [`letters`] → [`form`] → score.

pub mod beat;
pub mod edit;
pub mod feet;
pub mod form;
pub mod job;
pub mod keys;
pub mod letters;
pub mod picture;
pub mod reading;
pub mod recording;
pub mod score;
pub mod strokes;
pub mod struck;
pub mod subdivide;
pub mod timing;

pub use edit::Edit;
pub use form::Form;
pub use reading::{BeatSource, Kind, Options, Placed, Reading};
pub use recording::Recording;
pub use score::Written;

/// Why a take cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TakeError {
    /// The bytes are no Standard MIDI File.
    #[error("this is not a valid MIDI file: {0}")]
    Damaged(String),
    /// More than is read at once.
    #[error("too much for one take: {0}")]
    TooMuch(String),
    /// The file is sound, but there is no take in it.
    #[error("nothing to read: {0}")]
    Nothing(String),
    /// An option is out of its range.
    #[error("{0}")]
    Option(String),
    /// Stopped by whoever watches it.
    #[error("stopped")]
    Cancelled,
    /// What was found makes no score.
    #[error("what was found makes no score: {0}")]
    Score(String),
}
