//! The cell after an edit of its strokes or its grid.

use super::found::Found;
use super::lines::{at, restuck};
use super::spans::{no_span, respan, spans};
use super::{CellEdit, Owner, slot_of};
use crate::music::{Cell, Grid, Level, MAX_SLOTS_PER_SPAN, Slot, Span};
use crate::score::edit::regrid::regrid;
use crate::score::edit::restate::Was;
use crate::score::edit::{refuse, slots};
use crate::score::error::{Fault, Line, ScoreError, Spot};
use crate::score::read_sticking;
use crate::score::resolve::count;

/// The cell after the edit.
pub(super) fn changed(
    owner: &Owner,
    edit: &CellEdit,
    found: &Found,
    was: &Was,
    told: &mut Vec<String>,
) -> Result<Cell, ScoreError> {
    if let CellEdit::Span { to: span, .. } | CellEdit::AddSpan { span, .. } = edit
        && Span::new(span.slots, span.length).is_none()
    {
        let problem = format!("a span of {} slots over {} beats", span.slots, span.length);
        let allowed = format!("allowed are 1 to {MAX_SLOTS_PER_SPAN} slots over more than 0 beats");
        return Err(refuse(found.spot(Line::Grid), problem, &allowed, None).into());
    }
    let mut cell = was.cell.clone();
    let length = cell.slots.len();
    let spot = found.spot(Line::Sticking);
    if let Some(slot) = slot_of(edit) {
        let Some(slot) = cell.slots.get_mut(slot) else {
            let problem = format!("{owner} has no slot {}", slot.saturating_add(1));
            let allowed = format!("allowed are 1 to {length}");
            return Err(refuse(spot, problem, &allowed, None).into());
        };
        on_slot(slot, edit, spot)?;
        return Ok(cell);
    }
    match edit {
        CellEdit::Sticking(text) => {
            let line = read_sticking(text).map_err(|e| at(e, spot))?;
            let name = format!("{owner}");
            if let Some(kind) = count(&name, "sticking", line.len(), &cell.grid) {
                return Err(Fault::new(spot, kind).into());
            }
            cell.slots = restuck(&line, &cell.slots);
        }
        CellEdit::Grid { grid, way } => {
            cell = regrid(&cell, grid, *way, 0, found.spot(Line::Grid), told)?;
        }
        CellEdit::Clear => cell.slots.iter_mut().for_each(Slot::clear),
        CellEdit::Rotate(by) => {
            let by = by.rem_euclid(i64::try_from(length).unwrap_or(i64::MAX).max(1));
            cell.slots.rotate_right(usize::try_from(by).unwrap_or(0));
        }
        CellEdit::Become(other) => {
            cell.grid = other.grid.clone();
            cell.slots = other.slots.clone();
            cell.slots.resize(cell.grid.slot_count(), Slot::new());
        }
        CellEdit::Span { span, to, way } => {
            let parts = spans(&cell, *span, owner, found)?;
            cell = respan(&cell, &parts, *to, *way, found, told)?;
        }
        CellEdit::AddSpan { at, span } => {
            let mut all = cell.grid.spans().to_vec();
            if *at > all.len() {
                return Err(no_span(*at, owner, found).into());
            }
            let slots_before: usize = all[..*at].iter().map(|s| usize::from(s.slots)).sum();
            let rests = vec![Slot::new(); usize::from(span.slots)];
            all.insert(*at, *span);
            cell.slots.splice(slots_before..slots_before, rests);
            cell.grid = Grid::new(all).unwrap_or(cell.grid);
        }
        CellEdit::RemoveSpan(at) => {
            let parts = spans(&cell, *at, owner, found)?;
            let mut all = cell.grid.spans().to_vec();
            all.remove(*at);
            let Some(grid) = Grid::new(all) else {
                let problem = format!("{owner} has one span only");
                let mend = Some("delete the cell instead".into());
                let allowed = "a grid has at least one";
                return Err(refuse(found.spot(Line::Grid), problem, allowed, mend).into());
            };
            cell.grid = grid;
            cell.slots.drain(parts);
        }
        // Those of one slot are done above, the voices line by its own way.
        _ => {}
    }
    Ok(cell)
}

fn on_slot(slot: &mut Slot, edit: &CellEdit, spot: Spot) -> Result<(), Fault> {
    match edit {
        CellEdit::Put { stroke, .. } => *slot = vec![*stroke],
        CellEdit::Add { stroke, .. } => slots::add(slot, *stroke),
        CellEdit::Remove { limb, .. } => slots::remove(slot, *limb),
        CellEdit::Accent { limb, .. } => slots::toggle(slot, *limb, Level::Accent, spot)?,
        CellEdit::Ghost { limb, .. } => slots::toggle(slot, *limb, Level::Ghost, spot)?,
        CellEdit::Ornament { limb, .. } => slots::cycle(slot, *limb, spot)?,
        CellEdit::Articulation {
            limb, articulation, ..
        } => slots::articulate(slot, *limb, *articulation, spot)?,
        CellEdit::Voice { limb, voice, .. } => slots::voice(slot, *limb, *voice, spot)?,
        CellEdit::SwapHand { .. } => slots::swap(slot, spot)?,
        _ => {}
    }
    Ok(())
}
