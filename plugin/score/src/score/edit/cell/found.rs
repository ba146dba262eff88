//! Whose strokes an edit is about, and what they were.

use super::Owner;
use crate::music::Letter;
use crate::score::edit::letters::find;
use crate::score::edit::refuse;
use crate::score::edit::restate::{Before, Was, as_cell};
use crate::score::error::{Fault, Line, Spot};
use crate::score::model::Score;

/// What is edited and where in the score it stands.
pub(super) enum Found {
    Cell(usize, Before),
    Ostinato(usize),
}

impl Found {
    pub fn spot(&self, line: Line) -> Spot {
        match self {
            Found::Cell(i, _) => Spot::Cell(*i, line),
            Found::Ostinato(i) => Spot::Ostinato(*i, line),
        }
    }
}

/// Finds a cell or an ostinato, and what it plays.
pub(super) fn look(owner: &Owner, score: &Score) -> Result<(Found, Was), Fault> {
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
