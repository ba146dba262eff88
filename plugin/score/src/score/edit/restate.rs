//! What a cell's tables say so that it plays what it should: as little as
//! possible, in the words that stood there.
//!
//! A variation states only what differs from its parent. A voices line stays as
//! the user wrote it where it still holds; an entry that has become needless
//! becomes `.`, and a line that says only the plain voices is left out.

use super::letters::{find, index_of};
use crate::music::{Cell, Grid, Letter, Slot, Stroke};
use crate::score::check;
use crate::score::error::Fault;
use crate::score::model::{CellDef, Ostinato, Score, StickSlot, StickToken, VoiceSlot, VoiceToken};
use crate::score::resolve::{Memory, Sources, assign, resolve, slots, sources};
use std::collections::HashMap;

/// What a cell played and the voices line it played by, its own or a parent's.
#[derive(Clone)]
pub(super) struct Was {
    /// The cell.
    pub cell: Cell,
    /// Its voices line.
    pub voices: Option<Vec<VoiceSlot>>,
}

/// All cells as they were before an edit.
pub(super) struct Before(HashMap<Letter, Was>);

impl Before {
    /// The cells of a score.
    pub fn of(score: &Score) -> Result<Before, Fault> {
        let all = check::cells(score)?.into_iter().zip(sources(score)?);
        let was = |(cell, from): (Cell, Sources)| {
            let voices = from.voices.and_then(|i| score.cells[i].voices.clone());
            (cell.letter.clone(), Was { cell, voices })
        };
        Ok(Before(all.map(was).collect()))
    }

    /// The cell of a letter.
    pub fn get(&self, letter: &Letter) -> Option<&Was> {
        self.0.get(letter)
    }
}

/// A sticking line that says what the slots play.
pub(super) fn sticking_of(slots: &[Slot]) -> Vec<StickSlot> {
    slots
        .iter()
        .map(|s| s.iter().map(StickToken::from).collect())
        .collect()
}

impl CellDef {
    /// A cell that stands on its own: grid, sticking, and voices where they are
    /// not the plain ones.
    pub fn of(cell: &Cell) -> CellDef {
        stated(cell)
    }
}

/// A cell that stands on its own.
pub fn stated(cell: &Cell) -> CellDef {
    let sticking = sticking_of(&cell.slots);
    CellDef {
        letter: cell.letter.clone(),
        like: None,
        grid: Some(cell.grid.clone()),
        voices: own_voices(&cell.slots, &sticking, None, None),
        sticking: Some(sticking),
    }
}

/// Makes an ostinato play `cell`.
pub(super) fn restate_ostinato(ostinato: &mut Ostinato, cell: &Cell, was: &Was) {
    let sticking = sticking_of(&cell.slots);
    ostinato.voices = own_voices(&cell.slots, &sticking, ostinato.voices.take(), Some(was));
    ostinato.grid = cell.grid.clone();
    ostinato.sticking = sticking;
}

/// Makes the cell at `index` play `cell`.
pub(super) fn restate(
    score: &mut Score,
    index: usize,
    cell: &Cell,
    was: Option<&Was>,
) -> Result<(), Fault> {
    let parent = match &score.cells[index].like {
        Some(like) => sources(score)?[find(score, like)?],
        None => Sources::default(),
    };
    let sticking = sticking_of(&cell.slots);
    let own_grid = parent.grid.and_then(|i| score.cells[i].grid.as_ref()) != Some(&cell.grid);
    let parents = parent
        .sticking
        .and_then(|i| score.cells[i].sticking.as_ref());
    let own_sticking = parents != Some(&sticking);
    let parents = parent.voices.and_then(|i| score.cells[i].voices.as_deref());
    let lenient = own_sticking || parent.voices != parent.sticking;
    let needless = plays(&cell.slots, &sticking, parents, lenient);
    let def = &score.cells[index];
    let voices = if needless && (def.like.is_some() || def.voices.is_none()) {
        None
    } else if def.like.is_none() {
        own_voices(&cell.slots, &sticking, def.voices.clone(), was)
    } else {
        let fits = |line: &&Vec<VoiceSlot>| {
            plays(&cell.slots, &sticking, Some(line.as_slice()), !own_sticking)
        };
        let base = was.and_then(|w| w.voices.as_ref());
        let kept = def.voices.iter().chain(base).find(fits).cloned();
        Some(kept.unwrap_or_else(|| voices_line(&cell.slots, &sticking, was)))
    };
    let def = &mut score.cells[index];
    def.grid = own_grid.then(|| cell.grid.clone());
    def.sticking = own_sticking.then_some(sticking);
    def.voices = voices;
    Ok(())
}

