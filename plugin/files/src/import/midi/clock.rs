//! Ticks, beats, microseconds; and the tempo that a file's microseconds stand
//! for.

use super::file::File;
use barform_score::music::{Beats, BeatsError};

/// What turns ticks into beats and beats into microseconds.
#[derive(Debug, Clone, Copy)]
pub(super) struct Clock {
    /// Length of a tick in beats.
    pub per_tick: Beats,
    /// Microseconds per quarter note.
    pub us_per_quarter: u32,
}

impl Clock {
    /// The clock of a file.
    pub fn of(file: &File) -> Clock {
        Clock {
            per_tick: file.per_tick,
            us_per_quarter: file.us_per_quarter,
        }
    }

    /// A tick in beats.
    pub fn beats(self, tick: u64) -> Result<Beats, BeatsError> {
        let tick = i64::try_from(tick).map_err(|_| BeatsError::Overflow)?;
        self.per_tick.checked_mul(Beats::whole(tick))
    }

    /// The tick nearest to so many microseconds from `tick`, ties up: where the
    /// writer puts grace notes and bounces.
    pub fn shifted(self, tick: u64, shift_us: i64) -> i64 {
        let (n, d) = (self.per_tick.numer(), self.per_tick.denom());
        // ticks = us / us_per_quarter / per_tick
        let numer = i128::from(shift_us) * i128::from(d);
        let denom = i128::from(self.us_per_quarter) * i128::from(n);
        let near = (2 * numer + denom).div_euclid(2 * denom);
        (i128::from(tick) + near).clamp(-1, i128::from(i64::MAX)) as i64
    }

    /// Microseconds, rounded down.
    pub fn us(self, beats: Beats) -> i64 {
        let us = i128::from(beats.numer()) * i128::from(self.us_per_quarter);
        let us = us.div_euclid(i128::from(beats.denom()));
        us.clamp(i128::from(i64::MIN), i128::from(i64::MAX)) as i64
    }
}

/// The plainest tempo whose beat, in whole microseconds, is `us_per_quarter`:
/// the fraction of least terms, so 652174 is 92 beats per minute.
pub(super) fn tempo(us_per_quarter: u32) -> Beats {
    let us = i128::from(us_per_quarter);
    // A writer rounds 60e6 / tempo: it lies between half a microsecond below
    // and above.
    let (low, high) = ((120_000_000, 2 * us + 1), (120_000_000, 2 * us - 1));
    simplest(low, high)
}

/// The fraction of least terms above `low` and not above `high`, both positive
/// (Stern and Brocot's tree, walked by continued fractions).
fn simplest(low: (i128, i128), high: (i128, i128)) -> Beats {
    let (n, d) = between(low, high, 0);
    Beats::new(
        i64::try_from(n).unwrap_or(i64::MAX),
        i64::try_from(d).unwrap_or(1).max(1),
    )
}

/// A fraction between two others; `depth` bounds what can never be deep.
fn between(low: (i128, i128), high: (i128, i128), depth: u32) -> (i128, i128) {
    let whole = low.0.div_euclid(low.1);
    // The least whole number above `low`.
    if (whole + 1) * high.1 <= high.0 || depth > 90 {
        return (whole + 1, 1);
    }
    let (low_rest, high_rest) = (low.0 - whole * low.1, high.0 - whole * high.1);
    if low_rest == 0 {
        // Just above a whole number: whole + 1/k with 1/k <= high's rest.
        let k = (high.1 + high_rest - 1).div_euclid(high_rest);
        return (whole * k + 1, k);
    }
    let (n, d) = between_closed_low((high.1, high_rest), (low.1, low_rest), depth + 1);
    (whole * n + d, n)
}

/// As [`between`], with `low` allowed and `high` not.
fn between_closed_low(low: (i128, i128), high: (i128, i128), depth: u32) -> (i128, i128) {
    let whole = -(-low.0).div_euclid(low.1);
    if whole * high.1 < high.0 || depth > 90 {
        return (whole, 1);
    }
    let floor = low.0.div_euclid(low.1);
    let (low_rest, high_rest) = (low.0 - floor * low.1, high.0 - floor * high.1);
    let (n, d) = between((high.1, high_rest), (low.1, low_rest), depth + 1);
    (floor * n + d, n)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A search through all denominators finds no plainer one.
    fn searched(us: u32) -> Beats {
        (1..)
            .find_map(|d: i128| {
                let us = i128::from(us);
                let low = (120_000_000 * d).div_euclid(2 * us + 1);
                ((low + 1) * (2 * us - 1) <= 120_000_000 * d)
                    .then(|| Beats::new(low as i64 + 1, d as i64))
            })
            .unwrap()
    }

    proptest! {
        #[test]
        fn no_tempo_is_plainer(us in 150_000_u32..3_000_001) {
            prop_assert_eq!(tempo(us), searched(us));
        }

        #[test]
        fn a_tempo_comes_back(bpm in 20_i64..400, quarter in 0_i64..4) {
            let bpm = Beats::new(bpm * 4 + quarter, 4);
            let us = 60_000_000.0 / bpm.to_f64();
            prop_assert_eq!(tempo(us.round() as u32), bpm);
        }
    }
}
