//! A cell played in: the strokes of somebody who plays while a cell goes round,
//! read against its grid.
//!
//! [`Take::cell`] gives the cell they make, with hands, and how early or late
//! each stroke was. A position that comes as a floating number is read into an
//! exact one once ([`moment`]), before any sum is made. Whole performances are
//! read by [`crate::take`].

mod cell;
mod round;
mod tap;

pub use crate::take::struck::{Loudness, Struck, voice_of};
pub use cell::{Hands, Hit, Over, Played, Take};
pub use round::{Landed, Round, late, moment, to_ms};
pub use tap::{TEMPO_BPM, Taps};
