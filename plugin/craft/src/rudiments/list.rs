//! The rudiments themselves, read from data.

use super::notation;
use crate::range::{not_allowed, ranged};
use crate::rules::{RuleError, layer};
use barform_score::music::{Beats, BeatsError, Cell, Graces, Grid, Hand, Letter, Stroke};
use serde::Deserialize;
use std::collections::BTreeMap;

/// The built-in list.
const BUILTIN: &str = include_str!("../data/rudiments.toml");

/// The families of the sheet; rolls in their three kinds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Deserialize)]
pub enum Family {
    /// Rolls of single strokes.
    #[serde(rename = "single stroke rolls")]
    SingleStrokeRolls,
    /// Rolls of more than two strokes per hand.
    #[serde(rename = "multiple bounce rolls")]
    MultipleBounceRolls,
    /// Rolls of double strokes.
    #[serde(rename = "double stroke rolls")]
    DoubleStrokeRolls,
    /// Paradiddles.
    #[serde(rename = "diddles")]
    Diddles,
    /// Rudiments with flams.
    #[serde(rename = "flams")]
    Flams,
    /// Rudiments with drags.
    #[serde(rename = "drags")]
    Drags,
}

/// A rudiment as the data file states it.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Stated {
    number: i64,
    family: Family,
    grid: String,
    sticking: String,
    alternates: bool,
    #[serde(default)]
    least: i64,
}

/// The data file.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    rudiment: BTreeMap<String, Stated>,
}

/// One rudiment, begun with the right hand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rudiment {
    /// Its number on the sheet, `1 ..= 40`; a user's own from 41.
    pub number: u32,
    /// Its name, in small letters.
    pub name: String,
    /// Its family.
    pub family: Family,
    /// Its grid, every slot struck.
    pub grid: Grid,
    /// Its strokes, one per slot.
    pub strokes: Vec<Stroke>,
    /// Whether the next one begins with the other hand.
    pub alternates: bool,
    /// Strokes it takes to be one.
    pub least: usize,
    /// Beats from each stroke to the next, the last one to the end.
    pub(super) gaps: Vec<Beats>,
}

/// A stroke with the hands changed over.
pub(super) fn other_hands(mut stroke: Stroke) -> Stroke {
    if let Some(hand) = stroke.limb.hand() {
        stroke.limb = hand.other().into();
    }
    let graces: Vec<Hand> = stroke.graces.iter().map(Hand::other).collect();
    stroke.graces = Graces::from_hands(&graces).unwrap_or(Graces::NONE);
    stroke
}

impl Rudiment {
    /// Strokes until it comes round to the same hand.
    pub fn cycle(&self) -> usize {
        self.strokes.len() * if self.alternates { 2 } else { 1 }
    }

    /// Stroke `phase` of its cycle, begun with `lead`.
    pub fn stroke(&self, phase: usize, lead: Hand) -> Stroke {
        let unit = self.strokes.len();
        let turned = self.alternates && phase / unit % 2 == 1;
        let stroke = self.strokes[phase % unit];
        if turned != (lead == Hand::Left) {
            other_hands(stroke)
        } else {
            stroke
        }
    }

    /// Whether its last note is longer than the one before it.
    pub(super) fn closes_long(&self) -> bool {
        matches!(self.gaps[..], [.., before, last] if last > before)
    }

    /// A cell of one whole cycle (at least [`Rudiment::least`] strokes) on the
    /// snare, begun with `lead`.
    pub fn cell(&self, letter: Letter, lead: Hand) -> Cell {
        let unit = self.strokes.len();
        let cycles = self.least.max(1).div_ceil(self.cycle());
        let count = cycles * self.cycle();
        let spans = self.grid.spans().repeat(count / unit);
        let grid = Grid::new(spans).unwrap_or_else(|| self.grid.clone());
        let slots = (0..count)
            .map(|phase| vec![self.stroke(phase, lead)])
            .collect();
        Cell {
            letter,
            grid,
            slots,
        }
    }

    /// A rudiment from what the file states.
    fn new(text: &str, name: String, stated: Stated) -> Result<Rudiment, RuleError> {
        // The name may hold dots or signs, so the key is put together by hand.
        let at = |key: &str, problem: String| {
            RuleError::at(
                text,
                &["rudiment".into(), name.clone(), key.into()],
                problem,
            )
        };
        let grid = notation::grid(&stated.grid).ok_or_else(|| {
            at(
                "grid",
                format!("is '{}'; allowed are spans such as 4, 3@1/2", stated.grid),
            )
        })?;
        let strokes: Vec<Stroke> = stated
            .sticking
            .split_whitespace()
            .map(|word| {
                notation::stroke(word).ok_or_else(|| {
                    let allowed = "R or L, with r l in front, > z after";
                    at("sticking", format!("has '{word}'; allowed is {allowed}"))
                })
            })
            .collect::<Result<_, _>>()?;
        if strokes.len() != grid.slot_count() {
            let (found, slots) = (strokes.len(), grid.slot_count());
            let problem = format!("has {found} strokes; allowed is one for each of {slots} slots");
            return Err(at("sticking", problem));
        }
        let begins = strokes.first().and_then(|s| s.limb.hand());
        if begins != Some(Hand::Right) {
            return Err(at(
                "sticking",
                "begins with L; allowed is a rudiment led by R".into(),
            ));
        }
        let overflow = |e: BeatsError| at("grid", e.to_string());
        let bounds = grid.slot_bounds().map_err(overflow)?;
        let gaps = bounds
            .windows(2)
            .map(|w| w[1].checked_sub(w[0]))
            .collect::<Result<_, _>>()
            .map_err(overflow)?;
        Ok(Rudiment {
            number: stated.number as u32,
            name,
            family: stated.family,
            least: strokes.len().max(stated.least as usize),
            grid,
            strokes,
            alternates: stated.alternates,
            gaps,
        })
    }
}

/// A list of rudiments in the order of their numbers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rudiments {
    pub(super) list: Vec<Rudiment>,
}

impl Rudiments {
    /// The 40 of the Percussive Arts Society.
    pub fn builtin() -> Rudiments {
        // The embedded file is held to this by a test.
        Rudiments::from_toml("").unwrap_or_else(|e| unreachable!("built-in rudiments: {e}"))
    }

    /// The 40 with what `text` states instead, and others it adds.
    ///
    /// # Errors
    /// [`RuleError`] with the key and what is allowed.
    pub fn from_toml(text: &str) -> Result<Rudiments, RuleError> {
        let file: File = layer::read(BUILTIN, text)?;
        let mut list = Vec::with_capacity(file.rudiment.len());
        for (name, stated) in file.rudiment {
            let key = format!("rudiment.{name}.number");
            ranged(text, &key, stated.number, 1..=9999)?;
            ranged(
                text,
                &format!("rudiment.{name}.least"),
                stated.least,
                0..=999,
            )?;
            list.push(Rudiment::new(text, name, stated)?);
        }
        list.sort_by_key(|r| r.number);
        if let Some(pair) = list.windows(2).find(|w| w[0].number == w[1].number) {
            let key = format!("rudiment.{}.number", pair[1].name);
            let taken = format!("{} as is that of '{}'", pair[1].number, pair[0].name);
            return Err(not_allowed(text, &key, taken, "a number of its own"));
        }
        Ok(Rudiments { list })
    }

    /// All of them, by number.
    pub fn all(&self) -> &[Rudiment] {
        &self.list
    }

    /// The rudiment of a name, in any case.
    pub fn get(&self, name: &str) -> Option<&Rudiment> {
        self.list.iter().find(|r| r.name.eq_ignore_ascii_case(name))
    }
}
