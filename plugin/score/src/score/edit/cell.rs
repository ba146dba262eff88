//! Edits of what a cell or an ostinato plays.

mod changed;
mod found;
mod lines;
mod spans;

pub use lines::Lines;

use super::Work;
use super::regrid::Way;
use super::restate::{keep_variations, restate, restate_ostinato};
use crate::music::{Articulation, Cell, Grid, Letter, Limb, Span, Stroke, Voice};
use crate::score::error::ScoreError;
use changed::changed;
use found::{Found, look};
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

impl fmt::Display for Owner {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Owner::Cell(letter) => fmt::Display::fmt(letter, f),
            Owner::Ostinato(name) => write!(f, "ostinato {name}"),
        }
    }
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
        return lines::set_voices(&found, text.as_deref(), work);
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
