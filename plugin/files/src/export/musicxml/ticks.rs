//! Divisions of a quarter note that make every time a whole number.

use super::MusicXmlError;
use barform_score::music::Beats;
use barform_sheet::{VoiceLine, Written, WrittenBar};
use num_integer::Integer;

/// Most divisions for a whole piece: a bar of 64 beats still fits the 32-bit
/// whole numbers that readers use.
const MOST_FOR_ALL: i64 = 1 << 24;

/// Most divisions in one bar: up to here whole numbers are exact as floating
/// point as well.
const MOST: i64 = 1 << 53;

/// Divisions of each bar: the same for all if that is small enough.
pub(super) struct Ticks(Vec<i64>);

impl Ticks {
    /// The least that are exact.
    pub fn of(written: &Written) -> Result<Ticks, MusicXmlError> {
        let mut bars = Vec::with_capacity(written.bars.len());
        for (i, bar) in written.bars.iter().enumerate() {
            let too_fine = MusicXmlError::TooFine {
                bar: i + 1,
                most: MOST,
            };
            bars.push(of_bar(bar).ok_or(too_fine)?);
        }
        let all = bars.iter().try_fold(1, |all, own| lcm(all, *own));
        if let Some(all) = all.filter(|all| *all <= MOST_FOR_ALL) {
            bars.fill(all);
        }
        Ok(Ticks(bars))
    }

    /// Divisions of a quarter note in a bar.
    pub fn divisions(&self, bar: usize) -> i64 {
        self.0[bar]
    }

    /// A time in divisions; whole, because the divisions were chosen for it.
    pub fn count(&self, bar: usize, time: Beats) -> Result<i64, MusicXmlError> {
        let ticks = time.checked_mul(Beats::whole(self.0[bar]))?;
        Ok(ticks.floor())
    }
}

fn lcm(a: i64, b: i64) -> Option<i64> {
    (a / a.gcd(&b)).checked_mul(b).filter(|n| *n <= MOST)
}

fn of_bar(bar: &WrittenBar) -> Option<i64> {
    let line = |line: &VoiceLine| -> Option<i64> {
        let mut all = 1;
        for element in &line.elements {
            all = lcm(all, element.at.denom())?;
            all = lcm(all, element.length.denom())?;
        }
        Some(all)
    };
    let mut all = lcm(line(&bar.hands)?, line(&bar.feet)?)?;
    all = lcm(all, bar.length.denom())?;
    for mark in &bar.marks {
        all = lcm(all, mark.at.denom())?;
    }
    // A bar of that many beats must still be a whole number that is exact.
    let ticks = bar.length.checked_mul(Beats::whole(all)).ok()?;
    (ticks <= Beats::whole(MOST)).then_some(all)
}
