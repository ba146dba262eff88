//! A cell on another subdivision, as the whole program asks for it.

use crate::music::{Cell, Fit, RefitError, Subdivision};

impl Cell {
    /// The cell on another subdivision.
    ///
    /// [`Fit::Refit`] keeps the length and what the cell is known by; see
    /// [`crate::refit`]. [`Fit::Carry`] keeps the strokes, and the length
    /// follows from the new slots. Onto the grid the
    /// cell already has, both are the identity.
    ///
    /// # Errors
    /// See [`RefitError`]; `Carry` fails only on overflow.
    pub fn on(&self, subdivision: &Subdivision, fit: Fit) -> Result<Cell, RefitError> {
        match fit {
            Fit::Refit => Ok(super::refit(self, subdivision)?.cell),
            Fit::Carry => {
                let grid = subdivision.0.tile_to_slots(self.slots.len())?;
                Ok(Cell {
                    letter: self.letter.clone(),
                    grid,
                    slots: self.slots.clone(),
                })
            }
        }
    }
}
