//! Cells taken out of a score, as a score of their own to keep.

use super::error::ShelfError;
use crate::music::Letter;
use crate::score::edit::stated;
use crate::score::{FormItem, Overrides, Score, Section};

/// A score of some cells of another, their letters in a row as its form; tempo,
/// meter and kit are the other's. A variation whose parent is not among them
/// becomes a cell in its own right.
///
/// # Errors
/// [`ShelfError::DoesNotFit`] if no letter is given or one is not in the score;
/// [`ShelfError::Score`] if the score does not check.
pub fn pick(from: &Score, letters: &[Letter]) -> Result<Score, ShelfError> {
    if letters.is_empty() {
        return Err(ShelfError::DoesNotFit {
            problem: "no letter was chosen".into(),
        });
    }
    for letter in letters {
        if !from.cells.iter().any(|c| c.letter == *letter) {
            return Err(ShelfError::DoesNotFit {
                problem: format!("the score has no cell {letter}"),
            });
        }
    }
    let resolved = from.cells_resolved()?;
    let chosen = from.cells.iter().zip(&resolved);
    let chosen = chosen.filter(|(def, _)| letters.contains(&def.letter));
    let cells = chosen.map(|(def, cell)| match &def.like {
        Some(parent) if !letters.contains(parent) => stated(cell),
        _ => def.clone(),
    });
    let items = letters.iter().map(|letter| FormItem::Letter {
        letter: letter.clone(),
        overrides: Overrides::default(),
    });
    let score = Score {
        title: String::new(),
        tempo: from.tempo,
        meter: from.meter,
        pickup: crate::music::Beats::ZERO,
        sections: vec![Section {
            name: String::new(),
            meter: None,
            overrides: Overrides::default(),
            items: items.collect(),
        }],
        cells: cells.collect(),
        ostinatos: Vec::new(),
        voicings: Vec::new(),
        kit: from.kit.clone(),
    };
    score.check()?;
    Ok(score)
}
