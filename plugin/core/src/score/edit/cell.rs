//! Edits of what a cell or an ostinato plays.

use super::letters::find;
use super::regrid::{Way, regrid};
use super::restate::{Before, Was, as_cell, keep_variations, restate, restate_ostinato};
use super::{Work, refuse, slots};
use crate::music::{
    Articulation, Cell, Grid, Letter, Level, Limb, MAX_SLOTS_PER_SPAN, Slot, Span, Stroke, Voice,
};
use crate::score::error::{Fault, Line, ScoreError, Spot};
use crate::score::model::{Score, StickSlot, VoiceSlot};
use crate::score::resolve::{count, sources};
use crate::score::{read_sticking, read_voices, sticking_text, voices_text};
use std::fmt;

/// Whose strokes are edited.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Owner {
    /// A cell's, by its letter.
    Cell(Letter),
    /// An ostinato's, by its name.
    Ostinato(String),
}

/// One change of what is played. Slots and spans count from 0; `limb` picks one
/// stroke of a slot, `None` all of them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CellEdit {
    /// Puts a stroke on a slot, in the place of what was there.
    Put {
        /// The slot.
        slot: usize,
        /// The stroke.
        stroke: Stroke,
    },
    /// Puts a stroke beside the others on a slot; a limb's own is replaced.
    Add {
        /// The slot.
        slot: usize,
        /// The stroke.
        stroke: Stroke,
    },
    /// Takes strokes away.
    Remove {
        /// The slot.
        slot: usize,
        /// Whose.
        limb: Option<Limb>,
    },
    /// Accent on, or off where all have it.
    Accent {
        /// The slot.
        slot: usize,
        /// Whose.
        limb: Option<Limb>,
    },
    /// Ghost note on, or off where all are.
    Ghost {
        /// The slot.
        slot: usize,
        /// Whose.
        limb: Option<Limb>,
    },
    /// The next of: plain, flam, drag, ruff, buzz.
    Ornament {
        /// The slot.
        slot: usize,
        /// Whose.
        limb: Option<Limb>,
    },
    /// How it is struck.
    Articulation {
        /// The slot.
        slot: usize,
        /// Whose.
        limb: Option<Limb>,
        /// How.
        articulation: Articulation,
    },
    /// What it is struck on.
    Voice {
        /// The slot.
        slot: usize,
        /// Whose.
        limb: Option<Limb>,
        /// What.
        voice: Voice,
    },
    /// The other hand.
    SwapHand {
        /// The slot.
        slot: usize,
    },
    /// The sticking line, as typed. Each stroke keeps the voice its limb, or
    /// else a hand, had on the slot; a new one goes on where its limb was.
    Sticking(String),
    /// The voices line, as typed; `None` takes the cell's own away.
    Voices(Option<String>),
    /// Another grid.
    Grid {
        /// The grid; with refit and carry, what is repeated.
        grid: Grid,
        /// What becomes of the strokes.
        way: Way,
    },
    /// One span of the grid.
    Span {
        /// Which.
        span: usize,
        /// What it becomes; with refit and carry, what is repeated.
        to: Span,
        /// What becomes of its strokes.
        way: Way,
    },
    /// A span of rests before another, or at the end.
    AddSpan {
        /// Before which.
        at: usize,
        /// The span.
        span: Span,
    },
    /// Takes a span out, strokes and all.
    RemoveSpan(usize),
    /// Rests on all slots.
    Clear,
    /// Every stroke so many slots later, over the end to the start; negative is
    /// earlier.
    Rotate(i64),
    /// Another grid and other strokes altogether; the letter stays.
    Become(Cell),
}

/// The lines of a cell or ostinato as a text editor shows them, its own or taken
/// over from a parent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lines {
    /// The grid.
    pub grid: Grid,
    /// The sticking line.
    pub sticking: String,
    /// The voices line; empty where none is stated.
    pub voices: String,
    /// Whether it states the grid, the sticking and the voices itself.
    pub own: [bool; 3],
}

impl Lines {
    /// The lines of a cell or ostinato, if it is known.
    pub fn of(score: &Score, owner: &Owner) -> Option<Lines> {
        let text = |grid: &Grid, sticking: &[StickSlot], voices: Option<&[VoiceSlot]>, own| Lines {
            grid: grid.clone(),
            sticking: sticking_text(sticking, Some(grid)),
            voices: voices.map_or(String::new(), |v| voices_text(v, Some(grid))),
            own,
        };
        match owner {
            Owner::Cell(letter) => {
                let index = score.cells.iter().position(|c| c.letter == *letter)?;
                let from = sources(score).ok()?[index];
                let cells = &score.cells;
                let voices = from.voices.and_then(|i| cells[i].voices.as_deref());
                let grid = cells[from.grid?].grid.as_ref()?;
                let sticking = cells[from.sticking?].sticking.as_deref()?;
                let own = [from.grid, from.sticking, from.voices].map(|i| i == Some(index));
                Some(text(grid, sticking, voices, own))
            }
            Owner::Ostinato(name) => {
                let o = score.ostinatos.iter().find(|o| o.name == *name)?;
                let own = [true, true, o.voices.is_some()];
                Some(text(&o.grid, &o.sticking, o.voices.as_deref(), own))
            }
        }
    }
}

