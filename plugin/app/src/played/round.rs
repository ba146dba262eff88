//! Which slot a moment was meant for.

use crate::music::{Beats, BeatsError, Grid};

/// Moments are read to a millionth of a beat: half a microsecond at 120 beats
/// per minute, less than any instrument's clock tells apart.
const PER_BEAT: i64 = 1_000_000;

/// Largest moment either way, in beats; a week at 400 beats per minute is less.
const MOST_BEATS: f64 = 5_000_000.0;

/// A floating number of beats as an exact moment, to the nearest millionth of a
/// beat; `None` if it is no number or beyond five million beats.
pub fn moment(beats: f64) -> Option<Beats> {
    // Also false for what is no number.
    let in_range = beats.abs() <= MOST_BEATS;
    in_range.then(|| Beats::new((beats * PER_BEAT as f64).round() as i64, PER_BEAT))
}

/// How many beats a stroke comes late if it comes `ms` milliseconds late, at a
/// tempo in quarter-note beats per minute. `None` as for [`moment`].
pub fn late(ms: f64, bpm: f64) -> Option<Beats> {
    moment(ms * bpm / 60_000.0)
}

/// Beats in milliseconds at a tempo in quarter-note beats per minute, to be told.
pub fn to_ms(beats: Beats, bpm: f64) -> f64 {
    beats.to_f64() * 60_000.0 / bpm
}

/// A grid that is played round and round.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Round {
    /// Start of each slot, then the end of the round.
    bounds: Vec<Beats>,
    /// The middle of each slot: from there on the next one is nearer.
    middles: Vec<Beats>,
}

/// The slot a moment was meant for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Landed {
    /// The round that slot is in, from 0; below 0 before the start.
    pub round: i64,
    /// The slot, from 0.
    pub slot: usize,
    /// Beats the moment is after the slot's start; negative if it is early.
    pub off: Beats,
}

impl Round {
    /// The rounds of a grid.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if the exact positions do not fit.
    pub fn of(grid: &Grid) -> Result<Round, BeatsError> {
        let bounds = grid.slot_bounds()?;
        let half = Beats::new(1, 2);
        let middle = |(from, to): (&Beats, &Beats)| from.checked_add(*to)?.checked_mul(half);
        let middles = bounds.iter().zip(bounds.iter().skip(1)).map(middle);
        Ok(Round {
            middles: middles.collect::<Result<_, _>>()?,
            bounds,
        })
    }

    /// Length of a round in beats.
    pub fn length(&self) -> Beats {
        self.bounds.last().copied().unwrap_or(Beats::ZERO)
    }

    /// Number of slots.
    pub fn slots(&self) -> usize {
        self.middles.len()
    }

    /// Start of a slot in beats from the start of the round.
    pub fn start(&self, slot: usize) -> Option<Beats> {
        self.bounds
            .get(slot)
            .filter(|_| slot < self.slots())
            .copied()
    }

    /// Length of the shortest slot in beats.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if it does not fit.
    pub fn shortest(&self) -> Result<Beats, BeatsError> {
        let mut shortest = self.length();
        for (from, to) in self.bounds.iter().zip(self.bounds.iter().skip(1)) {
            shortest = shortest.min(to.checked_sub(*from)?);
        }
        Ok(shortest)
    }

    /// The slot nearest to a moment in beats from the start of round 0; of two
    /// as near the later. Past the middle of the last slot that is the first one
    /// of the next round.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if the exact positions do not fit.
    pub fn land(&self, at: Beats) -> Result<Landed, BeatsError> {
        let into = at.checked_rem(self.length())?;
        let round = at.checked_sub(into)?.checked_div(self.length())?.floor();
        let nearest = self.middles.partition_point(|middle| *middle <= into);
        let start = self.bounds.get(nearest).copied().unwrap_or(Beats::ZERO);
        let over = nearest == self.slots();
        Ok(Landed {
            round: round.saturating_add(i64::from(over)),
            slot: if over { 0 } else { nearest },
            off: into.checked_sub(start)?,
        })
    }
}
