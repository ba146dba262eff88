//! Carry: a cell on another subdivision with all its strokes, so that its
//! length changes and it moves across the bar line.
//!
//! In: a cell, a subdivision, a meter. Out: the carried cell, when it meets the
//! bar line again ([`realign`]), and ways to close it on one ([`close()`]), best
//! first. Never here: other strokes or another order of them (that is
//! [`barform_score::refit`]).

mod close;

pub use close::{Close, CloseRules, CloseRulesError, TailFill, Way, close, close_by};

pub(crate) use close::cut;

use barform_score::music::{Beats, BeatsError, Cell, Fit, RefitError, Subdivision};

/// A carried cell beside what it was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Carried {
    /// The cell on its new grid: the same strokes, slot for slot.
    pub cell: Cell,
    /// Its length before, in beats.
    pub before: Beats,
    /// Its length now.
    pub after: Beats,
}

/// The cell carried to a subdivision. Carried back onto the grid it had, it is
/// the cell it was.
///
/// # Errors
/// [`RefitError::Beats`] if the exact lengths do not fit.
pub fn carry(cell: &Cell, subdivision: &Subdivision) -> Result<Carried, RefitError> {
    let carried = cell.on(subdivision, Fit::Carry)?;
    let (before, after) = (cell.grid.length()?, carried.grid.length()?);
    Ok(Carried {
        cell: carried,
        before,
        after,
    })
}

/// When something that is repeated is back at the place in the bar it began at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Realign {
    /// Repeats until then, at least 1.
    pub repeats: u64,
    /// Bars until then, at least 1.
    pub bars: u64,
    /// Beats until then: the least common multiple of its length and the bar's.
    pub beats: Beats,
}

/// When a cell of `length` beats, repeated over bars of `bar` beats, is back at
/// the place in the bar where it began.
///
/// # Errors
/// [`BeatsError::Overflow`] if one of them is not above zero or the exact
/// positions do not fit.
pub fn realign(length: Beats, bar: Beats) -> Result<Realign, BeatsError> {
    if !length.is_positive() || !bar.is_positive() {
        return Err(BeatsError::Overflow);
    }
    // In lowest terms, so the first common multiple.
    let share = length.checked_div(bar)?;
    Ok(Realign {
        repeats: share.denom().unsigned_abs(),
        bars: share.numer().unsigned_abs(),
        beats: length.checked_mul(Beats::whole(share.denom()))?,
    })
}
