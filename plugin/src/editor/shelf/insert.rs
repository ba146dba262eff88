//! An item into the score.
//!
//! Gives the score changed as one step, what was put in chosen, and what else
//! happened in words.

use barform_app::score::Score;
use barform_app::score::edit::{ItemPath, Owner, Run};
use barform_app::shelf::{Inserted, insert_score};
use barform_app::words;

use super::detail::Where;
use crate::editor::desk::{Desk, Spot};

/// Puts it in. Returns whether it is in.
pub fn insert(desk: &mut Desk, name: &str, from: &Score, place: Where) -> bool {
    let at = gap(desk, place);
    let mut inserted: Option<Inserted> = None;
    let label = format!("Insert {name}");
    let change = desk.change(Spot::Shelf, &label, None, |score| {
        inserted = Some(insert_score(from, score, at.as_ref())?);
        Ok(())
    });
    let (Some(_), Some(inserted)) = (change, inserted) else {
        return false;
    };
    let first = inserted.added.first();
    let letter = first.or(inserted.letters.first().map(|(_, now)| now));
    if let Some(letter) = letter {
        desk.chosen.owner = Some(Owner::Cell(letter.clone()));
        desk.chosen.slot = 0;
    }
    // Where checks gave way the places have moved.
    if let Some(at) = at.filter(|_| inserted.loosened.is_empty()) {
        let run = Run {
            at,
            count: inserted.form.len(),
        };
        desk.chosen.run = Some(run).filter(|run| run.items(desk.score()).is_some());
    }
    desk.tell(said(name, &inserted, place));
    true
}

/// The gap of the form where it goes.
fn gap(desk: &Desk, place: Where) -> Option<ItemPath> {
    let score = desk.score();
    let end = || {
        let section = score.sections.len().checked_sub(1)?;
        let items = score.sections[section].items.len();
        Some(ItemPath::new(section, [items]))
    };
    match place {
        Where::Cells => None,
        Where::End => end(),
        Where::After => {
            let run = desk.chosen.run.as_ref();
            run.map(|run| run.at.further(run.count)).or_else(end)
        }
    }
}

/// What was done, and what was not asked for in so many words.
fn said(name: &str, inserted: &Inserted, place: Where) -> String {
    let mut text = match (place, inserted.added.is_empty()) {
        (Where::Cells, true) => format!("The score has all cells of {name} already."),
        (Where::Cells, false) => format!("The cells of {name} are in the score."),
        _ => format!("{name} is in the form."),
    };
    let renamed = inserted.letters.iter().filter(|(was, now)| was != now);
    for (was, now) in renamed {
        let (was, now) = (words::letter(was), words::letter(now));
        text += &format!(" Its {was} is {now} here.");
    }
    for loosened in &inserted.loosened {
        text += &format!(" {loosened}.");
    }
    text
}
