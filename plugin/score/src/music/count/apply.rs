//! Applying a tradition to a grid in its bar.
//!
//! Words stand for places in the beat. Spans of equal slots in a row are one
//! run; a run takes the words of the coarsest division that all its slots fall
//! on. Whatever could be mistaken is counted by number and fraction instead.

use super::tradition::{Tradition, Word};
use crate::music::{Beats, BeatsError, Grid, MAX_SLOTS_PER_SPAN, Meter};
use num_integer::Integer;

/// What is counted on one slot.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Count {
    /// What is said; empty where nothing is.
    pub text: String,
    /// What it is.
    pub kind: CountKind,
}

/// What a count is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum CountKind {
    /// The number of the counted unit.
    Number,
    /// A word of the tradition.
    Word,
    /// Nothing is said here.
    Silent,
    /// Number and fraction: the tradition has no word, or none that is clear.
    Exact,
}

/// Which unit gets a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum CountBy {
    /// The meter's lower number: quarters in 4/4, eighths in 12/8.
    #[default]
    Units,
    /// The felt pulse: dotted quarters in 12/8; as `Units` in simple meters.
    Pulses,
}

/// One slot where it stands.
struct Place {
    /// Which counted unit, from the bar line the grid's bar starts at.
    unit: i64,
    /// The unit's number in its bar, from 1.
    number: i64,
    /// Fraction of the unit, `0 .. 1`.
    rest: Beats,
    /// Its run.
    run: usize,
}

/// A run of equal slots.
struct Run {
    /// Length of a slot in units.
    step: Beats,
    /// Least common denominator of its slots' fractions; `None` above 64.
    division: Option<u8>,
}

impl Tradition {
    /// What is counted on each slot of a grid that starts `from_bar_line`
    /// beats into a bar of `meter`.
    ///
    /// Two slots of one beat share a text only where the tradition itself says
    /// a word twice and the division is spelt slot by slot. Counts of
    /// [`CountKind::Exact`] are unique in their bar.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if the exact positions do not fit.
    pub fn count(
        &self,
        grid: &Grid,
        from_bar_line: Beats,
        meter: Meter,
        by: CountBy,
    ) -> Result<Vec<Count>, BeatsError> {
        let unit = match by {
            CountBy::Units => Beats::new(4, i64::from(meter.unit())),
            CountBy::Pulses => meter.pulse(),
        };
        let pulse = by == CountBy::Pulses && meter.is_compound();
        let (places, runs) = place(grid, from_bar_line, meter.bar(), unit)?;
        let mut counts = Vec::with_capacity(places.len());
        for beat in places.chunk_by(|a, b| a.unit == b.unit) {
            counts.extend(self.count_beat(beat, &runs, pulse));
        }
        Ok(counts)
    }

    /// The counts of the slots that fall in one unit.
    fn count_beat(&self, beat: &[Place], runs: &[Run], pulse: bool) -> Vec<Count> {
        let mut counts = Vec::with_capacity(beat.len());
        for part in beat.chunk_by(|a, b| a.run == b.run) {
            let run = part.first().and_then(|place| runs.get(place.run));
            let spelt = run.and_then(|run| {
                let n = run.division?;
                let whole = run.step == Beats::new(1, i64::from(n));
                self.spell(part, n, pulse, whole)
            });
            counts.extend(spelt.unwrap_or_else(|| exact(part)));
        }
        if !clash(beat, &counts) {
            return counts;
        }
        // Words of two divisions meet in one beat and could be confused: one
        // division for both, else none.
        let division = common_division(beat.iter().map(|place| place.rest));
        let spelt = division.and_then(|n| self.spell(beat, n, pulse, false));
        spelt.unwrap_or_else(|| exact(beat))
    }

    /// The words of a division in `n` at the given places of one unit; `None`
    /// where there are none, or where they could be mistaken. `in_a_row` says
    /// that the slots are that very division, so that neighbours tell words
    /// that are said twice apart.
    fn spell(&self, part: &[Place], n: u8, pulse: bool, in_a_row: bool) -> Option<Vec<Count>> {
        let words = self.words(n, pulse)?;
        let whole_beat = in_a_row && part.len() == words.len();
        part.iter()
            .map(|place| {
                let at = place.rest.checked_mul(Beats::whole(i64::from(n))).ok()?;
                let word = words.get(usize::try_from(at.numer()).ok()?)?;
                let once = || words.iter().filter(|other| *other == word).count() == 1;
                match word {
                    Word::Number => Some(number(place)),
                    Word::Silent => Some(Count {
                        text: String::new(),
                        kind: CountKind::Silent,
                    }),
                    Word::Say(_) if word.is_figure() && !whole_beat => None,
                    Word::Say(_) if !in_a_row && !once() => None,
                    Word::Say(text) => Some(Count {
                        text: text.clone(),
                        kind: CountKind::Word,
                    }),
                }
            })
            .collect()
    }
}

/// Places and runs of a grid's slots.
fn place(
    grid: &Grid,
    from_bar_line: Beats,
    bar: Beats,
    unit: Beats,
) -> Result<(Vec<Place>, Vec<Run>), BeatsError> {
    let mut places: Vec<Place> = Vec::with_capacity(grid.slot_count());
    let mut runs: Vec<Run> = Vec::new();
    let mut bounds = grid.slot_bounds()?.into_iter();
    for span in grid.spans() {
        let step = span.slot_length()?.checked_div(unit)?;
        if runs.last().is_none_or(|run| run.step != step) {
            runs.push(Run {
                step,
                division: None,
            });
        }
        for start in bounds.by_ref().take(usize::from(span.slots)) {
            let at = from_bar_line.checked_add(start)?;
            let in_bar = at.checked_rem(bar)?.checked_div(unit)?;
            places.push(Place {
                unit: at.checked_div(unit)?.floor(),
                number: in_bar.floor() + 1,
                rest: in_bar.checked_sub(Beats::whole(in_bar.floor()))?,
                run: runs.len() - 1,
            });
        }
    }
    for part in places.chunk_by(|a, b| a.run == b.run) {
        if let Some(run) = part.first().and_then(|place| runs.get_mut(place.run)) {
            run.division = common_division(part.iter().map(|place| place.rest));
        }
    }
    Ok((places, runs))
}

/// The coarsest division of a unit on which all the fractions fall, up to 64.
fn common_division(fractions: impl Iterator<Item = Beats>) -> Option<u8> {
    let most = i64::from(MAX_SLOTS_PER_SPAN);
    let mut division = 1_i64;
    for fraction in fractions {
        if fraction.denom() > most {
            return None;
        }
        // Both at most 64: the product fits.
        division = division.lcm(&fraction.denom());
        if division > most {
            return None;
        }
    }
    u8::try_from(division).ok()
}

/// Whether two places of a beat share a text without being neighbours in one
/// run.
fn clash(beat: &[Place], counts: &[Count]) -> bool {
    let pairs = || beat.iter().zip(counts);
    pairs().enumerate().any(|(i, (place, count))| {
        !count.text.is_empty()
            && pairs().skip(i + 1).any(|(other, same)| {
                same.text == count.text && other.rest != place.rest && other.run != place.run
            })
    })
}

fn number(place: &Place) -> Count {
    Count {
        text: place.number.to_string(),
        kind: CountKind::Number,
    }
}

/// Number and fraction of each place.
fn exact(part: &[Place]) -> Vec<Count> {
    part.iter()
        .map(|place| {
            if place.rest.is_zero() {
                return number(place);
            }
            let text = format!("{}+{}", place.number, place.rest);
            Count {
                text,
                kind: CountKind::Exact,
            }
        })
        .collect()
}
