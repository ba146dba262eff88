//! Cells: a beat or two of strokes with a letter.

use super::{Grid, Stroke};
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

/// A cell with everything it takes from its parents filled in. What moves it to
/// another subdivision is a drummer's knowledge: `craft::refit`, `craft::carry`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cell {
    /// Its letter.
    pub letter: Letter,
    /// Its grid.
    pub grid: Grid,
    /// One entry per slot of the grid.
    pub slots: Vec<Slot>,
}
