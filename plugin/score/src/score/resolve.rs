//! Cells with everything they take from their parents filled in.

mod voices;

pub(super) use voices::{Memory, SlotProblem, assign, slots};

use super::error::{Fault, Line, Mend, ScoreError, ScoreErrorKind as Kind, Spot};
use super::model::{CellDef, Ostinato, Score, StickSlot};
use crate::music::{Cell, Grid, Letter, Slot};
use std::collections::HashMap;

/// Which cell states each line that a cell plays.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Sources {
    /// Index of the cell that states the grid.
    pub grid: Option<usize>,
    /// … the sticking.
    pub sticking: Option<usize>,
    /// … the voices.
    pub voices: Option<usize>,
}

impl Score {
    /// The cell of a letter with everything it takes from its parents, if the
    /// letter is known and [`Score::check`] has nothing against the cell.
    pub fn cell(&self, letter: &Letter) -> Option<Cell> {
        let index = self.cells.iter().position(|c| c.letter == *letter)?;
        let sources = sources(self).ok()?;
        resolve(self, index, sources[index]).ok()
    }

    /// All cells in the order written, with everything they take from their
    /// parents.
    ///
    /// # Errors
    /// What [`Score::check`] has against one of them.
    pub fn cells_resolved(&self) -> Result<Vec<Cell>, ScoreError> {
        super::check::cells(self).map_err(Fault::without_text)
    }
}

impl Ostinato {
    /// What it plays on each slot of its grid. A slot whose voices do not go
    /// with its strokes ([`Score::check`] refuses it) plays its plain voices.
    pub fn slots(&self) -> Vec<Slot> {
        let mut sticking = self.sticking.clone();
        sticking.resize(self.grid.slot_count(), StickSlot::new());
        slots(&sticking, self.voices.as_deref(), true).0
    }
}

/// For every cell, which cells state its lines.
pub(super) fn sources(score: &Score) -> Result<Vec<Sources>, Fault> {
    let index: HashMap<&Letter, usize> = score
        .cells
        .iter()
        .enumerate()
        .map(|(i, c)| (&c.letter, i))
        .collect();
    let mut known: Vec<Option<Sources>> = vec![None; score.cells.len()];
    let mut on_way = vec![false; score.cells.len()];
    for first in 0..score.cells.len() {
        // Up to the first ancestor that is known or has no parent, then back.
        let mut way = Vec::new();
        let mut at = first;
        let mut from = loop {
            if let Some(done) = known[at] {
                break done;
            }
            way.push(at);
            on_way[at] = true;
            let Some(like) = &score.cells[at].like else {
                break Sources::default();
            };
            at = *index.get(like).ok_or_else(|| no_parent(score, at, like))?;
            if on_way[at] {
                return Err(cycle(score, way[way.len() - 1], &way, at));
            }
        };
        for i in way.into_iter().rev() {
            let def = &score.cells[i];
            from = Sources {
                grid: def.grid.as_ref().map(|_| i).or(from.grid),
                sticking: def.sticking.as_ref().map(|_| i).or(from.sticking),
                voices: def.voices.as_ref().map(|_| i).or(from.voices),
            };
            known[i] = Some(from);
            on_way[i] = false;
        }
    }
    Ok(known.into_iter().flatten().collect())
}

fn no_parent(score: &Score, cell: usize, like: &Letter) -> Fault {
    let kind = unknown_cell(score, like);
    Fault::new(Spot::Cell(cell, Line::Like), kind)
}

/// A letter that no cell has.
pub(super) fn unknown_cell(score: &Score, letter: &Letter) -> Kind {
    let names = || score.cells.iter().map(|c| c.letter.as_str());
    let plain = letter.as_str().trim_end_matches('\'');
    let parent = names()
        .find(|n| *n == plain)
        .filter(|_| letter.primes() > 0);
    let mend = match parent {
        Some(parent) => Mend(Some(format!(
            "add [cell.\"{letter}\"] with like = \"{parent}\""
        ))),
        None if plain.len() > 1 => super::nearest::did_you_mean(letter.as_str(), names()),
        None => Mend(Some(format!("add [cell.{letter}]"))),
    };
    let known = super::read::list(names());
    let known = if known.is_empty() {
        "none".to_owned()
    } else {
        known
    };
    Kind::Unknown {
        what: "cell",
        read: letter.to_string(),
        known,
        mend,
    }
}

