//! What is counted on each slot.

use super::AnswerError;
use crate::craft::counting::Counting;
use crate::music::{Beats, BeatsError, Cell, CountBy, Grid, Letter, Meter, Tradition};
use crate::timeline::{Place, Timeline};

/// The tradition of a name, or the usual one.
///
/// # Errors
/// [`AnswerError::Question`] for a name that is not known.
pub fn tradition<'c>(
    counting: &'c Counting,
    name: Option<&str>,
) -> Result<&'c Tradition, AnswerError> {
    let Some(name) = name else {
        return Ok(counting.default_tradition());
    };
    counting.tradition(name).ok_or_else(|| {
        let known: Vec<&str> = counting.traditions().map(Tradition::name).collect();
        AnswerError::Question(format!(
            "no tradition '{name}'; known are {}",
            known.join(", ")
        ))
    })
}

/// What is said on each slot of a cell that begins on a bar line.
///
/// # Errors
/// [`BeatsError`] if times do not fit.
pub fn cell_counts(
    tradition: &Tradition,
    cell: &Cell,
    meter: Meter,
    by: CountBy,
) -> Result<Vec<String>, BeatsError> {
    let counts = tradition.count(&cell.grid, Beats::ZERO, meter, by)?;
    Ok(counts.into_iter().map(|count| count.text).collect())
}

/// A letter of the form, counted where it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CountedPlace {
    /// Number of the bar it begins in.
    pub bar: u32,
    /// Beats from that bar line to its first slot; a pickup is the end of a full
    /// bar.
    pub from_bar_line: Beats,
    /// The letter.
    pub letter: Letter,
    /// What is said on each slot; empty where nothing is.
    pub counts: Vec<String>,
}

/// The whole form, counted.
///
/// # Errors
/// [`BeatsError`] if times do not fit.
pub fn form_counts(
    timeline: &Timeline,
    tradition: &Tradition,
    by: CountBy,
) -> Result<Vec<CountedPlace>, BeatsError> {
    let one = |place: &Place| {
        let (grid, from_bar_line, bar) = stands(timeline, place)?;
        let bar = timeline.bars[bar];
        let counts = tradition.count(&grid, from_bar_line, bar.meter, by)?;
        Ok(CountedPlace {
            bar: bar.number,
            from_bar_line,
            letter: timeline.letters[place.letter as usize].clone(),
            counts: counts.into_iter().map(|count| count.text).collect(),
        })
    };
    timeline.places.iter().map(one).collect()
}

/// The grid of a place as it sounds, where it begins in a full bar, and the
/// index of that bar.
fn stands(timeline: &Timeline, place: &Place) -> Result<(Grid, Beats, usize), BeatsError> {
    let after = timeline
        .bars
        .partition_point(|bar| bar.start <= place.start);
    let index = after.saturating_sub(1);
    let bar = timeline.bars.get(index).ok_or(BeatsError::Overflow)?;
    let mut spans = timeline.cell_of(place).grid.spans().to_vec();
    for span in &mut spans {
        span.length = span.length.checked_div(place.rate)?;
    }
    let grid = Grid::new(spans).ok_or(BeatsError::Overflow)?;
    let missing = match bar.number {
        0 => bar.meter.bar().checked_sub(timeline.pickup)?,
        _ => Beats::ZERO,
    };
    let from = place.start.checked_sub(bar.start)?.checked_add(missing)?;
    Ok((grid, from, index))
}
