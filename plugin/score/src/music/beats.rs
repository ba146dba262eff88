//! Exact musical time.

use num_rational::Ratio;
use num_traits::{CheckedAdd, CheckedMul, CheckedSub, Signed, Zero};
use std::fmt;
use std::str::FromStr;

/// A position or a length in beats, exact. One beat is one quarter note in
/// every meter, as in a DAW and in a Standard MIDI File; a bar of 7/8 is 7/2
/// beats.
///
/// Arithmetic is checked: sums whose common denominator no longer fits 63 bits
/// are an error, never a rounded value.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Beats(Ratio<i64>);

/// Why a number of beats could not be read or computed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BeatsError {
    /// The exact result does not fit.
    #[error("lengths too fine or too long to add up exactly")]
    Overflow,
    /// The text is not a whole number, a decimal or a fraction.
    #[error("'{0}' is not a number of beats; write for example 2, 3/2 or 0.5")]
    NotANumber(String),
}

/// Largest numerator and denominator accepted in text. Wide enough for any
/// notation; small enough that a few thousand unlike lengths still add up.
const MAX_TERM: i64 = 1_000_000;

impl Beats {
    /// No time at all.
    pub const ZERO: Beats = Beats(Ratio::new_raw(0, 1));
    /// One quarter note.
    pub const ONE: Beats = Beats(Ratio::new_raw(1, 1));

    /// `numer / denom` beats, reduced.
    ///
    /// # Panics
    /// If `denom` is zero.
    pub fn new(numer: i64, denom: i64) -> Self {
        Self(Ratio::new(numer, denom))
    }

    /// A whole number of beats.
    pub fn whole(beats: i64) -> Self {
        Self(Ratio::from_integer(beats))
    }

    /// Numerator of the reduced fraction (carries the sign).
    pub fn numer(self) -> i64 {
        *self.0.numer()
    }

    /// Denominator of the reduced fraction, at least 1.
    pub fn denom(self) -> i64 {
        *self.0.denom()
    }

    /// Exact sum.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if the sum does not fit.
    pub fn checked_add(self, other: Beats) -> Result<Beats, BeatsError> {
        // Nothing to add, or whole numbers: no gcd needed then.
        if other.is_zero() {
            return Ok(self);
        }
        if self.is_zero() {
            return Ok(other);
        }
        // A whole number more leaves a reduced fraction reduced.
        let (whole, part) = if self.denom() == 1 {
            (self, other)
        } else {
            (other, self)
        };
        if whole.denom() == 1 {
            let numer = whole.numer().checked_mul(part.denom());
            return numer
                .and_then(|n| n.checked_add(part.numer()))
                .map(|n| Beats(Ratio::new_raw(n, part.denom())))
                .ok_or(BeatsError::Overflow);
        }
        self.0
            .checked_add(&other.0)
            .map(Beats)
            .ok_or(BeatsError::Overflow)
    }

    /// Exact difference.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if the difference does not fit.
    pub fn checked_sub(self, other: Beats) -> Result<Beats, BeatsError> {
        self.0
            .checked_sub(&other.0)
            .map(Beats)
            .ok_or(BeatsError::Overflow)
    }

    /// Exact product.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if the product does not fit.
    pub fn checked_mul(self, factor: Beats) -> Result<Beats, BeatsError> {
        self.0
            .checked_mul(&factor.0)
            .map(Beats)
            .ok_or(BeatsError::Overflow)
    }

    /// Exact quotient.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if it does not fit or `divisor` is zero.
    pub fn checked_div(self, divisor: Beats) -> Result<Beats, BeatsError> {
        if divisor.is_zero() {
            return Err(BeatsError::Overflow);
        }
        self.checked_mul(Beats(Ratio::new(divisor.denom(), divisor.numer())))
    }

    /// What remains after taking away as many whole `period`s as fit; always in
    /// `0 .. period`.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if `period` is not positive or does not fit.
    pub fn checked_rem(self, period: Beats) -> Result<Beats, BeatsError> {
        if !period.is_positive() {
            return Err(BeatsError::Overflow);
        }
        let times = Beats::whole(self.checked_div(period)?.floor());
        self.checked_sub(period.checked_mul(times)?)
    }

    /// Greatest whole number not above this.
    pub fn floor(self) -> i64 {
        self.0.floor().to_integer()
    }

    /// Whether this is no time at all.
    pub fn is_zero(self) -> bool {
        self.0.is_zero()
    }

    /// Whether this is later than zero.
    pub fn is_positive(self) -> bool {
        self.0.is_positive()
    }

    /// Whether this is a whole number of beats.
    pub fn is_whole(self) -> bool {
        self.0.is_integer()
    }

    /// The nearest `f64`; the only way out of exact time.
    pub fn to_f64(self) -> f64 {
        self.numer() as f64 / self.denom() as f64
    }
}

impl fmt::Display for Beats {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.is_whole() {
            write!(f, "{}", self.numer())
        } else {
            write!(f, "{}/{}", self.numer(), self.denom())
        }
    }
}

impl fmt::Debug for Beats {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl FromStr for Beats {
    type Err = BeatsError;

    /// Reads `2`, `3/2` or `0.5`; terms up to a million, sign allowed.
    fn from_str(text: &str) -> Result<Self, BeatsError> {
        let bad = || BeatsError::NotANumber(text.chars().take(24).collect());
        let term = |t: &str| -> Result<i64, BeatsError> {
            let digits = t.strip_prefix('-').unwrap_or(t);
            if digits.is_empty() || !digits.bytes().all(|b| b.is_ascii_digit()) {
                return Err(bad());
            }
            let value: i64 = t.parse().map_err(|_| bad())?;
            if value.abs() > MAX_TERM {
                Err(bad())
            } else {
                Ok(value)
            }
        };
        if let Some((n, d)) = text.split_once('/') {
            let (n, d) = (term(n)?, term(d)?);
            return if d <= 0 {
                Err(bad())
            } else {
                Ok(Beats::new(n, d))
            };
        }
        if let Some((whole, frac)) = text.split_once('.') {
            if frac.is_empty() || frac.len() > 6 || frac.starts_with('-') {
                return Err(bad());
            }
            let scale = 10_i64.pow(frac.len() as u32);
            let whole_part = term(whole)?;
            let frac_part = term(frac)?;
            let sign = if whole.starts_with('-') { -1 } else { 1 };
            let numer = whole_part.abs() * scale + frac_part;
            return Ok(Beats::new(sign * numer, scale));
        }
        Ok(Beats::whole(term(text)?))
    }
}
