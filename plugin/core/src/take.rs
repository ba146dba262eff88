//! A take: what was played against what was meant.
//!
//! In: strokes played while a cell goes round and round, each at an exact
//! moment; the cell's grid, its kit. Out: the slot each was meant for, how early
//! or late it was, and the cell that they make, with hands.
//! Never here: a clock, a device, a window. A position that comes as a floating
//! number is read into an exact one once ([`moment`]) and no sum is made before.

mod played;
mod round;
mod struck;

pub use played::{Hands, Hit, Over, Played, Take};
pub use round::{Landed, Round, late, moment, to_ms};
pub use struck::{Loudness, Struck, voice_of};
