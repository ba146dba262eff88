//! Numbers in rule sets: whole ones in a range, and exact decimals.
//!
//! In: a number as a rule set states it. Out: the same number, checked, or an
//! error with its key and what is allowed. Never here: what it means.

use super::rules::RuleError;
use serde::Deserialize;
use serde::de::{self, Visitor};
use std::fmt;
use std::ops::RangeInclusive;

/// An error about a dotted key of `text`, with what was read and allowed.
pub(super) fn not_allowed(
    text: &str,
    key: &str,
    read: impl fmt::Display,
    allowed: impl fmt::Display,
) -> RuleError {
    let path: Vec<String> = key.split('.').map(str::to_owned).collect();
    RuleError::at(text, &path, format!("is {read}; allowed is {allowed}"))
}

/// `value` of a dotted key of `text`, if it lies in `range`.
pub(super) fn ranged(
    text: &str,
    key: &str,
    value: i64,
    range: RangeInclusive<i64>,
) -> Result<(), RuleError> {
    if range.contains(&value) {
        return Ok(());
    }
    let allowed = format!("a whole number {} to {}", range.start(), range.end());
    Err(not_allowed(text, key, value, allowed))
}

/// A decimal number kept exactly, in thousandths.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Thousandths(pub i64);

impl fmt::Display for Thousandths {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = format!("{}.{:03}", self.0 / 1000, self.0 % 1000);
        f.write_str(text.trim_end_matches('0').trim_end_matches('.'))
    }
}

impl<'de> Deserialize<'de> for Thousandths {
    fn deserialize<D: de::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Decimal;
        impl Visitor<'_> for Decimal {
            type Value = Thousandths;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a number 0 to 1000000 with at most three decimals")
            }

            fn visit_i64<E: de::Error>(self, value: i64) -> Result<Thousandths, E> {
                if (0..=1_000_000).contains(&value) {
                    return Ok(Thousandths(value * 1000));
                }
                Err(E::invalid_value(de::Unexpected::Signed(value), &self))
            }

            fn visit_f64<E: de::Error>(self, value: f64) -> Result<Thousandths, E> {
                let scaled = value * 1000.0;
                // What a decimal loses in binary is far below a thousandth.
                let exact = (scaled - scaled.round()).abs() < 1e-6;
                if exact && (0.0..=1e9).contains(&scaled) {
                    return Ok(Thousandths(scaled.round() as i64));
                }
                Err(E::invalid_value(de::Unexpected::Float(value), &self))
            }
        }
        deserializer.deserialize_any(Decimal)
    }
}
