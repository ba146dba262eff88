//! Cells: a beat or two of strokes with a letter.

use super::{Fit, Grid, RefitError, Stroke, Subdivision};
use std::fmt;

/// What happens on one slot of a grid: nothing, one stroke, or several at once.
pub type Slot = Vec<Stroke>;

/// The letter of a cell: one capital, up to two digits, up to eight primes
/// (`A`, `B2`, `C''`).
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Letter(String);

impl Letter {
    /// Most primes a letter carries.
    pub const MAX_PRIMES: usize = 8;

    /// Reads a letter; the typographic primes ′ and ″ count as one and two.
    pub fn new(text: &str) -> Option<Letter> {
        let plain = text.replace('″', "''").replace(['′', '’'], "'");
        let mut rest = plain.strip_prefix(|c: char| c.is_ascii_uppercase())?;
        let after_digits = rest.trim_start_matches(|c: char| c.is_ascii_digit());
        if rest.len() - after_digits.len() > 2 {
            return None;
        }
        rest = after_digits;
        let ok = rest.len() <= Letter::MAX_PRIMES && rest.bytes().all(|b| b == b'\'');
        ok.then_some(Letter(plain))
    }

    /// The letter as written in a score file.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Number of primes.
    pub fn primes(&self) -> usize {
        self.0.bytes().filter(|b| *b == b'\'').count()
    }

    /// The letter with one prime more, if it may carry one.
    pub fn primed(&self) -> Option<Letter> {
        Letter::new(&format!("{}'", self.0))
    }
}

impl fmt::Display for Letter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A cell with everything it takes from its parents filled in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cell {
    /// Its letter.
    pub letter: Letter,
    /// Its grid.
    pub grid: Grid,
    /// One entry per slot of the grid.
    pub slots: Vec<Slot>,
}

impl Cell {
    /// The cell on another subdivision.
    ///
    /// [`Fit::Refit`] keeps the length: where the new grid has more slots the
    /// strokes start over from the first, where it has fewer the last ones are
    /// left out, so the opening figure always stays. [`Fit::Carry`] keeps the
    /// strokes, and the length follows from the new slots. Onto the grid the
    /// cell already has, both are the identity.
    ///
    /// # Errors
    /// See [`RefitError`]; `Carry` fails only on overflow.
    pub fn on(&self, subdivision: &Subdivision, fit: Fit) -> Result<Cell, RefitError> {
        let pattern = &subdivision.0;
        let grid = match fit {
            Fit::Refit => pattern.tile_to_length(self.grid.length()?)?,
            Fit::Carry => pattern.tile_to_slots(self.slots.len())?,
        };
        let slots = self.slots.iter().cycle().take(grid.slot_count()).cloned().collect();
        Ok(Cell { letter: self.letter.clone(), grid, slots })
    }
}
