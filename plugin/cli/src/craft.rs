//! The verbs of the craft: what a drummer would say about a score.
//!
//! In: a score, perhaps a letter of it, perhaps a settings file with rule sets.
//! Out: readable tables, or JSON with keys that stay as they are (see
//! `docs/craft.md`). Never here: a decision about music; every answer and every
//! reason is the core's.

pub(crate) mod desk;
mod print;

pub mod count;
pub mod forms;
pub mod mend;
pub mod playable;
pub mod refit;
pub mod revoice;
pub mod rudiments;
pub mod stick;
pub mod vary;