/// Whether the two lines play the slots.
fn plays(
    target: &[Slot],
    sticking: &[StickSlot],
    voices: Option<&[VoiceSlot]>,
    lenient: bool,
) -> bool {
    if voices.is_some_and(|v| v.len() != target.len()) {
        return false;
    }
    let (found, problem) = slots(sticking, voices, lenient);
    problem.is_none() && found == target
}

/// The voices line of what has no parent; none if the voices are plain.
fn own_voices(
    target: &[Slot],
    sticking: &[StickSlot],
    line: Option<Vec<VoiceSlot>>,
    was: Option<&Was>,
) -> Option<Vec<VoiceSlot>> {
    let base = was.and_then(|w| w.voices.clone());
    let mut known = line.into_iter().chain(base);
    if let Some(line) = known.find(|l| plays(target, sticking, Some(l), false)) {
        return Some(line);
    }
    if plays(target, sticking, None, false) {
        return None;
    }
    Some(voices_line(target, sticking, was))
}

/// Whether the strokes go on where their limbs were.
fn goes_on(memory: &Memory, strokes: &[Stroke]) -> bool {
    strokes.iter().all(|s| {
        let plain = Stroke::plain(s.limb);
        memory
            .of(s.limb)
            .unwrap_or_else(|| VoiceToken::from(&plain))
            == VoiceToken::from(s)
    })
}

/// What is remembered after an entry that names voices.
fn after(memory: &Memory, sticks: &[StickToken], list: &[VoiceToken]) -> Option<Memory> {
    let mut memory = memory.clone();
    memory.learn(&assign(sticks, list)?);
    Some(memory)
}

/// A voices line for the slots, with the entries of the line before where they
/// still hold.
fn voices_line(target: &[Slot], sticking: &[StickSlot], was: Option<&Was>) -> Vec<VoiceSlot> {
    let same_count = was.filter(|w| w.cell.slots.len() == target.len());
    let base = same_count.and_then(|w| Some((&w.cell.slots, w.voices.as_ref()?)));
    let needless = base.map(|(slots, line)| needless(slots, line));
    let (mut memory, mut hands_named) = (Memory::default(), base.is_some());
    let mut line = Vec::with_capacity(target.len());
    for (i, (strokes, sticks)) in target.iter().zip(sticking).enumerate() {
        let entry = base.and_then(|(_, line)| line.get(i));
        if strokes.is_empty() {
            let same = entry == Some(&VoiceSlot::Same);
            line.push(if same {
                VoiceSlot::Same
            } else {
                VoiceSlot::Rest
            });
            continue;
        }
        let goes_on = goes_on(&memory, strokes);
        let needless = needless.as_ref().and_then(|n| n.get(i)) == Some(&true);
        if let Some(VoiceSlot::Voices(list)) = entry
            && (!goes_on || needless)
            && let Some(next) = after(&memory, sticks, list).filter(|m| self::goes_on(m, strokes))
        {
            memory = next;
            line.push(VoiceSlot::Voices(list.clone()));
            continue;
        }
        let hands = strokes.iter().any(|s| !s.limb.is_foot());
        // The first hand of a new line says where the hands begin.
        if goes_on && (hands_named || !hands) {
            line.push(VoiceSlot::Same);
            continue;
        }
        hands_named |= hands;
        let (list, next) = shortest(&memory, strokes, sticks);
        memory = next;
        line.push(VoiceSlot::Voices(list));
    }
    line
}