fn cycle(score: &Score, closing: usize, way: &[usize], back_to: usize) -> Fault {
    let from = way.iter().position(|i| *i == back_to).unwrap_or(0);
    let names = way[from..]
        .iter()
        .chain([&back_to])
        .map(|i| score.cells[*i].letter.as_str());
    let chain = super::error::brief(&names.collect::<Vec<_>>().join(" like "));
    let letter = score.cells[back_to].letter.clone();
    Fault::new(
        Spot::Cell(closing, Line::Like),
        Kind::Cycle { letter, chain },
    )
}

/// The cell at `index`, or what does not go together in it.
pub(super) fn resolve(score: &Score, index: usize, sources: Sources) -> Result<Cell, Fault> {
    let def = &score.cells[index];
    let spot = |line| Spot::Cell(index, line);
    let grid = sources.grid.and_then(|i| score.cells[i].grid.as_ref());
    let grid = grid.ok_or_else(|| missing(score, def, index, "grid", "grid = \"6\""))?;
    let sticking = sources
        .sticking
        .and_then(|i| score.cells[i].sticking.as_ref());
    let sticking = sticking
        .ok_or_else(|| missing(score, def, index, "sticking", "sticking = \"R L R L K K\""))?;
    let voices = sources.voices.and_then(|i| score.cells[i].voices.as_ref());

    // A count is wrong where the cell itself says something about it.
    let own = |line: Line, stated: Option<usize>| {
        if stated == Some(index) {
            spot(line)
        } else {
            spot(Line::Head)
        }
    };
    let owner = format!("cell {}", def.letter);
    if let Some(kind) = count(&owner, "sticking", sticking.len(), grid) {
        let at = own(Line::Sticking, sources.sticking);
        let at = if at == spot(Line::Head) {
            own(Line::Grid, sources.grid)
        } else {
            at
        };
        return Err(Fault::new(at, kind));
    }
    if let Some(kind) = voices.and_then(|v| count(&owner, "voices", v.len(), grid)) {
        let at = own(Line::Voices, sources.voices);
        let at = if at == spot(Line::Head) {
            own(Line::Grid, sources.grid)
        } else {
            at
        };
        return Err(Fault::new(at, kind));
    }
    // Voices taken over from a parent need not say the same rests.
    let lenient = sources.voices != sources.sticking;
    let (slots, problem) = slots(sticking, voices.map(Vec::as_slice), lenient);
    if let Some(problem) = problem {
        let line = [
            (sources.voices, Line::Voices),
            (sources.sticking, Line::Sticking),
        ];
        let line = line.into_iter().find(|(source, _)| *source == Some(index));
        return Err(slot_fault(
            spot(line.map_or(Line::Head, |(_, l)| l)),
            owner,
            problem,
        ));
    }
    Ok(Cell {
        letter: def.letter.clone(),
        grid: grid.clone(),
        slots,
    })
}

/// A slot's problem with its owner.
pub(super) fn slot_fault(spot: Spot, owner: String, problem: SlotProblem) -> Fault {
    let SlotProblem {
        slot,
        problem,
        mend,
    } = problem;
    Fault::part(
        spot,
        slot,
        Kind::Slot {
            owner,
            slot: slot + 1,
            problem,
            mend: Mend(mend),
        },
    )
}

/// The complaint if a line has not one entry per slot.
pub(super) fn count(owner: &str, line: &'static str, found: usize, grid: &Grid) -> Option<Kind> {
    let slots = grid.slot_count();
    let much = found.abs_diff(slots);
    let entry = match (line, much) {
        ("sticking", 1) => "stroke or rest",
        ("sticking", _) => "strokes or rests",
        (_, 1) => "voice, '.' or '-'",
        _ => "voices, '.' or '-'",
    };
    let mend = match found.cmp(&slots) {
        std::cmp::Ordering::Equal => return None,
        std::cmp::Ordering::Less => format!("add {much} {entry}"),
        std::cmp::Ordering::Greater => format!("remove {much}"),
    };
    Some(Kind::SlotCount {
        owner: owner.to_owned(),
        line,
        found,
        slots,
        grid: super::error::brief(&grid.to_string()),
        mend: Mend(Some(mend)),
    })
}

fn missing(score: &Score, def: &CellDef, index: usize, what: &str, example: &str) -> Fault {
    let plain = Letter::new(def.letter.as_str().trim_end_matches('\''));
    let parent = plain.filter(|p| def.like.is_none() && score.cells.iter().any(|c| c.letter == *p));
    let parent = parent.filter(|p| *p != def.letter);
    let kind = Kind::Missing {
        what: what.to_owned(),
        within: format!("cell {}", def.letter),
        allowed: format!("write for example {example}, or like = \"A\" for a variation of A"),
        mend: Mend(parent.map(|p| format!("did you mean like = \"{p}\"?"))),
    };
    Fault::new(Spot::Cell(index, Line::Head), kind)
}
