//! Edits of the list of cells: added, named, deleted; and who plays them.

use super::form::no_letter;
use super::path::{ItemPath, each};
use super::restate::{Before, keep_variations};
use super::{Work, refuse};
use crate::music::{Grid, Letter};
use crate::score::error::{Fault, Line, Spot};
use crate::score::form::FormItem;
use crate::score::model::{CellDef, Score, StickSlot};
use crate::score::resolve::unknown_cell;
use std::collections::HashSet;

/// One change of the list of cells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LetterEdit {
    /// Adds a cell of rests.
    Add {
        /// Its letter; the next free one if none is given.
        letter: Option<Letter>,
        /// Its grid.
        grid: Grid,
    },
    /// Names a cell, wherever it stands.
    Rename {
        /// Its letter.
        from: Letter,
        /// Its new letter.
        to: Letter,
    },
    /// Deletes a cell. Its variations go on as they are, without it.
    Delete {
        /// Its letter.
        letter: Letter,
        /// What to do where the form plays it.
        uses: Uses,
    },
}

/// What becomes of the places where a form plays a cell that is deleted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Uses {
    /// The cell is not deleted; the error lists the places.
    #[default]
    Refuse,
    /// They are taken out of the form.
    Remove,
}

/// Who makes use of a cell.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Used {
    /// Items of the form.
    pub items: Vec<ItemPath>,
    /// Variations of it, in the order written.
    pub variations: Vec<Letter>,
}

impl Used {
    /// Who makes use of a letter.
    pub fn of(score: &Score, letter: &Letter) -> Used {
        let like = |c: &&CellDef| c.like.as_ref() == Some(letter);
        let mut used = Used {
            items: Vec::new(),
            variations: score
                .cells
                .iter()
                .filter(like)
                .map(|c| c.letter.clone())
                .collect(),
        };
        for (i, section) in score.sections.iter().enumerate() {
            let mut path = ItemPath::new(i, Vec::new());
            used.find(&section.items, letter, &mut path);
        }
        used
    }

    fn find(&mut self, items: &[FormItem], letter: &Letter, path: &mut ItemPath) {
        for (i, item) in items.iter().enumerate() {
            path.items.push(i);
            match item {
                FormItem::Letter { letter: l, .. } if l == letter => self.items.push(path.clone()),
                FormItem::Group { items, .. } => self.find(items, letter, path),
                _ => {}
            }
            path.items.pop();
        }
    }
}

/// The next free letter: A to Z, then A1 to Z1, up to 99.
pub fn next_letter(score: &Score) -> Option<Letter> {
    letter_beside(score, &[])
}

/// The next free letter that is none of `others` either.
pub(super) fn letter_beside(score: &Score, others: &[CellDef]) -> Option<Letter> {
    let all = score.cells.iter().chain(others);
    let taken: HashSet<&Letter> = all.map(|c| &c.letter).collect();
    let number = |n: u8| {
        if n == 0 { String::new() } else { n.to_string() }
    };
    (0..=99_u8)
        .flat_map(|n| ('A'..='Z').map(move |c| format!("{c}{}", number(n))))
        .filter_map(|text| Letter::new(&text))
        .find(|letter| !taken.contains(letter))
}

/// The letter with the next free primes after `letter`.
pub fn next_prime(score: &Score, letter: &Letter) -> Option<Letter> {
    prime_beside(score, letter, &[])
}

/// The letter with the next free primes that is none of `others` either.
pub(super) fn prime_beside(score: &Score, letter: &Letter, others: &[CellDef]) -> Option<Letter> {
    let mut prime = letter.primed()?;
    let other = |prime: &Letter| others.iter().any(|c| c.letter == *prime);
    while index_of(score, &prime).is_some() || other(&prime) {
        prime = prime.primed()?;
    }
    Some(prime)
}

/// Index of a cell.
pub(super) fn index_of(score: &Score, letter: &Letter) -> Option<usize> {
    score.cells.iter().position(|c| c.letter == *letter)
}

/// Index of a cell, or that there is none.
pub(super) fn find(score: &Score, letter: &Letter) -> Result<usize, Fault> {
    index_of(score, letter).ok_or_else(|| {
        let spot = Spot::Cell(score.cells.len(), Line::Head);
        Fault::new(spot, unknown_cell(score, letter))
    })
}

