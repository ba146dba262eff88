//! One span of a cell's grid.

use super::Owner;
use super::found::Found;
use crate::music::{Cell, Grid, Span};
use crate::score::edit::refuse;
use crate::score::edit::regrid::{Way, regrid};
use crate::score::error::{Fault, Line};

/// No such span.
pub(super) fn no_span(span: usize, owner: &Owner, found: &Found) -> Fault {
    let problem = format!("{owner} has no span {}", span.saturating_add(1));
    let allowed = "allowed is a span of its grid";
    refuse(found.spot(Line::Grid), problem, allowed, None)
}

/// The slots of a span.
pub(super) fn spans(
    cell: &Cell,
    span: usize,
    owner: &Owner,
    found: &Found,
) -> Result<std::ops::Range<usize>, Fault> {
    let all = cell.grid.spans();
    let own = all.get(span).ok_or_else(|| no_span(span, owner, found))?;
    let start: usize = all[..span].iter().map(|s| usize::from(s.slots)).sum();
    Ok(start..start + usize::from(own.slots))
}

/// The cell with the span that has the slots `part` put on another.
pub(super) fn respan(
    cell: &Cell,
    part: &std::ops::Range<usize>,
    to: Span,
    way: Way,
    found: &Found,
    told: &mut Vec<String>,
) -> Result<Cell, Fault> {
    let mut all = cell.grid.spans().to_vec();
    let mut at = 0;
    let mut before = 0;
    while before < part.start {
        before += all.get(at).map_or(1, |s| usize::from(s.slots));
        at += 1;
    }
    let grid_of = |span: Span| Grid::new(vec![span]);
    let (Some(own), Some(grid)) = (all.get(at).copied().and_then(grid_of), grid_of(to)) else {
        return Ok(cell.clone());
    };
    let piece = Cell {
        letter: cell.letter.clone(),
        grid: own,
        slots: cell.slots[part.clone()].to_vec(),
    };
    let piece = regrid(&piece, &grid, way, part.start, found.spot(Line::Grid), told)?;
    all.splice(at..=at, piece.grid.spans().iter().copied());
    let mut slots = cell.slots.clone();
    slots.splice(part.clone(), piece.slots);
    Ok(Cell {
        letter: cell.letter.clone(),
        grid: Grid::new(all).unwrap_or_else(|| cell.grid.clone()),
        slots,
    })
}
