//! Exact seconds.

use barform_score::music::Beats;
use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{Signed, ToPrimitive};
use std::fmt;

/// A moment, in exact seconds from the start of a track.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Seconds(BigRational);

fn big(beats: Beats) -> BigRational {
    BigRational::new_raw(BigInt::from(beats.numer()), BigInt::from(beats.denom()))
}

impl Seconds {
    /// The start.
    pub fn zero() -> Seconds {
        Seconds(BigRational::from_integer(BigInt::ZERO))
    }

    /// So many beats later at a tempo in beats a minute, above zero.
    #[must_use]
    pub fn after(&self, beats: Beats, tempo: Beats) -> Seconds {
        let minutes = big(beats) / big(tempo);
        Seconds(&self.0 + minutes * BigInt::from(60))
    }

    /// So many microseconds later, or earlier below zero, though not before the
    /// start.
    #[must_use]
    pub fn shifted_us(&self, us: i64) -> Seconds {
        let by = BigRational::new(BigInt::from(us), BigInt::from(1_000_000));
        let moment = &self.0 + by;
        if moment.is_negative() {
            Seconds::zero()
        } else {
            Seconds(moment)
        }
    }

    /// The nearest frame at a sample rate, ties up.
    pub fn frame(&self, rate_hz: u32) -> u64 {
        let half = BigRational::new(BigInt::from(1), BigInt::from(2));
        let frame = (&self.0 * BigInt::from(rate_hz) + half).floor();
        frame.to_integer().to_u64().unwrap_or(u64::MAX)
    }

    /// The nearest `f64`.
    pub fn to_f64(&self) -> f64 {
        self.0.to_f64().unwrap_or(f64::INFINITY)
    }

    /// The exact value.
    pub fn exact(&self) -> &BigRational {
        &self.0
    }
}

impl fmt::Debug for Seconds {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} s", self.0)
    }
}
