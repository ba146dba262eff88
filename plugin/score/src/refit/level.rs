//! How hard a cell is to play, place by place: the measure a refit is held to.
//!
//! A *row* of a limb is a number of its strokes on slots side by side. In the
//! cell as it is, two strokes also stand in a row if only rests lie between
//! them and they are no farther apart in time than the shortest new slot of the
//! stretch: eighths written on a sixteenth grid are in a row once the grid is
//! eighths.
//!
//! In each stretch, a limb may play as many strokes in a row as the longest row
//! of the cell that reaches into that stretch has, and one where it has none.
//! That is *the level of the cell*. At every new slot the row that ends there
//! is held to the level of the stretch the slot is in, so a row that crosses a
//! beat is held to both. What the subdivision itself forces, the same row at a
//! faster grid, is allowed; a longer row is not. A row of [`ENDLESS`] strokes or
//! more is a limb that never rests: it may go on.

use super::Stretch;
use crate::music::{Beats, BeatsError, Cell, Grid, Limb};

/// From so many strokes on, a row counts as without end.
pub const ENDLESS: usize = 32;

/// The level of a cell in every stretch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Levels {
    /// Per stretch, per limb in the order of [`Limb::ALL`]: most strokes in a
    /// row, at least 1.
    most: Vec<[usize; 4]>,
    /// Per stretch and limb: longest row on slots side by side.
    side_by_side: Vec<[usize; 4]>,
    /// Per stretch: whether the new slots are shorter than the cell's.
    finer: Vec<bool>,
}

impl Levels {
    /// The level of `cell` in each of the stretches on its way to `to`.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if the exact positions do not fit.
    pub fn new(cell: &Cell, to: &Grid, stretches: &[Stretch]) -> Result<Levels, BeatsError> {
        let (source, target) = (cell.grid.slot_bounds()?, to.slot_bounds()?);
        let mut levels = Levels {
            most: Vec::new(),
            side_by_side: Vec::new(),
            finer: Vec::new(),
        };
        // Rows depend on the shortest new slot only; few values are distinct.
        let mut known: Vec<(Beats, [Vec<Row>; 4])> = Vec::new();
        let side_by_side = all_rows(cell, &source, Beats::ZERO);
        for stretch in stretches {
            let new = shortest(&target[stretch.target.start..=stretch.target.end])?;
            let old = shortest(&source[stretch.source.start..=stretch.source.end])?;
            if !known.iter().any(|(slot, _)| *slot == new) {
                known.push((new, all_rows(cell, &source, new)));
            }
            let rows = known
                .iter()
                .find(|(slot, _)| *slot == new)
                .map(|(_, rows)| rows);
            let rows = rows.unwrap_or(&side_by_side);
            levels.most.push(longest(rows, stretch).map(|n| n.max(1)));
            levels.side_by_side.push(longest(&side_by_side, stretch));
            levels.finer.push(new < old);
        }
        Ok(levels)
    }

    /// Most strokes of a limb in a row, in a stretch; [`usize::MAX`] where its
    /// rows have no end.
    pub fn most(&self, stretch: usize, limb: Limb) -> usize {
        let most = self.most.get(stretch).map_or(1, |most| most[index(limb)]);
        if most < ENDLESS { most } else { usize::MAX }
    }

    /// Whether a limb plays at least `alone` strokes side by side in the cell
    /// there, and the new slots are shorter.
    pub(super) fn hurries(&self, stretch: usize, limb: Limb, alone: usize) -> bool {
        let rows = self
            .side_by_side
            .get(stretch)
            .map_or(0, |rows| rows[index(limb)]);
        rows >= alone && self.finer.get(stretch).copied().unwrap_or(false)
    }
}

/// First and last slot of a row and its number of strokes.
type Row = (usize, usize, usize);

pub(super) fn index(limb: Limb) -> usize {
    Limb::ALL.iter().position(|l| *l == limb).unwrap_or(0)
}

fn shortest(bounds: &[Beats]) -> Result<Beats, BeatsError> {
    let mut least = None;
    for pair in bounds.windows(2) {
        let slot = pair[1].checked_sub(pair[0])?;
        least = Some(least.map_or(slot, |l: Beats| l.min(slot)));
    }
    Ok(least.unwrap_or(Beats::ZERO))
}

fn all_rows(cell: &Cell, bounds: &[Beats], apart: Beats) -> [Vec<Row>; 4] {
    Limb::ALL.map(|limb| rows(cell, bounds, limb, apart))
}

/// The rows of a limb, strokes up to `apart` beats from each other included.
fn rows(cell: &Cell, bounds: &[Beats], limb: Limb, apart: Beats) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    for (i, slot) in cell.slots.iter().enumerate() {
        if !slot.iter().any(|s| s.limb == limb) {
            continue;
        }
        if let Some((_, last, count)) = rows.last_mut() {
            let rests = cell.slots[*last + 1..i].iter().all(Vec::is_empty);
            let near = bounds[i]
                .checked_sub(bounds[*last])
                .is_ok_and(|gap| gap <= apart);
            if *last + 1 == i || (rests && near) {
                (*last, *count) = (i, *count + 1);
                continue;
            }
        }
        rows.push((i, i, 1));
    }
    rows
}

fn longest(rows: &[Vec<Row>; 4], stretch: &Stretch) -> [usize; 4] {
    let slots = &stretch.source;
    [0, 1, 2, 3].map(|limb| {
        let reach = rows[limb]
            .iter()
            .filter(|(a, b, _)| *b >= slots.start && *a < slots.end);
        reach.map(|(.., count)| *count).max().unwrap_or(0)
    })
}