/// Which entries of a line name what went on anyway.
fn needless(slots: &[Slot], line: &[VoiceSlot]) -> Vec<bool> {
    let mut memory = Memory::default();
    let sticking = sticking_of(slots);
    let one = |((strokes, sticks), entry): ((&Slot, &StickSlot), &VoiceSlot)| {
        let needless = goes_on(&memory, strokes);
        if let VoiceSlot::Voices(list) = entry
            && let Some(next) = after(&memory, sticks, list)
        {
            memory = next;
        }
        needless
    };
    slots.iter().zip(&sticking).zip(line).map(one).collect()
}

/// The fewest voices that say what is struck, and what is remembered then.
fn shortest(
    memory: &Memory,
    strokes: &[Stroke],
    sticks: &[StickToken],
) -> (Vec<VoiceToken>, Memory) {
    let all: Vec<VoiceToken> = strokes.iter().map(VoiceToken::from).collect();
    let hands = strokes.iter().filter(|s| !s.limb.is_foot());
    let hands: Vec<VoiceToken> = hands.map(VoiceToken::from).collect();
    let first = hands.first().map_or(Vec::new(), |first| vec![*first]);
    for list in [first, hands] {
        let next = after(memory, sticks, &list).filter(|m| goes_on(m, strokes));
        if let Some(next) = next {
            return (list, next);
        }
    }
    // One for each stroke always holds.
    let next = after(memory, sticks, &all).unwrap_or_else(|| memory.clone());
    (all, next)
}

/// Lets the variations play on after their parents have changed: what a
/// variation states may no longer go with what it takes over, and those in
/// `fixed`, with theirs, are to stay as they were. Such a one states what it
/// needs to play what it played.
pub(super) fn keep_variations(
    score: &mut Score,
    before: &Before,
    fixed: &[Letter],
    told: &mut Vec<String>,
) -> Result<(), Fault> {
    let mut from = sources(score)?;
    for index in parents_first(score) {
        let letter = score.cells[index].letter.clone();
        let Some(was) = before.get(&letter) else {
            continue;
        };
        let stays = descends(score, index, fixed);
        if score.cells[index].like.is_none() && !stays {
            continue;
        }
        match resolve(score, index, from[index]) {
            Ok(cell) if !stays || cell.slots == was.cell.slots && cell.grid == was.cell.grid => {}
            _ => {
                restate(score, index, &was.cell, Some(was))?;
                from = sources(score)?;
                if !stays {
                    told.push(format!("{letter} stays as it was and says so itself"));
                }
            }
        }
    }
    Ok(())
}

/// Whether a cell is one of `fixed` or, through its parents, like one.
fn descends(score: &Score, index: usize, fixed: &[Letter]) -> bool {
    let mut at = Some(index);
    // At most every cell once: a score has no circles.
    for _ in 0..score.cells.len() {
        let Some(def) = at.and_then(|i| score.cells.get(i)) else {
            return false;
        };
        if fixed.contains(&def.letter) {
            return true;
        }
        at = def.like.as_ref().and_then(|like| index_of(score, like));
    }
    false
}

/// The variations, parents before their own variations.
fn parents_first(score: &Score) -> Vec<usize> {
    let place: HashMap<&Letter, usize> = (0..)
        .zip(&score.cells)
        .map(|(i, c)| (&c.letter, i))
        .collect();
    let depth = |mut i: usize| {
        let mut depth = 0;
        while let Some(next) = score.cells[i].like.as_ref().and_then(|l| place.get(l)) {
            (i, depth) = (*next, depth + 1);
            if depth > score.cells.len() {
                break;
            }
        }
        depth
    };
    let mut order: Vec<(usize, usize)> = (0..score.cells.len()).map(|i| (depth(i), i)).collect();
    order.sort_unstable();
    order.into_iter().map(|(_, i)| i).collect()
}

/// The grid and slots of an ostinato as a cell of no letter in particular.
pub(super) fn as_cell(letter: Letter, grid: &Grid, slots: Vec<Slot>) -> Cell {
    Cell {
        letter,
        grid: grid.clone(),
        slots,
    }
}
