//! A score: cells, form, ostinatos, kit; and the `.barform` file it lives in.
//!
//! In: text of a score file, or edits. Out: a checked [`Score`] whose cells all
//! resolve, or an error that says where and what. Never here: playing time,
//! samples, MIDI bytes. Never a partial score: reading either succeeds whole
//! or changes nothing.

mod document;
mod error;
mod form;
mod limits;
mod model;
mod read;
mod resolve;
mod write;

pub use document::Document;
pub use error::{Place, ScoreError};
pub use form::{FormItem, Overrides, Rate};
pub use limits::{
    MAX_CELLS, MAX_DEPTH, MAX_FILE_BYTES, MAX_OSTINATOS, MAX_PLACEMENTS, MAX_REPEATS, MAX_STROKES,
};
pub use model::{
    CellDef, Ostinato, Score, Section, StickSlot, StickToken, VoiceSlot, VoiceToken, Voicing,
};
