//! What users read: amounts, lengths, strokes, times. Both shells say them this
//! way. The names of voices and limbs themselves stand in one table below,
//! `music/names.rs`.

mod amounts;
mod names;
mod shelf;
mod strokes;
mod timing;

pub use amounts::{beats, count, duration, extent, listed, number, thousands};
pub use names::{full_name, key_name, letter, note, played_by, stroke_name};
pub use shelf::{ago, grid, item, item_voices, last_used, suggested_name, tags};
pub use strokes::{sticking, sticking_line, stroke, voices};
pub use timing::{hit, lateness};
