//! The words of the trade as types: what a stroke, a cell, a grid and a kit are.
//!
//! In: nothing; this is the ground floor. Out: plain values that every other
//! folder speaks. Never here: text, files, tempo in seconds, samples, MIDI
//! bytes on a wire. All time is exact: a [`Beats`] is a rational number of
//! quarter-note beats.

mod beats;
mod cell;
mod count;
mod grid;
mod kit;
mod limb;
mod meter;
mod names;
mod stroke;
mod voice;

pub use beats::{Beats, BeatsError};
pub use cell::{Cell, Letter, Slot};
pub use count::EMBEDDED_TABLES as EMBEDDED_COUNT_TABLES;
pub use count::{Count, CountBy, CountKind, CountTables, Tradition, WordsError, count_syllables};
pub use grid::{Fit, Grid, MAX_SLOTS_PER_SPAN, RefitError, Span, Subdivision};
pub use kit::{Channel, Key, Kit, KitVoice, Velocity, VelocityCurve};
pub use limb::{Hand, Limb};
pub use meter::Meter;
pub use stroke::{Graces, Level, Stroke, sticking_under};
pub use voice::{Articulation, Voice};
