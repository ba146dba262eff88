//! What users read: amounts, lengths, strokes. Both shells say them this way; the
//! names of voices and limbs themselves stand in one table below,
//! `music/names.rs`.

mod amounts;
mod strokes;

pub use amounts::{beats, count, duration, extent, listed, number, thousands};
pub use strokes::{sticking, sticking_line, stroke, voices};
