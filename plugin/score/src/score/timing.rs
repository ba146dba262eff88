//! How the strokes of a take lay against the slots that they were meant for: kept
//! beside the form, which stays exact.

use crate::music::{Beats, Limb, Voice};

/// Largest mean or spread, in microseconds: a second.
pub const MAX_LAY_US: i32 = 1_000_000;

/// Some strokes against their slots.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Lay {
    /// How late they came on the mean, in microseconds; negative if early. At
    /// most [`MAX_LAY_US`] either way.
    pub mean_us: i32,
    /// Their standard deviation in microseconds, `0 ..=` [`MAX_LAY_US`].
    pub spread_us: i32,
    /// How many they are, at least 1.
    pub strokes: u32,
}

/// The timing of a take, summed up.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Timing {
    /// All strokes.
    pub all: Option<Lay>,
    /// By voice, each once; never the click.
    pub voices: Vec<(Voice, Lay)>,
    /// By limb, each once.
    pub limbs: Vec<(Limb, Lay)>,
    /// By place in the beat, from 0 on, in beats, each once; below 64.
    pub places: Vec<(Beats, Lay)>,
}

impl Timing {
    /// Whether nothing is stated.
    pub fn is_empty(&self) -> bool {
        *self == Timing::default()
    }
}