/// A cell of rests.
pub(super) fn resting(letter: Letter, grid: &Grid) -> CellDef {
    CellDef {
        letter,
        like: None,
        grid: Some(grid.clone()),
        sticking: Some(vec![StickSlot::new(); grid.slot_count()]),
        voices: None,
    }
}

/// Adds a cell: after the last of its letter with other primes, else at the end.
pub(super) fn define(work: &mut Work, def: CellDef) {
    let plain = |l: &Letter| l.as_str().trim_end_matches('\'').to_owned();
    let family = plain(&def.letter);
    let cells = &mut work.score.cells;
    let last = cells.iter().rposition(|c| plain(&c.letter) == family);
    work.added.push(def.letter.clone());
    work.focus.letter = Some(def.letter.clone());
    cells.insert(last.map_or(cells.len(), |i| i + 1), def);
}

/// Makes the edit.
pub(super) fn make(edit: &LetterEdit, work: &mut Work) -> Result<(), Fault> {
    match edit {
        LetterEdit::Add { letter, grid } => {
            let letter = letter.clone().or_else(|| next_letter(&work.score));
            let letter = letter.ok_or_else(no_letter)?;
            free(&work.score, &letter)?;
            work.label = format!("New cell {letter}");
            define(work, resting(letter, grid));
            Ok(())
        }
        LetterEdit::Rename { from, to } => {
            let index = find(&work.score, from)?;
            if from != to {
                free(&work.score, to)?;
            }
            work.label = format!("Rename {from} to {to}");
            work.focus.letter = Some(to.clone());
            let score = &mut work.score;
            score.cells[index].letter.clone_from(to);
            let likes = score.cells.iter_mut().filter_map(|c| c.like.as_mut());
            likes
                .filter(|like| *like == from)
                .for_each(|l| l.clone_from(to));
            for section in &mut score.sections {
                each(&mut section.items, &mut |item| match item {
                    FormItem::Letter { letter, .. } if letter == from => letter.clone_from(to),
                    _ => {}
                });
            }
            Ok(())
        }
        LetterEdit::Delete { letter, uses } => delete(work, letter, *uses),
    }
}

fn free(score: &Score, letter: &Letter) -> Result<(), Fault> {
    let Some(index) = index_of(score, letter) else {
        return Ok(());
    };
    let mend = next_letter(score).map(|free| format!("{free} is free"));
    let problem = format!("there is a cell {letter} already");
    Err(refuse(
        Spot::Cell(index, Line::Head),
        problem,
        "each letter is one cell's",
        mend,
    ))
}

fn delete(work: &mut Work, letter: &Letter, uses: Uses) -> Result<(), Fault> {
    let index = find(&work.score, letter)?;
    let used = Used::of(&work.score, letter);
    if uses == Uses::Refuse && !used.items.is_empty() {
        const MOST: usize = 5;
        let mut places: Vec<String> = used.items.iter().map(ItemPath::to_string).collect();
        let more = places.len().saturating_sub(MOST);
        places.truncate(MOST);
        let more = if more > 0 {
            format!(" and {more} more")
        } else {
            String::new()
        };
        let problem = format!("the form plays {letter}: {}{more}", places.join(", "));
        let mend = Some("take those out as well, or play another letter there".into());
        let allowed = "a cell that the form plays stays";
        return Err(refuse(
            Spot::Cell(index, Line::Head),
            problem,
            allowed,
            mend,
        ));
    }
    work.label = format!("Delete cell {letter}");
    let before = Before::of(&work.score)?;
    let gone = work.score.cells.remove(index);
    for def in &mut work.score.cells {
        if def.like.as_ref() == Some(letter) {
            def.like.clone_from(&gone.like);
            work.told.push(match &gone.like {
                Some(like) => format!("{} is like {like} now", def.letter),
                None => format!("{} stands on its own now", def.letter),
            });
        }
    }
    keep_variations(&mut work.score, &before, &used.variations, &mut work.told)?;
    for at in used.items.iter().rev() {
        let (i, _) = at.split()?;
        at.list(&mut work.score.sections)?.remove(i);
    }
    Ok(())
}
