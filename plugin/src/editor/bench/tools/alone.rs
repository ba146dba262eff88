//! A cell by itself, to be heard.

use std::sync::Arc;

use barform_app::music::Cell;
use barform_app::score::edit::{CellEdit, Edit, LetterEdit, Owner};
use barform_app::score::{FormItem, Overrides, Score, Section};
use barform_app::timeline::Timeline;

/// A score whose form is one cell, once, with the kit, the tempo and the meter of
/// another; `None` if its lengths are too fine.
pub fn score_of(score: &Score, cell: &Cell, overrides: Overrides) -> Option<Score> {
    let empty = Score {
        title: String::new(),
        tempo: score.tempo,
        meter: score.meter,
        pickup: barform_app::music::Beats::ZERO,
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
        timing: barform_app::score::Timing::default(),
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