impl fmt::Display for Owner {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Owner::Cell(letter) => fmt::Display::fmt(letter, f),
            Owner::Ostinato(name) => write!(f, "ostinato {name}"),
        }
    }
}

/// What is edited and where in the score it stands.
enum Found {
    Cell(usize, Before),
    Ostinato(usize),
}

impl Found {
    fn spot(&self, line: Line) -> Spot {
        match self {
            Found::Cell(i, _) => Spot::Cell(*i, line),
            Found::Ostinato(i) => Spot::Ostinato(*i, line),
        }
    }
}

fn look(owner: &Owner, score: &Score) -> Result<(Found, Was), Fault> {
    match owner {
        Owner::Cell(letter) => {
            let index = find(score, letter)?;
            let before = Before::of(score)?;
            let was = before.get(letter).cloned();
            // Every letter of a score that resolves is there.
            let was = was.ok_or_else(|| unknown(owner))?;
            Ok((Found::Cell(index, before), was))
        }
        Owner::Ostinato(name) => {
            let index = score.ostinatos.iter().position(|o| o.name == *name);
            let index = index.ok_or_else(|| unknown(owner))?;
            let o = &score.ostinatos[index];
            let letter = Letter::new("O").ok_or_else(|| unknown(owner))?;
            let was = Was {
                cell: as_cell(letter, &o.grid, o.slots()),
                voices: o.voices.clone(),
            };
            Ok((Found::Ostinato(index), was))
        }
    }
}

fn unknown(owner: &Owner) -> Fault {
    let problem = format!("there is no {owner}");
    let allowed = "allowed is one of the score";
    refuse(Spot::File, problem, allowed, None)
}

/// Makes the edit.
pub(super) fn make(owner: &Owner, edit: &CellEdit, work: &mut Work) -> Result<(), ScoreError> {
    let (found, was) = look(owner, &work.score)?;
    if let Owner::Cell(letter) = owner {
        work.focus.letter = Some(letter.clone());
    }
    work.focus.slot = slot_of(edit);
    work.label = label(owner, edit);
    if let CellEdit::Voices(text) = edit {
        return set_voices(&found, text.as_deref(), work);
    }
    let cell = changed(owner, edit, &found, &was, &mut work.told)?;
    match found {
        Found::Cell(index, before) => {
            restate(&mut work.score, index, &cell, Some(&was))?;
            keep_variations(&mut work.score, &before, &[], &mut work.told)?;
        }
        Found::Ostinato(index) => {
            restate_ostinato(&mut work.score.ostinatos[index], &cell, &was);
        }
    }
    Ok(())
}

fn slot_of(edit: &CellEdit) -> Option<usize> {
    use CellEdit::*;
    match edit {
        Put { slot, .. } | Add { slot, .. } | Remove { slot, .. } | Accent { slot, .. } => {
            Some(*slot)
        }
        Ghost { slot, .. } | Ornament { slot, .. } | Articulation { slot, .. } => Some(*slot),
        Voice { slot, .. } | SwapHand { slot } => Some(*slot),
        _ => None,
    }
}

fn label(owner: &Owner, edit: &CellEdit) -> String {
    use CellEdit::*;
    let what = match edit {
        Put { .. } | Add { .. } => "Stroke on",
        Remove { .. } => "Remove stroke of",
        Accent { .. } => "Accent on",
        Ghost { .. } => "Ghost note on",
        Ornament { .. } => "Ornament on",
        Articulation { .. } => "Articulation on",
        Voice { .. } => "Voice on",
        SwapHand { .. } => "Other hand on",
        Sticking(_) => "Sticking of",
        Voices(_) => "Voices of",
        Grid { .. } => "Grid of",
        Span { .. } => "Span of",
        AddSpan { .. } => "Add span to",
        RemoveSpan(_) => "Remove span of",
        Clear => "Clear",
        Rotate(_) => "Rotate",
        Become(_) => "Strokes of",
    };
    match slot_of(edit) {
        Some(slot) => format!("{what} {owner}, slot {}", slot.saturating_add(1)),
        None => format!("{what} {owner}"),
    }
}

