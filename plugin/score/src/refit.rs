//! Refit: a cell on another subdivision, at the same length in beats.
//!
//! In: a cell, a grid or a pattern of one, and prices as data ([`RefitRules`]).
//! Out: the cell on that grid, and for every new slot where its strokes come
//! from and why ([`Choice`]). Never here: chance, floating point, a length that
//! changes (that is carrying it).
//!
//! What stays, first to last: the length; the opening figure; what is played on
//! a beat where both grids have a slot; on a finer grid every slot of the cell,
//! in order; on a coarser one accents, feet on beats and moves round the kit
//! before other strokes; a sticking no harder than the cell's own (see
//! [`level`]). Needs nothing above `music`, so that a score may build on it.

mod across;
mod choice;
mod choose;
pub mod level;
mod on;
mod opening;
mod rules;
mod sticking;
mod stretch;

pub use across::{refit_across, window};
pub use choice::{Choice, Why};
pub use opening::opening_figure;
pub use rules::{EMBEDDED_RULES, RefitRules, RefitRulesError};
pub use stretch::{Stretch, stretches};

use crate::music::{Cell, Grid, RefitError, Subdivision};

/// A refit cell and how it came about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refitted {
    /// The cell on its new grid, of the same length and letter.
    pub cell: Cell,
    /// One entry per new slot.
    pub choices: Vec<Choice>,
}

/// The cell on `subdivision`, by the built-in rules.
///
/// # Errors
/// [`RefitError::NoWholeSlots`] if the cell's length is no whole number of the
/// new slots; [`RefitError::Beats`] if the exact positions do not fit.
pub fn refit(cell: &Cell, subdivision: &Subdivision) -> Result<Refitted, RefitError> {
    refit_by(RefitRules::builtin(), cell, subdivision)
}

/// The cell on `subdivision`, by other rules.
///
/// # Errors
/// As [`refit`].
pub fn refit_by(
    rules: &RefitRules,
    cell: &Cell,
    subdivision: &Subdivision,
) -> Result<Refitted, RefitError> {
    onto(
        rules,
        cell,
        subdivision.0.tile_to_length(cell.grid.length()?)?,
    )
}

/// The cell on a grid of exactly its own length. A cell with fewer entries than
/// its grid has slots is read as resting on the others.
///
/// # Errors
/// [`RefitError::NoWholeSlots`] if `grid` has another length;
/// [`RefitError::Beats`] if the exact positions do not fit.
pub fn onto(rules: &RefitRules, cell: &Cell, grid: Grid) -> Result<Refitted, RefitError> {
    let length = cell.grid.length()?;
    if grid.length()? != length {
        return Err(RefitError::NoWholeSlots { length, grid });
    }
    let mut source = cell.clone();
    source.slots.resize(cell.grid.slot_count(), Vec::new());
    let stretches = stretches(&source.grid, &grid)?;
    let opening = opening_figure(&source, rules.figure.most_slots)?;
    // Below the slots of both first stretches, so that it lies in them.
    let opening = stretches
        .first()
        .map_or(0, |s| opening.min(s.target.len()).min(s.source.len()));
    let picks = choose::choose(rules, &source, &grid, &stretches, opening)?;
    let levels = level::Levels::new(&source, &grid, &stretches)?;
    let plan = sticking::settle(rules, &source, &stretches, &picks, &levels, opening);
    let choices = choice::explain(&source, &stretches, &picks, &plan, opening);
    let cell = Cell {
        letter: source.letter,
        grid,
        slots: plan.slots,
    };
    Ok(Refitted { cell, choices })
}
