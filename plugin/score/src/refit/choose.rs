//! Which slot of the cell each new slot takes: the cheapest way, stretch by
//! stretch.

mod coarser;
mod finer;
mod view;

use super::{RefitRules, Stretch};
use crate::music::{BeatsError, Cell, Grid};
use view::View;

/// What a new slot takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Pick {
    /// Slot of the cell; `None` where nothing is played so that the stroke
    /// before is left to sound.
    pub from: Option<usize>,
    /// How it follows the new slot before.
    pub how: How,
}

/// How a new slot follows the one before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum How {
    /// As in the cell: the next slot, or the first of a stretch.
    Next,
    /// Slots are left out before it.
    Skips,
    /// The same slot once more.
    Stays,
    /// Back to an earlier slot.
    Back,
    /// Going on after one of the two above, within what is played again.
    Again,
    /// Nothing is played.
    Rests,
}

/// What each slot of `to` takes of the cell. The first `opening` slots stay.
pub(super) fn choose(
    rules: &RefitRules,
    cell: &Cell,
    to: &Grid,
    stretches: &[Stretch],
    opening: usize,
) -> Result<Vec<Pick>, BeatsError> {
    let (source, target) = (cell.grid.slot_bounds()?, to.slot_bounds()?);
    let mut picks = Vec::with_capacity(to.slot_count());
    for (number, stretch) in stretches.iter().enumerate() {
        let first = stretch.source.start;
        let next = |i: usize| Pick {
            from: Some(first + i),
            how: How::Next,
        };
        if stretch.alike {
            picks.extend((0..stretch.source.len()).map(next));
            continue;
        }
        // On a beat that both grids have, what is played there stays.
        let keep = if number == 0 { opening.max(1) } else { 1 };
        let view = View::new(rules, cell, stretch, &source, &target, keep)?;
        let found = if view.new >= view.old {
            finer::fill(&view)
        } else {
            coarser::fill(&view)
        };
        picks.extend(found.into_iter().map(|p| Pick {
            from: p.from.map(|i| first + i),
            ..p
        }));
    }
    Ok(picks)
}