/// The cell after the edit.
fn changed(
    owner: &Owner,
    edit: &CellEdit,
    found: &Found,
    was: &Was,
    told: &mut Vec<String>,
) -> Result<Cell, ScoreError> {
    if let CellEdit::Span { to: span, .. } | CellEdit::AddSpan { span, .. } = edit
        && Span::new(span.slots, span.length).is_none()
    {
        let problem = format!("a span of {} slots over {} beats", span.slots, span.length);
        let allowed = format!("allowed are 1 to {MAX_SLOTS_PER_SPAN} slots over more than 0 beats");
        return Err(refuse(found.spot(Line::Grid), problem, &allowed, None).into());
    }
    let mut cell = was.cell.clone();
    let count = cell.slots.len();
    let spot = found.spot(Line::Sticking);
    if let Some(slot) = slot_of(edit) {
        let Some(slot) = cell.slots.get_mut(slot) else {
            let problem = format!("{owner} has no slot {}", slot.saturating_add(1));
            let allowed = format!("allowed are 1 to {count}");
            return Err(refuse(spot, problem, &allowed, None).into());
        };
        on_slot(slot, edit, spot)?;
        return Ok(cell);
    }
    match edit {
        CellEdit::Sticking(text) => {
            let line = read_sticking(text).map_err(|e| at(e, spot))?;
            let name = format!("{owner}");
            if let Some(kind) = self::count(&name, "sticking", line.len(), &cell.grid) {
                return Err(Fault::new(spot, kind).into());
            }
            cell.slots = restuck(&line, &cell.slots);
        }
        CellEdit::Grid { grid, way } => {
            cell = regrid(&cell, grid, *way, 0, found.spot(Line::Grid), told)?;
        }
        CellEdit::Clear => cell.slots.iter_mut().for_each(Slot::clear),
        CellEdit::Rotate(by) => {
            let by = by.rem_euclid(i64::try_from(count).unwrap_or(i64::MAX).max(1));
            cell.slots.rotate_right(usize::try_from(by).unwrap_or(0));
        }
        CellEdit::Become(other) => {
            cell.grid = other.grid.clone();
            cell.slots = other.slots.clone();
            cell.slots.resize(cell.grid.slot_count(), Slot::new());
        }
        CellEdit::Span { span, to, way } => {
            let parts = spans(&cell, *span, owner, found)?;
            cell = respan(&cell, &parts, *to, *way, found, told)?;
        }
        CellEdit::AddSpan { at, span } => {
            let mut all = cell.grid.spans().to_vec();
            if *at > all.len() {
                return Err(no_span(*at, owner, found).into());
            }
            let slots_before: usize = all[..*at].iter().map(|s| usize::from(s.slots)).sum();
            let rests = vec![Slot::new(); usize::from(span.slots)];
            all.insert(*at, *span);
            cell.slots.splice(slots_before..slots_before, rests);
            cell.grid = Grid::new(all).unwrap_or(cell.grid);
        }
        CellEdit::RemoveSpan(at) => {
            let parts = spans(&cell, *at, owner, found)?;
            let mut all = cell.grid.spans().to_vec();
            all.remove(*at);
            let Some(grid) = Grid::new(all) else {
                let problem = format!("{owner} has one span only");
                let mend = Some("delete the cell instead".into());
                let allowed = "a grid has at least one";
                return Err(refuse(found.spot(Line::Grid), problem, allowed, mend).into());
            };
            cell.grid = grid;
            cell.slots.drain(parts);
        }
        // Those of one slot are done above, the voices line by its own way.
        _ => {}
    }
    Ok(cell)
}

fn on_slot(slot: &mut Slot, edit: &CellEdit, spot: Spot) -> Result<(), Fault> {
    match edit {
        CellEdit::Put { stroke, .. } => *slot = vec![*stroke],
        CellEdit::Add { stroke, .. } => slots::add(slot, *stroke),
        CellEdit::Remove { limb, .. } => slots::remove(slot, *limb),
        CellEdit::Accent { limb, .. } => slots::toggle(slot, *limb, Level::Accent, spot)?,
        CellEdit::Ghost { limb, .. } => slots::toggle(slot, *limb, Level::Ghost, spot)?,
        CellEdit::Ornament { limb, .. } => slots::cycle(slot, *limb, spot)?,
        CellEdit::Articulation {
            limb, articulation, ..
        } => slots::articulate(slot, *limb, *articulation, spot)?,
        CellEdit::Voice { limb, voice, .. } => slots::voice(slot, *limb, *voice, spot)?,
        CellEdit::SwapHand { .. } => slots::swap(slot, spot)?,
        _ => {}
    }
    Ok(())
}

