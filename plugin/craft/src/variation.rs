//! Variation: new cells in the frame of an old one, and how far they are.
//!
//! In: a cell, what must stay, what may be used, a level, a seed. Out: distinct
//! cells in order of their distance from the old one, and the exact number
//! that exist; or a prime worked out by rule (displaced, reversed, hands
//! inverted). Never here: a tempo (that is `craft::playable`), chance that is
//! not in the seed, a cell twice.

mod ask;
mod distance;
mod frame;
mod options;
mod primes;
mod random;
mod rules;
mod space;

pub use ask::{Ask, Keep, MAX_ASKED, MAX_VARIED_SLOTS, MAX_WITHIN, VariationError};
pub use distance::Distance;
pub use primes::{displaced, inverted, reversed};
pub use random::SplitMix64;
pub use rules::{DistanceWeights, LevelRules, Together, VariationRules};

use barform_score::music::{Cell, Letter};
use frame::Frame;
use num_bigint::BigUint;
use space::Space;

/// New cells, and how many there are in all.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Variations {
    /// The cells, nearest to the original first; no two alike, none of them
    /// the original.
    pub cells: Vec<Variation>,
    /// How many cells keep to what was asked, exactly, the original not
    /// counted.
    pub exist: BigUint,
    /// How many were asked for.
    pub asked: usize,
}

impl Variations {
    /// Whether fewer exist than were asked for; then all of them are here.
    pub fn fell_short(&self) -> bool {
        self.cells.len() < self.asked
    }
}

/// One new cell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Variation {
    /// The cell, with the original's letter and one prime more.
    pub cell: Cell,
    /// What differs from the original, part by part.
    pub distance: Distance,
    /// The sum of it, by the weights of the rules.
    pub total: u64,
}

impl Variation {
    /// How far it is and in what, with a top tempo in beats per minute if given:
    /// `distance 7: sticking 2, voices 2; up to 132 bpm`.
    pub fn said(&self, bpm: Option<u32>) -> String {
        let d = &self.distance;
        let parts: Vec<String> = [
            (d.rhythm, "rhythm"),
            (d.sticking, "sticking"),
            (d.voices, "voices"),
            (d.levels, "accents and ghost notes"),
            (d.ornaments, "ornaments"),
        ]
        .into_iter()
        .filter(|(n, _)| *n > 0)
        .map(|(n, what)| format!("{what} {n}"))
        .collect();
        let mut said = format!("distance {}", self.total);
        if !parts.is_empty() {
            said += &format!(": {}", parts.join(", "));
        }
        if let Some(bpm) = bpm {
            said += &format!("; up to {bpm} bpm");
        }
        said
    }
}

/// Makes the variations asked for.
///
/// Each of the cells that exist is as likely as any other. The same question
/// with the same rules and the same seed has the same answer on every machine.
///
/// # Errors
/// See [`VariationError`].
pub fn vary(ask: &Ask<'_>, rules: &VariationRules) -> Result<Variations, VariationError> {
    ask.check()?;
    let level = rules
        .level(&ask.level)
        .ok_or_else(|| VariationError::UnknownLevel {
            read: ask.level.clone(),
            known: rules.level_names().collect::<Vec<_>>().join(" "),
        })?;
    let frame = Frame::new(ask, rules, level);
    let space = Space::new(&frame).ok_or(VariationError::TooManyWays)?;
    let (ranks, exist) = space.draw(ask.count, ask.seed);
    let letter = primed(&ask.original.letter);
    let mut cells: Vec<Variation> = ranks
        .into_iter()
        .map(|rank| {
            let slots = space.cell(rank);
            let cell = Cell {
                letter: letter.clone(),
                grid: ask.original.grid.clone(),
                slots,
            };
            let distance = Distance::of_slots(&ask.original.slots, &cell.slots);
            Variation {
                total: distance.total(rules.weights()),
                cell,
                distance,
            }
        })
        .collect();
    // Stable: those at one distance stay in the order of their ranks.
    cells.sort_by_key(|variation| variation.total);
    Ok(Variations {
        cells,
        exist,
        asked: ask.count,
    })
}

/// Makes the nearest variations there are: none that exists is nearer than one
/// that is given. Of those at the greatest distance given, the seed decides.
/// Where the nearest [`MAX_WITHIN`] do not hold so many, as [`vary`].
///
/// # Errors
/// See [`VariationError`].
pub fn nearest(ask: &Ask<'_>, rules: &VariationRules) -> Result<Variations, VariationError> {
    let within = |least, most| {
        vary(
            &Ask {
                within: Some(least..=most),
                ..ask.clone()
            },
            rules,
        )
    };
    let any = vary(ask, rules)?;
    let asked = BigUint::from(ask.count);
    if ask.within.is_some() || any.exist <= asked {
        return Ok(any);
    }
    // The least distance within which there are enough; they only grow. Doubled
    // first: counting further takes longer.
    let (mut too_near, mut enough) = (0, 4);
    while enough < MAX_WITHIN && within(1, enough)?.exist < asked {
        (too_near, enough) = (enough, (enough * 2).min(MAX_WITHIN));
    }
    if within(1, enough)?.exist < asked {
        return Ok(any);
    }
    while enough - too_near > 1 {
        let middle = too_near + (enough - too_near) / 2;
        if within(1, middle)?.exist < asked {
            too_near = middle;
        } else {
            enough = middle;
        }
    }
    let mut cells = if enough > 1 {
        within(1, enough - 1)?.cells
    } else {
        Vec::new()
    };
    let rest = Ask {
        within: Some(enough..=enough),
        count: ask.count - cells.len(),
        ..ask.clone()
    };
    cells.extend(vary(&rest, rules)?.cells);
    Ok(Variations { cells, ..any })
}

/// The letter with one prime more, or as it is if it carries all it may.
fn primed(letter: &Letter) -> Letter {
    letter.primed().unwrap_or_else(|| letter.clone())
}
