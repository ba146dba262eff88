//! Ways to close a repeated cell on a bar line.

use barform_score::music::{Beats, Cell, Grid, RefitError, Slot, Span};
use serde::Deserialize;
use std::fmt;
use std::sync::LazyLock;

/// Which ways are offered, and in what order. Read from TOML; the embedded file
/// `data/carry.toml` says what each value is for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CloseRules {
    /// Price of one bar, in beats cut off or added, `0 ..= 16`.
    pub beats_for_each_bar: Beats,
    /// Most bars until the bar line, `1 ..= 256`.
    pub most_bars: u32,
    /// Most ways offered, `1 ..= 100`.
    pub most_ways: u32,
}

/// Why a rule set is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CloseRulesError {
    /// Not TOML, an unknown key, a missing one or one of the wrong type.
    #[error("carry rules: {0}")]
    Unreadable(String),
    /// A value out of range.
    #[error("carry rules: {key} is {read}; allowed are {allowed}")]
    OutOfRange {
        /// The key.
        key: &'static str,
        /// What it says.
        read: String,
        /// What it may say.
        allowed: &'static str,
    },
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    beats_for_each_bar: String,
    most_bars: u32,
    most_ways: u32,
}

static BUILTIN: LazyLock<CloseRules> =
    LazyLock::new(
        || match CloseRules::from_toml(include_str!("../data/carry.toml")) {
            Ok(rules) => rules,
            Err(error) => unreachable!("embedded {error}"),
        },
    );

impl CloseRules {
    /// The rules that come with the program.
    pub fn builtin() -> &'static CloseRules {
        &BUILTIN
    }

    /// Reads a whole rule set, laid out as the embedded one.
    ///
    /// # Errors
    /// See [`CloseRulesError`].
    pub fn from_toml(text: &str) -> Result<CloseRules, CloseRulesError> {
        let file: File = toml_edit::de::from_str(text)
            .map_err(|e| CloseRulesError::Unreadable(e.to_string().trim().to_owned()))?;
        let range = |key, read: String, allowed| CloseRulesError::OutOfRange { key, read, allowed };
        let price = file.beats_for_each_bar.parse::<Beats>().ok();
        let price = price.filter(|p| (Beats::ZERO..=Beats::whole(16)).contains(p));
        let price = price.ok_or_else(|| {
            range(
                "beats_for_each_bar",
                file.beats_for_each_bar,
                "0 to 16 beats such as 1/4",
            )
        })?;
        if !(1..=256).contains(&file.most_bars) {
            return Err(range("most_bars", file.most_bars.to_string(), "1 to 256"));
        }
        if !(1..=100).contains(&file.most_ways) {
            return Err(range("most_ways", file.most_ways.to_string(), "1 to 100"));
        }
        Ok(CloseRules {
            beats_for_each_bar: price,
            most_bars: file.most_bars,
            most_ways: file.most_ways,
        })
    }
}

/// A way to end on a bar line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Close {
    /// What is done.
    pub way: Way,
    /// Bar lines passed until then, the last included, `1 ..`.
    pub bars: u64,
    /// Beats cut off or added.
    pub changed: Beats,
}

/// What is done to end on a bar line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Way {
    /// The cell is played so many times.
    Repeat {
        /// Times, `1 ..`.
        times: u64,
    },
    /// It is played whole so many times, then cut after so many slots.
    Cut {
        /// Whole times; may be 0.
        times: u64,
        /// Slots of the last time, fewer than the cell has.
        slots: usize,
    },
    /// It is played so many times, then a tail of so many beats is added.
    Tail {
        /// Times, `1 ..`.
        times: u64,
        /// Length of the tail.
        beats: Beats,
        /// Slots of the cell's own last slot length that fill it, if a whole
        /// number does: then it may have strokes.
        slots: Option<u8>,
    },
}

/// What an added tail plays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TailFill {
    /// Nothing.
    Rest,
    /// The cell's last slots once more, where a whole number of them fills it;
    /// else nothing.
    LastStrokes,
}

/// Ways to close a cell that begins `from` beats after a bar line and is
/// repeated over bars of `bar` beats, best first, by the built-in rules.
///
/// # Errors
/// [`RefitError::Beats`] if `bar` or the cell's length is not above zero, `from`
/// is negative, or the exact positions do not fit.
pub fn close(cell: &Cell, from: Beats, bar: Beats) -> Result<Vec<Close>, RefitError> {
    close_by(CloseRules::builtin(), cell, from, bar)
}

