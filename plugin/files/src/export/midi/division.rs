//! How many ticks a quarter note gets.

use barform_score::music::Beats;
use num_integer::Integer;
use num_rational::Ratio;
use std::collections::HashSet;

/// Most ticks per quarter note: the division of a Standard MIDI File has 15
/// bits where its top bit says "ticks per quarter note".
pub const MAX_DIVISION: u16 = 0x7fff;

/// Where there is a choice, the division is a multiple of this: every program
/// finds its usual note values on whole ticks, and a millisecond at 120 beats
/// per minute is two ticks, enough for flams.
const USUAL: u64 = 960;

/// Ticks per quarter note and what they cost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Division {
    /// Ticks per quarter note, `1 ..= 0x7fff`.
    pub per_quarter: u16,
    /// Largest distance of a time from its tick, in ticks, exact; at most 1/2.
    pub largest_error: Ratio<u64>,
}

impl Division {
    /// The division on which all `times` fall on whole ticks, if 15 bits hold
    /// one; else the one with the least largest error in time.
    pub fn for_times(times: impl Iterator<Item = Beats> + Clone) -> Division {
        let most = u64::from(MAX_DIVISION);
        let common = times.clone().try_fold(1_u64, |lcm, at| {
            let denom = at.denom().unsigned_abs();
            // Gcd first: the product of two large terms may not fit.
            (lcm / lcm.gcd(&denom))
                .checked_mul(denom)
                .filter(|lcm| *lcm <= most)
        });
        if let Some(common) = common {
            let usual = common.lcm(&USUAL);
            let many = common * USUAL.div_ceil(common);
            let per_quarter = [usual, many]
                .into_iter()
                .find(|d| *d <= most)
                .unwrap_or(common);
            return Division {
                per_quarter: per_quarter as u16,
                largest_error: Ratio::from_integer(0),
            };
        }
        Division::nearest(times)
    }

    /// Tries every division; the first fractions tried are those that ruled out
    /// the last one, so most are dropped after a few.
    fn nearest(times: impl Iterator<Item = Beats>) -> Division {
        let fractions: HashSet<(u64, u64)> = times
            .filter(|at| !at.is_whole())
            .map(|at| {
                (
                    at.numer().rem_euclid(at.denom()).unsigned_abs(),
                    at.denom().unsigned_abs(),
                )
            })
            .collect();
        let mut fractions: Vec<(u64, u64)> = fractions.into_iter().collect();
        fractions.sort_unstable();
        let mut best = (f64::INFINITY, MAX_DIVISION);
        for division in (1..=MAX_DIVISION).rev() {
            let in_beats = |(n, q): (u64, u64)| {
                off_tick(n, q, division) as f64 / q as f64 / f64::from(division)
            };
            let mut largest = 0.0_f64;
            let mut ruled_out = None;
            for (i, fraction) in fractions.iter().enumerate() {
                largest = largest.max(in_beats(*fraction));
                if largest >= best.0 {
                    ruled_out = Some(i);
                    break;
                }
            }
            match ruled_out {
                Some(i) => fractions.swap(0, i),
                None => best = (largest, division),
            }
        }
        let per_quarter = best.1;
        let errors = fractions
            .iter()
            .map(|(n, q)| Ratio::new(off_tick(*n, *q, per_quarter), *q));
        let largest_error = errors
            .reduce(larger)
            .unwrap_or_else(|| Ratio::from_integer(0));
        Division {
            per_quarter,
            largest_error,
        }
    }
}

/// The larger of two ratios, without the overflow of a common denominator.
fn larger(a: Ratio<u64>, b: Ratio<u64>) -> Ratio<u64> {
    let left = u128::from(*a.numer()) * u128::from(*b.denom());
    let right = u128::from(*b.numer()) * u128::from(*a.denom());
    if left >= right { a } else { b }
}

/// Distance of `n/q` beats from the nearest tick, in `q`ths of a tick.
fn off_tick(n: u64, q: u64, division: u16) -> u64 {
    let rest = (u128::from(n) * u128::from(division) % u128::from(q)) as u64;
    rest.min(q - rest)
}
