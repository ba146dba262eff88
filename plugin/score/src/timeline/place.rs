//! Where things stand in a compiled form.

use crate::music::{Beats, BeatsError, Cell, Meter, count_syllables};
use crate::score::Rate;

use super::Timeline;

/// One cell standing in the form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// Start from the start of the form.
    pub start: Beats,
    /// Length as played, rate included.
    pub length: Beats,
    /// Letter, as an index into [`Timeline::letters`].
    pub letter: u32,
    /// Section, as an index into [`Timeline::sections`].
    pub section: u32,
    /// Item of that section's form it comes from, groups counted before their
    /// content; see [`ItemPath::of`](crate::score::edit::ItemPath::of).
    pub item: u32,
    /// Cell as played, as an index into [`Timeline::variants`].
    pub variant: u32,
    /// Speed against the cell as written; the product of all rates above it.
    pub rate: Beats,
    /// Index of its first stroke in the form lane's main track.
    pub first_stroke: u32,
}

/// One bar of the form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bar {
    /// Its bar line, from the start of the form.
    pub start: Beats,
    /// Its meter.
    pub meter: Meter,
    /// Number as printed: the first full bar is 1, a pickup bar 0.
    pub number: u32,
}

/// Where a section begins.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SectionStart {
    /// Its name; may be empty.
    pub name: String,
    /// Start from the start of the form.
    pub start: Beats,
    /// Its meter.
    pub meter: Meter,
}

impl Timeline {
    /// Counts of each slot of a place, where it stands in its bar. At a rate
    /// other than 1 the grid is counted as it sounds.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if the exact positions do not fit.
    pub fn counts(&self, place: &Place) -> Result<Vec<String>, BeatsError> {
        let bar = self
            .bars
            .partition_point(|b| b.start <= place.start)
            .checked_sub(1)
            .map(|i| self.bars[i]);
        let Some(bar) = bar else {
            return Ok(Vec::new());
        };
        // A pickup bar is counted as the end of a full one.
        let missing = if bar.number == 0 {
            bar.meter.bar().checked_sub(self.pickup)?
        } else {
            Beats::ZERO
        };
        let from = place.start.checked_sub(bar.start)?.checked_add(missing)?;
        let cell = self.cell_of(place);
        if place.rate == Rate::Normal.factor() {
            return count_syllables(&cell.grid, from, bar.meter);
        }
        count_syllables(&at_rate(cell, place.rate)?, from, bar.meter)
    }
}

/// The grid as it sounds at a rate.
fn at_rate(cell: &Cell, rate: Beats) -> Result<crate::music::Grid, BeatsError> {
    let mut spans = cell.grid.spans().to_vec();
    for span in &mut spans {
        span.length = span.length.checked_div(rate)?;
    }
    crate::music::Grid::new(spans).ok_or(BeatsError::Overflow)
}
