//! Sticking a cell.

use super::{Ask, Passage, Rules, Sticking, StickingError};
use crate::line::Line;
use barform_score::music::Cell;

/// The cell with the best hands for its open strokes, and the reasons.
///
/// `open` says of each stroke, by slot and by its number in the slot, whether
/// its hand is open; feet pass through untouched. Grace notes of open strokes
/// go to the hands that [`super::OpenStroke::graces_with`] gives them. With
/// `looped` the cell's end leads to its own start.
///
/// # Errors
/// See [`StickingError`].
pub fn stick_cell(
    cell: &Cell,
    open: impl Fn(usize, usize) -> bool,
    looped: bool,
    ask: &Ask,
    rules: &Rules,
) -> Result<(Cell, Sticking), StickingError> {
    let line = Line::from_cell(cell)?;
    // Strokes of a line stand slot by slot, in the order of their slots.
    let written: Vec<(usize, usize)> = (cell.slots.iter().enumerate())
        .flat_map(|(slot, strokes)| (0..strokes.len()).map(move |number| (slot, number)))
        .collect();
    let (mut passage, from) = Passage::of_line(&line, |i| {
        written
            .get(i)
            .is_some_and(|(slot, number)| open(*slot, *number))
    });
    if looped {
        passage = passage.looped_every(line.length);
    }
    let sticking = Sticking::best(&passage, ask, rules)?;
    let mut stuck = cell.clone();
    for ((stroke, hand), from) in passage.strokes.iter().zip(&sticking.hands).zip(from) {
        let (slot, number) = written[from];
        let target = &mut stuck.slots[slot][number];
        target.limb = (*hand).into();
        target.graces = stroke.graces_with(*hand);
    }
    Ok((stuck, sticking))
}
