//! A cell by itself, to be heard.

use std::sync::Arc;

use barform_core::music::Cell;
use barform_core::score::edit::{CellEdit, Edit, LetterEdit, Owner};
use barform_core::score::{FormItem, Overrides, Score, Section};
use barform_core::timeline::Timeline;

/// A score whose form is one cell, once, with the kit, the tempo and the meter of
/// another; `None` if its lengths are too fine.
pub fn score_of(score: &Score, cell: &Cell, overrides: Overrides) -> Option<Score> {
    let empty = Score {
        title: String::new(),
        tempo: score.tempo,
        meter: score.meter,
        pickup: barform_core::music::Beats::ZERO,
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
        timing: barform_core::score::Timing::default(),
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
pub fn timeline_of(score: &Score, cell: &Cell) -> Option<Arc<Timeline>> {
    let alone = score_of(score, cell, Overrides::default())?;
    Timeline::compile(&alone).ok().map(Arc::new)
}
