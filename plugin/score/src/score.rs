//! A score: cells, form, ostinatos, kit; and the `.barform` file it lives in.
//!
//! In: text of a score file, or edits. Out: a checked [`Score`] whose cells all
//! resolve, or an error that says where and what; and the form written out as
//! [`Placements`]. Never here: playing time, samples, MIDI bytes. Never a
//! partial score: reading either succeeds whole or changes nothing.
//!
//! `read` knows the text, `check` knows what goes together, `resolve` fills in
//! what variations take from their parents, `write` is `read` backwards, `edit`
//! changes a score as an editor asks and takes every change back.

mod check;
mod document;
pub mod edit;
mod error;
mod form;
mod limits;
mod model;
mod nearest;
mod placements;
mod read;
mod resolve;
mod timing;
mod write;

pub use document::Document;
pub use error::{Line, Mend, Place, ScoreError, ScoreErrorKind, Spot, locate};
pub use form::{FormItem, Overrides, Rate};
pub use limits::*;
pub use model::{
    CellDef, Ostinato, Score, Section, StickSlot, StickToken, VoiceSlot, VoiceToken, Voicing,
};
pub use nearest::nearest_word;
pub use placements::{Placement, Placements};
pub use read::{read_form, read_grid, read_kit, read_sticking, read_voices};
pub use timing::{Lay, MAX_LAY_US, Timing};
pub use write::{
    form_text, kit_text, stick_slot_text, sticking_text, voice_slot_text, voices_text,
};
