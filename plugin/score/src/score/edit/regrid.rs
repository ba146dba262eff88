//! A cell's strokes on another grid, in one of four ways.

use crate::music::{Beats, BeatsError, Cell, Fit, Grid, RefitError, Slot, Subdivision};
use crate::score::error::{Fault, Mend, ScoreErrorKind as Kind, Spot};
use crate::score::limits::MAX_SLOTS;

/// What becomes of the strokes when a grid changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Way {
    /// They stay at their exact times where the new grid has that time; else
    /// they go to the nearest free slot that keeps their order, or are left out.
    /// Both are told.
    #[default]
    Time,
    /// They stay on their slots by number; those past the end are left out.
    Slot,
    /// The music is refit: the length stays, the new grid is repeated to fill it.
    Refit,
    /// The strokes are carried: all of them, one by one, on the new grid
    /// repeated as far as they go, so that the length changes.
    Carry,
}

/// The cell on another grid. What was moved or left out is told, slots counted
/// from 1 after `first`.
pub(super) fn regrid(
    cell: &Cell,
    grid: &Grid,
    way: Way,
    first: usize,
    spot: Spot,
    told: &mut Vec<String>,
) -> Result<Cell, Fault> {
    let overflow = |_: BeatsError| {
        let what = format!("the grid of cell {}", cell.letter);
        Fault::new(spot, Kind::Overflow { what })
    };
    let slots = match way {
        Way::Refit | Way::Carry => return fitted(cell, grid, way, spot),
        Way::Slot => by_number(cell, grid, first, told),
        Way::Time => by_time(cell, grid, first, told).map_err(overflow)?,
    };
    Ok(Cell {
        letter: cell.letter.clone(),
        grid: grid.clone(),
        slots,
    })
}

fn fitted(cell: &Cell, grid: &Grid, way: Way, spot: Spot) -> Result<Cell, Fault> {
    let length = cell.grid.length().unwrap_or(Beats::ZERO);
    let subdivision = Subdivision(grid.clone());
    let refused = |why: String, mend: Option<&str>| {
        let kind = Kind::Refit {
            letter: cell.letter.clone(),
            length,
            subdivision: subdivision.to_string(),
            why,
            mend: Mend(mend.map(str::to_owned)),
        };
        Fault::new(spot, kind)
    };
    let overflow = || refused("lengths too fine to add up".into(), None);
    if way == Way::Refit {
        // Before the slots are made.
        let times = grid.length().and_then(|p| length.checked_div(p));
        let times = times.map_err(|_| overflow())?.floor().unsigned_abs();
        if times.saturating_mul(grid.slot_count() as u64) > MAX_SLOTS as u64 {
            return Err(refused(format!("more than {MAX_SLOTS} slots"), None));
        }
    }
    let fit = if way == Way::Refit {
        Fit::Refit
    } else {
        Fit::Carry
    };
    cell.on(&subdivision, fit).map_err(|why| match why {
        RefitError::NoWholeSlots { .. } => {
            let mend = "carry it, or keep strokes at their times";
            refused("no whole number of slots".into(), Some(mend))
        }
        RefitError::Beats(_) => overflow(),
    })
}

fn by_number(cell: &Cell, grid: &Grid, first: usize, told: &mut Vec<String>) -> Vec<Slot> {
    let mut slots = cell.slots.clone();
    let count = grid.slot_count();
    let lost = slots.iter().enumerate().skip(count);
    for (i, _) in lost.filter(|(_, slot)| !slot.is_empty()) {
        told.push(left_out(first + i, "past the end"));
    }
    slots.resize(count, Slot::new());
    slots
}

fn left_out(slot: usize, why: &str) -> String {
    format!("the stroke on slot {} is left out: {why}", slot + 1)
}

fn by_time(
    cell: &Cell,
    grid: &Grid,
    first: usize,
    told: &mut Vec<String>,
) -> Result<Vec<Slot>, BeatsError> {
    let (old, new) = (cell.grid.slot_bounds()?, grid.slot_bounds()?);
    let count = grid.slot_count();
    let end = new.get(count).copied().unwrap_or(Beats::ZERO);
    // For every slot of the new grid, the old one whose strokes it has.
    let mut taken: Vec<Option<usize>> = vec![None; count];
    let mut left: Vec<usize> = Vec::new();
    let played = cell.slots.iter().enumerate().filter(|(_, s)| !s.is_empty());
    for (i, _) in played {
        match new[..count].binary_search(&old[i]) {
            Ok(to) => taken[to] = Some(i),
            Err(_) => left.push(i),
        }
    }
    for i in left {
        if old[i] >= end {
            told.push(left_out(first + i, "past the end"));
            continue;
        }
        // Between the strokes before and after it.
        let from = taken.iter().rposition(|t| t.is_some_and(|t| t < i));
        let to = taken.iter().position(|t| t.is_some_and(|t| t > i));
        let mut best: Option<(Beats, usize)> = None;
        let free = from.map_or(0, |f| f + 1)..to.unwrap_or(count);
        for (slot, start) in free.clone().zip(&new[free]) {
            let apart = start.checked_sub(old[i])?;
            let apart = apart.max(Beats::ZERO.checked_sub(apart)?);
            if best.is_none_or(|(least, _)| apart < least) {
                best = Some((apart, slot));
            }
        }
        match best {
            Some((_, slot)) => {
                taken[slot] = Some(i);
                let (was, now) = (first + i + 1, first + slot + 1);
                told.push(format!("the stroke on slot {was} goes to slot {now}"));
            }
            None => told.push(left_out(first + i, "no slot is free for it")),
        }
    }
    let slots = taken.into_iter();
    Ok(slots
        .map(|from| from.map_or(Slot::new(), |i| cell.slots[i].clone()))
        .collect())
}
