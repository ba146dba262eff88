//! Cells or a stretch of form taken out of a score, as a score of their own to
//! keep.

use super::error::ShelfError;
use super::insert::is_named;
use crate::music::Letter;
use crate::score::edit::{BarLines, Edit, FormEdit, Loosened, Run, stated};
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
            problem: "no letter was selected".into(),
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
        timing: crate::score::Timing::default(),
    };
    score.check()?;
    Ok(score)
}

/// A score of a stretch of form with the cells and voicings it needs. It plays
/// as it does where it stands: what the groups and the section around it say
/// otherwise comes along, and so does the section's meter. Bar-line checks that
/// do not hold where the stretch begins on a bar line are left out and named.
///
/// # Errors
/// [`ShelfError::DoesNotFit`] if there is no such stretch or it plays no letter;
/// [`ShelfError::Score`] if the result does not check.
pub fn pick_run(from: &Score, run: &Run) -> Result<(Score, Vec<Loosened>), ShelfError> {
    let section = from.sections.get(run.at.section);
    let (Some(section), Some(items)) = (section, run.items(from)) else {
        return Err(ShelfError::DoesNotFit {
            problem: "there is no such stretch of the form".into(),
        });
    };
    let mut items = items.to_vec();
    for overrides in around(section, run).into_iter().rev() {
        if !overrides.is_empty() {
            items = vec![FormItem::Group {
                items,
                times: 1,
                overrides: overrides.clone(),
            }];
        }
    }
    let mut letters = Vec::new();
    played(&items, &mut letters);
    let mut score = pick(from, &letters)?;
    score.meter = section.meter.unwrap_or(from.meter);
    let voicings = from.voicings.iter();
    let part = Section {
        name: String::new(),
        meter: None,
        overrides: section.overrides.clone(),
        items: items.clone(),
    };
    let named = |name: &str| is_named(std::slice::from_ref(&part), name);
    score.voicings = voicings.filter(|v| named(&v.name)).cloned().collect();
    score.sections[0].overrides = section.overrides.clone();
    let edit = Edit::Form(FormEdit::Items {
        section: 0,
        items,
        cells: Vec::new(),
    });
    let done = edit.apply_with(&score, BarLines::Loosen)?;
    Ok((done.score, done.loosened))
}

/// What the groups round a run say otherwise, outermost first.
fn around<'s>(section: &'s Section, run: &Run) -> Vec<&'s Overrides> {
    let mut found = Vec::new();
    let mut list = &section.items;
    let outer = run
        .at
        .items
        .split_last()
        .map_or(&[][..], |(_, outer)| outer);
    for i in outer {
        if let Some(FormItem::Group {
            items, overrides, ..
        }) = list.get(*i)
        {
            found.push(overrides);
            list = items;
        }
    }
    found
}

/// The letters that items play, each once, in order.
fn played(items: &[FormItem], letters: &mut Vec<Letter>) {
    for item in items {
        match item {
            FormItem::BarLine => {}
            FormItem::Letter { letter, .. } if letters.contains(letter) => {}
            FormItem::Letter { letter, .. } => letters.push(letter.clone()),
            FormItem::Group { items, .. } => played(items, letters),
        }
    }
}
