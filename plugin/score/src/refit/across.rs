//! A subdivision that runs on across cell joins: `4 4 6 6` over a section puts
//! sixteenths under two beats and sixteenth-triplets under the next two, whatever
//! cells stand there.

use super::{RefitRules, Refitted, onto};
use crate::music::{Beats, Cell, Grid, RefitError, Span, Subdivision};

/// The part of a pattern, repeated without end, that begins `from` beats into
/// it and is `length` beats long.
///
/// # Errors
/// [`RefitError::NoWholeSlots`] if it does not begin and end on a slot, or
/// `from` is negative or `length` not positive; [`RefitError::Beats`] if the
/// exact positions do not fit.
pub fn window(pattern: &Grid, from: Beats, length: Beats) -> Result<Grid, RefitError> {
    let refuse = || RefitError::NoWholeSlots {
        length,
        grid: pattern.clone(),
    };
    if from < Beats::ZERO || !length.is_positive() {
        return Err(refuse());
    }
    let mut into = from.checked_rem(pattern.length()?)?;
    let mut left = length;
    let mut spans = Vec::new();
    for span in pattern.spans().iter().cycle() {
        if into >= span.length {
            into = into.checked_sub(span.length)?;
            continue;
        }
        let take = span.length.checked_sub(into)?.min(left);
        let slot = span.slot_length()?;
        let (start, slots) = (into.checked_div(slot)?, take.checked_div(slot)?);
        if !start.is_whole() || !slots.is_whole() {
            return Err(refuse());
        }
        // At most the span's own number, so it fits.
        let slots = u8::try_from(slots.numer()).map_err(|_| refuse())?;
        spans.push(Span::new(slots, take).ok_or_else(refuse)?);
        left = left.checked_sub(take)?;
        into = Beats::ZERO;
        if left.is_zero() {
            break;
        }
    }
    Grid::new(spans).ok_or_else(refuse)
}

/// The cells, played one after the other from `from` beats into the pattern,
/// each refit to the part of it that it stands on. The lengths stay, so the
/// joins stay where they are.
///
/// # Errors
/// As [`window`], for the first cell that does not begin and end on a slot of
/// the pattern.
pub fn refit_across(
    rules: &RefitRules,
    cells: &[Cell],
    pattern: &Subdivision,
    from: Beats,
) -> Result<Vec<Refitted>, RefitError> {
    let mut at = from;
    let mut refitted = Vec::with_capacity(cells.len());
    for cell in cells {
        let length = cell.grid.length()?;
        refitted.push(onto(rules, cell, window(&pattern.0, at, length)?)?);
        at = at.checked_add(length)?;
    }
    Ok(refitted)
}