/// [`close`] by other rules.
///
/// # Errors
/// As [`close`].
pub fn close_by(
    rules: &CloseRules,
    cell: &Cell,
    from: Beats,
    bar: Beats,
) -> Result<Vec<Close>, RefitError> {
    let bounds = cell.grid.slot_bounds()?;
    let length = cell.grid.length()?;
    let cycle = super::realign(length, bar)?;
    let from = if from < Beats::ZERO {
        return Err(barform_score::music::BeatsError::Overflow.into());
    } else {
        from.checked_rem(bar)?
    };
    let last = cell
        .grid
        .spans()
        .last()
        .map(|s| s.slot_length())
        .transpose()?;
    let mut found = Vec::new();
    // After one cycle everything comes round again.
    let most = u64::from(rules.most_bars).min(cycle.bars.saturating_add(1));
    for bars in 1..=most {
        let room = bar
            .checked_mul(Beats::whole(bars as i64))?
            .checked_sub(from)?;
        let rest = room.checked_rem(length)?;
        let times = room
            .checked_sub(rest)?
            .checked_div(length)?
            .numer()
            .unsigned_abs();
        if rest.is_zero() {
            found.push(Close {
                way: Way::Repeat { times },
                bars,
                changed: Beats::ZERO,
            });
            continue;
        }
        if let Ok(slots) = bounds.binary_search(&rest) {
            let changed = length.checked_sub(rest)?;
            found.push(Close {
                way: Way::Cut { times, slots },
                bars,
                changed,
            });
        }
        if times > 0 {
            let slots = match last {
                Some(slot) => Some(rest.checked_div(slot)?),
                None => None,
            };
            let slots = slots
                .filter(|n| n.is_whole())
                .and_then(|n| u8::try_from(n.numer()).ok());
            let slots = slots.filter(|n| Span::new(*n, rest).is_some());
            let way = Way::Tail {
                times,
                beats: rest,
                slots,
            };
            found.push(Close {
                way,
                bars,
                changed: rest,
            });
        }
    }
    let mut priced = Vec::with_capacity(found.len());
    for way in found {
        let wait = rules
            .beats_for_each_bar
            .checked_mul(Beats::whole(way.bars as i64))?;
        priced.push((way.changed.checked_add(wait)?, way));
    }
    priced.sort_by_key(|(price, close)| (*price, close.way));
    priced.truncate(rules.most_ways as usize);
    Ok(priced.into_iter().map(|(_, close)| close).collect())
}

impl Close {
    /// What is played: the cell so many times, then the cut cell or the tail,
    /// under the cell's letter with one prime more where it may have one.
    ///
    /// # Errors
    /// [`RefitError::Beats`] if the exact lengths do not fit.
    pub fn cells(&self, cell: &Cell, fill: TailFill) -> Result<Vec<Cell>, RefitError> {
        let (times, end) = match self.way {
            Way::Repeat { times } => (times, None),
            Way::Cut { times, slots } => (times, Some(cut(cell, slots)?)),
            Way::Tail {
                times,
                beats,
                slots,
            } => {
                let strokes = slots.filter(|_| fill == TailFill::LastStrokes);
                let strokes = strokes.filter(|n| usize::from(*n) <= cell.slots.len());
                let last = strokes.map_or(&[] as &[Slot], |n| {
                    &cell.slots[cell.slots.len() - usize::from(n)..]
                });
                let span = Span::new(strokes.unwrap_or(1), beats);
                let grid = span.and_then(|span| Grid::new(vec![span]));
                let grid = grid.ok_or(barform_score::music::BeatsError::Overflow)?;
                let mut slots = last.to_vec();
                slots.resize(grid.slot_count(), Slot::new());
                let letter = cell.letter.primed().unwrap_or_else(|| cell.letter.clone());
                (
                    times,
                    Some(Cell {
                        letter,
                        grid,
                        slots,
                    }),
                )
            }
        };
        let repeated = std::iter::repeat_n(cell, usize::try_from(times).unwrap_or(0));
        Ok(repeated.cloned().chain(end).collect())
    }
}

/// The first slots of a cell, as a variation of it.
pub(crate) fn cut(cell: &Cell, slots: usize) -> Result<Cell, RefitError> {
    Ok(Cell {
        letter: cell.letter.primed().unwrap_or_else(|| cell.letter.clone()),
        grid: cell.grid.tile_to_slots(slots)?,
        slots: cell.slots[..slots.min(cell.slots.len())].to_vec(),
    })
}

fn count(n: u64, one: &str) -> String {
    if n == 1 {
        format!("1 {one}")
    } else {
        format!("{n} {one}s")
    }
}

impl fmt::Display for Close {
    /// One line: `play it 3 times: closes after 2 bars`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.way {
            Way::Repeat { times } => write!(f, "play it {}", count(times, "time"))?,
            Way::Cut { times: 0, slots } => {
                write!(f, "cut it after {}", count(slots as u64, "slot"))?;
            }
            Way::Cut { times, slots } => {
                let (times, slots) = (count(times, "time"), count(slots as u64, "slot"));
                write!(f, "play it {times} and once more cut after {slots}")?;
            }
            Way::Tail {
                times,
                beats,
                slots,
            } => {
                write!(f, "play it {} and add a tail of ", count(times, "time"))?;
                match slots {
                    Some(slots) => f.write_str(&count(u64::from(slots), "slot"))?,
                    None if beats == Beats::ONE => f.write_str("1 beat")?,
                    None => write!(f, "{beats} beats")?,
                }
            }
        }
        write!(f, ": closes after {}", count(self.bars, "bar"))
    }
}
