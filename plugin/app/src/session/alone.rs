//! A cell by itself, to be heard or drawn.

use std::sync::Arc;

use crate::music::{Beats, Cell};
use crate::score::edit::{CellEdit, Edit, LetterEdit, Owner};
use crate::score::{FormItem, Overrides, Score, Section, Timing};
use crate::timeline::Timeline;

/// A score whose form is one cell, once, with the kit, the tempo and the meter of
/// another; `None` if its lengths are too fine.
pub fn alone(score: &Score, cell: &Cell, overrides: Overrides) -> Option<Score> {
    let empty = Score {
        title: String::new(),
        tempo: score.tempo,
        meter: score.meter,
        pickup: Beats::ZERO,
        sections: vec![Section {
            name: String::new(),
            meter: None,
            overrides: Overrides::default(),
            items: vec![FormItem::Letter {
                letter: cell.letter.clone(),
                overrides,
            }],
        }],
        cells: Vec::new(),
        ostinatos: Vec::new(),
        voicings: score.voicings.clone(),
        kit: score.kit.clone(),
        timing: Timing::default(),
    };
    let add = LetterEdit::Add {
        letter: Some(cell.letter.clone()),
        grid: cell.grid.clone(),
    };
    let added = Edit::Letter(add).apply(&empty).ok()?.score;
    let owner = Owner::Cell(cell.letter.clone());
    let edit = Edit::Cell(owner, CellEdit::Become(cell.clone()));
    Some(edit.apply(&added).ok()?.score)
}

/// The same, compiled for playing.
pub fn alone_timeline(score: &Score, cell: &Cell) -> Option<Arc<Timeline>> {
    let score = alone(score, cell, Overrides::default())?;
    Timeline::compile(&score).ok().map(Arc::new)
}