/// An error of a typed line, where an editor shows it.
fn at(mut error: ScoreError, spot: Spot) -> ScoreError {
    error.spot = spot;
    error
}

/// The slots with another sticking: voices stay with their limbs, or else with
/// the hands; a stroke on a former rest goes on where its limb was.
fn restuck(line: &[StickSlot], old: &[Slot]) -> Vec<Slot> {
    let mut last: Vec<Stroke> = Vec::new();
    let mut out = Vec::with_capacity(line.len());
    for (sticks, old) in line.iter().zip(old) {
        let mut slot = Slot::with_capacity(sticks.len());
        for token in sticks {
            let foot = token.limb.is_foot();
            let own = |s: &&Stroke| s.limb == token.limb;
            let hand = |s: &&Stroke| !foot && !s.limb.is_foot();
            let like = (old.iter().find(own))
                .or_else(|| old.iter().find(hand))
                .or_else(|| last.iter().find(own))
                .or_else(|| last.iter().find(hand));
            let plain = Stroke::plain(token.limb);
            let like = like.copied().unwrap_or(plain);
            slot.push(Stroke {
                limb: token.limb,
                voice: like.voice,
                articulation: like.articulation,
                level: token.level,
                graces: token.graces,
                buzz: token.buzz,
            });
        }
        if slot.iter().any(|s| !s.limb.is_foot()) {
            last.retain(|s| s.limb.is_foot());
        }
        for stroke in &slot {
            last.retain(|s| s.limb != stroke.limb);
            last.push(*stroke);
        }
        out.push(slot);
    }
    out
}

fn no_span(span: usize, owner: &Owner, found: &Found) -> Fault {
    let problem = format!("{owner} has no span {}", span.saturating_add(1));
    let allowed = "allowed is a span of its grid";
    refuse(found.spot(Line::Grid), problem, allowed, None)
}

/// The slots of a span.
fn spans(
    cell: &Cell,
    span: usize,
    owner: &Owner,
    found: &Found,
) -> Result<std::ops::Range<usize>, Fault> {
    let all = cell.grid.spans();
    let own = all.get(span).ok_or_else(|| no_span(span, owner, found))?;
    let start: usize = all[..span].iter().map(|s| usize::from(s.slots)).sum();
    Ok(start..start + usize::from(own.slots))
}

/// The cell with the span that has the slots `part` put on another.
fn respan(
    cell: &Cell,
    part: &std::ops::Range<usize>,
    to: Span,
    way: Way,
    found: &Found,
    told: &mut Vec<String>,
) -> Result<Cell, Fault> {
    let mut all = cell.grid.spans().to_vec();
    let mut at = 0;
    let mut before = 0;
    while before < part.start {
        before += all.get(at).map_or(1, |s| usize::from(s.slots));
        at += 1;
    }
    let grid_of = |span: Span| Grid::new(vec![span]);
    let (Some(own), Some(grid)) = (all.get(at).copied().and_then(grid_of), grid_of(to)) else {
        return Ok(cell.clone());
    };
    let piece = Cell {
        letter: cell.letter.clone(),
        grid: own,
        slots: cell.slots[part.clone()].to_vec(),
    };
    let piece = regrid(&piece, &grid, way, part.start, found.spot(Line::Grid), told)?;
    all.splice(at..=at, piece.grid.spans().iter().copied());
    let mut slots = cell.slots.clone();
    slots.splice(part.clone(), piece.slots);
    Ok(Cell {
        letter: cell.letter.clone(),
        grid: Grid::new(all).unwrap_or_else(|| cell.grid.clone()),
        slots,
    })
}

fn set_voices(found: &Found, text: Option<&str>, work: &mut Work) -> Result<(), ScoreError> {
    let spot = found.spot(Line::Voices);
    let line = text.map(read_voices).transpose().map_err(|e| at(e, spot))?;
    match found {
        Found::Cell(index, before) => {
            let parent = match &work.score.cells[*index].like {
                Some(like) => sources(&work.score)?[find(&work.score, like)?].voices,
                None => None,
            };
            let parents = parent.and_then(|i| work.score.cells[i].voices.as_ref());
            let line = line.filter(|line| parents != Some(line));
            work.score.cells[*index].voices = line;
            // The cell's own complaint, not that of a variation.
            crate::score::resolve::resolve(&work.score, *index, sources(&work.score)?[*index])?;
            keep_variations(&mut work.score, before, &[], &mut work.told)?;
        }
        Found::Ostinato(index) => work.score.ostinatos[*index].voices = line,
    }
    Ok(())
}
