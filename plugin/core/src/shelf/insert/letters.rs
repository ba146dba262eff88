//! What each cell of one score is called in another.

use crate::music::{Articulation, Cell, Grid, Letter, Slot, Stroke};
use crate::score::{CellDef, Score, StickToken, VoiceSlot, VoiceToken};
use crate::shelf::ShelfError;
use std::collections::{HashMap, HashSet};

/// A cell by what it plays and the parent it follows.
type Means = (Grid, Vec<Slot>, Option<Letter>);

/// Old letters and new.
pub(super) struct Letters {
    /// Every letter of the one score, and its name in the other.
    pub names: HashMap<Letter, Letter>,
    /// Those put in.
    pub added: Vec<Letter>,
}

impl Letters {
    /// Puts the cells that are missing into a score.
    pub fn merge(from: &Score, into: &mut Score) -> Result<Letters, ShelfError> {
        let cells = from.cells_resolved()?;
        let there = into.cells_resolved()?;
        let mut means: HashMap<Means, Vec<Letter>> = HashMap::new();
        for (def, cell) in into.cells.iter().zip(there) {
            let key = (cell.grid, cell.slots, def.like.clone());
            means.entry(key).or_default().push(def.letter.clone());
        }
        let mut taken: HashSet<Letter> = into.cells.iter().map(|c| c.letter.clone()).collect();
        let mut letters = Letters {
            names: HashMap::new(),
            added: Vec::new(),
        };
        // Parents first: a variation is called after its parent.
        for i in parents_first(from) {
            let (def, cell) = (&from.cells[i], &cells[i]);
            let like = def
                .like
                .as_ref()
                .and_then(|p| letters.names.get(p))
                .cloned();
            let key = (cell.grid.clone(), cell.slots.clone(), like.clone());
            let same = means.entry(key).or_default();
            let kept = same.iter().find(|l| **l == def.letter);
            if let Some(letter) = kept.or(same.first()) {
                letters.names.insert(def.letter.clone(), letter.clone());
                continue;
            }
            let parent = def.like.as_ref().zip(like.as_ref());
            let letter = free(&def.letter, parent, &taken).ok_or(ShelfError::DoesNotFit {
                problem: "every letter is taken".into(),
            })?;
            same.push(letter.clone());
            taken.insert(letter.clone());
            letters.names.insert(def.letter.clone(), letter.clone());
            letters.added.push(letter.clone());
            into.cells.push(CellDef {
                letter,
                like,
                ..def.clone()
            });
        }
        Ok(letters)
    }
}

/// Indexes of the cells, each after its parent; otherwise as written. The score
/// has been resolved, so no cell is its own parent.
fn parents_first(score: &Score) -> Vec<usize> {
    let index: HashMap<&Letter, usize> = (0..)
        .zip(&score.cells)
        .map(|(i, c)| (&c.letter, i))
        .collect();
    let mut done = vec![false; score.cells.len()];
    let mut order = Vec::with_capacity(score.cells.len());
    for first in 0..score.cells.len() {
        let mut way = Vec::new();
        let mut at = Some(first);
        while let Some(i) = at.filter(|i| !done[*i]) {
            done[i] = true;
            way.push(i);
            at = score.cells[i]
                .like
                .as_ref()
                .and_then(|l| index.get(l))
                .copied();
        }
        order.extend(way.into_iter().rev());
    }
    order
}

/// The letter itself if nobody has it; for a primed form of a parent that is now
/// called otherwise, the parent's with as many primes. Else the same with the
/// first number of primes that is free, else the first free capital.
fn free(
    letter: &Letter,
    parent: Option<(&Letter, &Letter)>,
    taken: &HashSet<Letter>,
) -> Option<Letter> {
    let plain = |l: &Letter| l.as_str().trim_end_matches('\'').to_owned();
    let follows = parent.filter(|(was, _)| letter.primes() > 0 && plain(was) == plain(letter));
    let base = follows.map_or_else(|| plain(letter), |(_, now)| plain(now));
    let primed = |n: usize| Letter::new(&format!("{base}{}", "'".repeat(n)));
    let primes = match letter.primes() {
        0 => 0..=0,
        _ => 1..=Letter::MAX_PRIMES,
    };
    // A alone, then A1 to A99, through the alphabet.
    let numbers = std::iter::once(String::new()).chain((1..=99).map(|n: u32| n.to_string()));
    let letters = numbers.flat_map(|n| ('A'..='Z').map(move |c| format!("{c}{n}")));
    std::iter::once(letter.primes())
        .chain(primes)
        .filter_map(primed)
        .chain(letters.filter_map(|text| Letter::new(&text)))
        .find(|l| !taken.contains(l))
}

/// A cell with all it plays stated in its own lines.
pub(in crate::shelf) fn stated(cell: &Cell) -> CellDef {
    let stick = |s: &Stroke| StickToken {
        limb: s.limb,
        level: s.level,
        graces: s.graces,
        buzz: s.buzz,
    };
    let voices = |slot: &Slot| {
        if slot.is_empty() {
            return VoiceSlot::Rest;
        }
        let token = |s: &Stroke| VoiceToken {
            voice: s.voice,
            articulation: s.articulation,
        };
        VoiceSlot::Voices(slot.iter().map(token).collect())
    };
    let is_plain = |s: &Stroke| {
        s.voice == Stroke::plain(s.limb).voice && s.articulation == Articulation::Plain
    };
    let plain = cell.slots.iter().flatten().all(is_plain);
    CellDef {
        letter: cell.letter.clone(),
        like: None,
        grid: Some(cell.grid.clone()),
        sticking: Some(
            cell.slots
                .iter()
                .map(|s| s.iter().map(stick).collect())
                .collect(),
        ),
        voices: (!plain).then(|| cell.slots.iter().map(voices).collect()),
    }
}
