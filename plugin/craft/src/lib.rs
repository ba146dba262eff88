//! What a drummer knows: sticking, counting, playability, rudiments, variation.
//!
//! In: cells and forms, and rule sets as data (embedded TOML with comments, or
//! the user's own). Out: answers with their reasons, and new cells or forms.
//! Never here: playing, sound, files, floating point, chance that is not seeded.
//! The same question has the same answer on every machine.

pub mod arrange;
pub mod carry;
pub mod counting;
pub mod line;
pub mod modulate;
pub mod playable;
pub mod range;
pub use barform_score::refit;
pub mod revoice;
pub mod rudiments;
pub mod rules;
pub mod sticking;
pub mod variation;
