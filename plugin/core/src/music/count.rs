//! Counting: the syllable a drummer says on each slot.

use super::{Beats, BeatsError, Grid, Meter};

/// Syllables after the number for an even division of one counted unit, the
/// American way ("1 e & a", "1 trip let", "1 ta la & ta la"). Common practice,
/// no source.
const SYLLABLES: [(u8, &[&str]); 5] = [
    (1, &[""]),
    (2, &["", "&"]),
    (3, &["", "trip", "let"]),
    (4, &["", "e", "&", "a"]),
    (6, &["", "ta", "la", "&", "ta", "la"]),
];

/// What is counted on each slot of a grid that starts `from_bar_line` beats
/// into a bar of `meter`.
///
/// Numbers count the meter's units (quarters in 4/4, eighths in 7/8). Slots
/// that no counting tradition names get the unambiguous form `2+1/5`: a fifth
/// of a unit after 2.
///
/// # Errors
/// [`BeatsError::Overflow`] if the exact positions do not fit.
pub fn count_syllables(
    grid: &Grid,
    from_bar_line: Beats,
    meter: Meter,
) -> Result<Vec<String>, BeatsError> {
    let unit = Beats::new(4, i64::from(meter.unit()));
    let bar = meter.bar();
    let mut counts = Vec::with_capacity(grid.slot_count());
    let mut start = from_bar_line;
    for span in grid.spans() {
        let in_units = span.length.checked_div(unit)?;
        let per_unit = Beats::whole(i64::from(span.slots)).checked_div(in_units)?;
        let starts_on_unit = start.checked_rem(unit)?.is_zero();
        let table = SYLLABLES.iter().find(|(n, _)| {
            starts_on_unit && per_unit == Beats::whole(i64::from(*n))
        });
        let slot = span.slot_length()?;
        for i in 0..span.slots {
            let at = start.checked_add(slot.checked_mul(Beats::whole(i64::from(i)))?)?;
            let at_units = at.checked_rem(bar)?.checked_div(unit)?;
            let number = at_units.floor() + 1;
            let rest = at_units.checked_sub(Beats::whole(at_units.floor()))?;
            counts.push(match table {
                _ if rest.is_zero() => number.to_string(),
                Some((n, words)) => words[usize::from(i % n)].to_owned(),
                None => format!("{number}+{rest}"),
            });
        }
        start = start.checked_add(span.length)?;
    }
    Ok(counts)
}
