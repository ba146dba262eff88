//! Meter: how many of which note value fill a bar.

use super::Beats;
use std::fmt;
use std::str::FromStr;

/// A time signature such as 4/4, 5/4, 7/8 or 12/8.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Meter {
    count: u8,
    unit: u8,
}

impl Meter {
    /// Common time.
    pub const FOUR_FOUR: Meter = Meter { count: 4, unit: 4 };

    /// `count` notes of value 1/`unit`. Allowed: 1..=64 over 1, 2, 4, 8, 16, 32
    /// or 64 (the Standard MIDI File stores the unit as a power of two).
    pub fn new(count: u8, unit: u8) -> Option<Meter> {
        let ok = (1..=64).contains(&count) && unit.is_power_of_two() && unit <= 64;
        ok.then_some(Meter { count, unit })
    }

    /// Upper number.
    pub fn count(self) -> u8 {
        self.count
    }

    /// Lower number.
    pub fn unit(self) -> u8 {
        self.unit
    }

    /// Length of a bar in quarter-note beats.
    pub fn bar(self) -> Beats {
        Beats::new(i64::from(self.count) * 4, i64::from(self.unit))
    }

    /// Whether the bar is felt in groups of three units (6/8, 9/8, 12/8 …).
    /// Common practice.
    pub fn is_compound(self) -> bool {
        self.unit >= 8 && self.count > 3 && self.count.is_multiple_of(3)
    }

    /// Length of one felt pulse in quarter-note beats: three units in a
    /// compound meter, one unit otherwise.
    pub fn pulse(self) -> Beats {
        let units = if self.is_compound() { 3 } else { 1 };
        Beats::new(4 * units, i64::from(self.unit))
    }
}

impl fmt::Display for Meter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.count, self.unit)
    }
}

impl FromStr for Meter {
    type Err = ();

    fn from_str(text: &str) -> Result<Meter, ()> {
        let (count, unit) = text.split_once('/').ok_or(())?;
        let count = count.trim().parse().map_err(|_| ())?;
        let unit = unit.trim().parse().map_err(|_| ())?;
        Meter::new(count, unit).ok_or(())
    }
}
