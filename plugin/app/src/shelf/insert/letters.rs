//! What each cell of one score is called in another.

use crate::music::{Grid, Letter, Slot};
use crate::score::{CellDef, Score, ScoreError};
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
    pub fn merge(from: &Score, into: &mut Score) -> Result<Letters, ScoreError> {
        let cells = from.cells_resolved()?;
        let there = into.cells_resolved()?;
        let mut means: HashMap<Means, Vec<Letter>> = HashMap::new();
        for (def, cell) in into.cells.iter().zip(there) {
            let key = (cell.grid, cell.slots, def.like.clone());
            means.entry(key).or_default().push(def.letter.clone());
        }
        let mut letters = Letters {
            names: HashMap::new(),
            added: Vec::new(),
        };
        let mut taken = Taken {
            here: into.cells.iter().map(|c| c.letter.clone()).collect(),
            coming: from.cells.iter().map(|c| c.letter.clone()).collect(),
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
            // There are more letters than a score may have cells: where none is
            // free, the check says that there are too many.
            let free = taken.free(&def.letter, parent);
            let letter = free.unwrap_or_else(|| def.letter.clone());
            taken.here.insert(letter.clone());
            same.push(letter.clone());
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

/// Letters that are spoken for.
struct Taken {
    /// By a cell of the score.
    here: HashSet<Letter>,
    /// By a cell that is to come and may keep its letter.
    coming: HashSet<Letter>,
}

impl Taken {
    /// The letter itself if nobody has it; for a primed form of a parent that is
    /// now called otherwise, the parent's with as many primes. Else the same
    /// with other primes, else the next capital.
    fn free(&self, letter: &Letter, parent: Option<(&Letter, &Letter)>) -> Option<Letter> {
        let plain = |l: &Letter| Letter::new(l.as_str().trim_end_matches('\''));
        let follows = parent.filter(|(was, _)| letter.primes() > 0 && plain(was) == plain(letter));
        let base = plain(follows.map_or(letter, |(_, now)| now))?;
        let primed = |n: usize| Letter::new(&format!("{base}{}", "'".repeat(n)));
        let same = primed(letter.primes()).filter(|l| !self.here.contains(l));
        let most = if letter.primes() == 0 {
            0
        } else {
            Letter::MAX_PRIMES
        };
        // A to Z, then A1 to Z1, up to 99.
        let numbers = std::iter::once(String::new()).chain((1..=99_u8).map(|n| n.to_string()));
        let letters = numbers.flat_map(|n| ('A'..='Z').map(move |c| format!("{c}{n}")));
        let others = (1..=most).filter_map(primed);
        let mut others = others.chain(letters.filter_map(|text| Letter::new(&text)));
        let is_free = |l: &Letter| !self.here.contains(l) && !self.coming.contains(l);
        same.or_else(|| others.find(is_free))
    }
}
