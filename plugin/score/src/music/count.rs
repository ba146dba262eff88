//! Counting: the syllable a drummer says on each slot.
//!
//! In: a grid, where it starts in its bar, the meter, a tradition. Out: one
//! count per slot. The tables are data, `counting.toml`; this folder
//! knows what a table is and how to apply it. Never here: which tradition the
//! user picked (that is `craft::counting`).

mod apply;
mod tradition;

pub use apply::{Count, CountBy, CountKind};
pub use tradition::{CountTables, Tradition, WordsError};

use super::{Beats, BeatsError, Grid, Meter};
use std::sync::LazyLock;

/// The embedded tables.
pub const EMBEDDED_TABLES: &str = include_str!("counting.toml");

/// The embedded default tradition. Should the embedded file ever fail to read
/// (a test says it does not), everything is counted by number and fraction.
static DEFAULT: LazyLock<Tradition> = LazyLock::new(|| {
    let tables: CountTables = toml_edit::de::from_str(EMBEDDED_TABLES).unwrap_or_default();
    tables.tradition(tables.default_name()).unwrap_or_default()
});

/// What is counted on each slot of a grid that starts `from_bar_line` beats
/// into a bar of `meter`, in the embedded default tradition.
///
/// Numbers count the meter's units (quarters in 4/4, eighths in 7/8). Slots
/// that the tradition does not name get the unambiguous form `2+1/13`: a
/// thirteenth of a unit after 2.
///
/// # Errors
/// [`BeatsError::Overflow`] if the exact positions do not fit.
pub fn count_syllables(
    grid: &Grid,
    from_bar_line: Beats,
    meter: Meter,
) -> Result<Vec<String>, BeatsError> {
    let counts = DEFAULT.count(grid, from_bar_line, meter, CountBy::Units)?;
    Ok(counts.into_iter().map(|count| count.text).collect())
}
