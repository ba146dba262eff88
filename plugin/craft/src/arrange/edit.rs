//! Edits of a form.

use crate::carry::cut;
use barform_score::music::{Beats, Cell, Fit, Letter, Subdivision};
use barform_score::score::{FormItem, Overrides};
use std::fmt;

/// The place of an item: its index in the form, then in each group on the way.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Path(pub Vec<usize>);

/// One change of a form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Edit {
    /// The item that is changed.
    pub path: Path,
    /// What is done to it.
    pub kind: EditKind,
    /// The letter it is done to; `None` for a group.
    pub letter: Option<Letter>,
}

/// What is done to an item.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum EditKind {
    /// A group gets another repeat count.
    Times {
        /// From.
        from: u32,
        /// To.
        to: u32,
    },
    /// A letter is played once more.
    Again,
    /// A letter or group is taken out.
    Drop,
    /// A carried letter is refit instead: it keeps its length.
    Refit(Subdivision),
    /// Another letter in its place.
    Swap(Letter),
    /// A letter is carried to another subdivision.
    Carry(Subdivision),
    /// A letter is cut after so many slots, under a letter of its own.
    Cut {
        /// Slots that stay.
        slots: usize,
        /// The new letter of the cut cell.
        as_letter: Letter,
    },
}

impl Edit {
    /// The form after the edit, and the cell that the edit adds. `None` if there
    /// is no such item, or nothing would be left of a group, the form or the
    /// letters between two bar lines.
    pub fn apply(
        &self,
        items: &[FormItem],
        cells: &[Cell],
    ) -> Option<(Vec<FormItem>, Option<Cell>)> {
        let mut items = items.to_vec();
        let mut added = None;
        let (at, outer) = self.path.0.split_last()?;
        let mut list = &mut items;
        for i in outer {
            let FormItem::Group { items, .. } = list.get_mut(*i)? else {
                return None;
            };
            list = items;
        }
        let item = list.get_mut(*at)?;
        match (&self.kind, item) {
            (EditKind::Times { to, .. }, FormItem::Group { times, .. }) => *times = *to,
            (EditKind::Again, FormItem::Letter { .. }) => {
                let again = list[*at].clone();
                list.insert(*at, again);
            }
            (EditKind::Drop, FormItem::Letter { .. } | FormItem::Group { .. }) => {
                list.remove(*at);
                if !is_sound(list) {
                    return None;
                }
            }
            (EditKind::Swap(to), FormItem::Letter { letter, .. }) => *letter = to.clone(),
            (EditKind::Refit(to), FormItem::Letter { overrides, .. }) => {
                overrides.subdivision = Some((to.clone(), Fit::Refit));
            }
            (EditKind::Carry(to), FormItem::Letter { overrides, .. }) => {
                overrides.subdivision = Some((to.clone(), Fit::Carry));
            }
            (EditKind::Cut { slots, as_letter }, FormItem::Letter { letter, .. }) => {
                let cell = cells.iter().find(|c| c.letter == *letter)?;
                let cell = cut(cell, *slots).ok()?;
                added = Some(Cell {
                    letter: as_letter.clone(),
                    ..cell
                });
                *letter = as_letter.clone();
            }
            _ => return None,
        }
        Some((items, added))
    }
}

/// Whether a list of items has a letter, and one between any two bar lines.
fn is_sound(items: &[FormItem]) -> bool {
    let line = |item: &FormItem| matches!(item, FormItem::BarLine);
    !items.iter().all(line) && !items.windows(2).any(|w| line(&w[0]) && line(&w[1]))
}

/// Every edit that could be made to an item, whether it mends anything or not.
/// `outer` is the subdivision that holds there.
pub(super) fn candidates(
    path: &Path,
    item: &FormItem,
    cells: &[Cell],
    outer: Option<&(Subdivision, Fit)>,
) -> Vec<Edit> {
    let letter_of = match item {
        FormItem::Letter { letter, .. } => Some(letter.clone()),
        _ => None,
    };
    let edit = |kind| Edit {
        path: path.clone(),
        kind,
        letter: letter_of.clone(),
    };
    let mut found = Vec::new();
    match item {
        FormItem::BarLine => {}
        FormItem::Group { times, .. } => {
            // More than a dozen repeats off is no longer an edit of this form.
            let range = times.saturating_sub(12).max(1)..=times.saturating_add(12).min(9_999);
            for to in range.filter(|to| to != times) {
                found.push(edit(EditKind::Times { from: *times, to }));
            }
            found.push(edit(EditKind::Drop));
        }
        FormItem::Letter { letter, overrides } => {
            found.push(edit(EditKind::Again));
            found.push(edit(EditKind::Drop));
            let holds = overrides.subdivision.as_ref().or(outer);
            if let Some((to, Fit::Carry)) = holds {
                found.push(edit(EditKind::Refit(to.clone())));
            }
            let others = cells.iter().filter(|c| c.letter != *letter);
            found.extend(others.map(|c| edit(EditKind::Swap(c.letter.clone()))));
            for (name, ..) in Subdivision::NAMES {
                let Some(to) = Subdivision::from_name(name) else {
                    continue;
                };
                if holds != Some(&(to.clone(), Fit::Carry)) {
                    found.push(edit(EditKind::Carry(to)));
                }
            }
            let free = free_letter(letter, cells);
            if let (Some(cell), Some(free)) = (cells.iter().find(|c| c.letter == *letter), free) {
                let cut = |slots| EditKind::Cut {
                    slots,
                    as_letter: free.clone(),
                };
                found.extend((1..cell.slots.len()).map(|slots| edit(cut(slots))));
            }
        }
    }
    found
}

/// The letter with the fewest primes more that no cell has yet.
fn free_letter(letter: &Letter, cells: &[Cell]) -> Option<Letter> {
    let mut free = letter.primed()?;
    while cells.iter().any(|c| c.letter == free) {
        free = free.primed()?;
    }
    Some(free)
}

/// The item at a path and the subdivision that holds around it.
pub(super) fn item_at<'a>(
    path: &Path,
    items: &'a [FormItem],
    all: &'a Overrides,
) -> Option<(&'a FormItem, Option<&'a (Subdivision, Fit)>)> {
    let (last, outer) = path.0.split_last()?;
    let (mut list, mut holds) = (items, all.subdivision.as_ref());
    for i in outer {
        let FormItem::Group {
            items, overrides, ..
        } = list.get(*i)?
        else {
            return None;
        };
        (list, holds) = (items, overrides.subdivision.as_ref().or(holds));
    }
    Some((list.get(*last)?, holds))
}

impl fmt::Display for Path {
    /// Counted from 1, groups before what is in them: `3.1`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (depth, i) in self.0.iter().enumerate() {
            let dot = if depth == 0 { "" } else { "." };
            write!(f, "{dot}{}", i + 1)?;
        }
        Ok(())
    }
}

impl fmt::Display for Edit {
    /// One line: `drop B (item 3)`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let what = self
            .letter
            .as_ref()
            .map_or("the group".to_owned(), Letter::to_string);
        match &self.kind {
            EditKind::Times { from, to } => write!(f, "repeat {what} x{to} instead of x{from}")?,
            EditKind::Again => write!(f, "play {what} once more")?,
            EditKind::Drop => write!(f, "drop {what}")?,
            EditKind::Refit(to) => write!(f, "refit {what} to {to} instead of carrying it")?,
            EditKind::Swap(to) => write!(f, "play {to} instead of {what}")?,
            EditKind::Carry(to) => write!(f, "carry {what} to {to}")?,
            EditKind::Cut {
                slots: 1,
                as_letter,
            } => {
                write!(f, "cut {what} after 1 slot, as {as_letter}")?;
            }
            EditKind::Cut { slots, as_letter } => {
                write!(f, "cut {what} after {slots} slots, as {as_letter}")?;
            }
        }
        write!(f, " (item {})", self.path)
    }
}

/// Length of the whole form, repeats written out.
pub(super) fn total(
    steps: &[super::walk::Step],
) -> Result<Beats, barform_score::music::BeatsError> {
    steps.iter().try_fold(Beats::ZERO, |sum, step| match step {
        super::walk::Step::Letter { length, .. } => sum.checked_add(*length),
        super::walk::Step::BarLine { .. } => Ok(sum),
    })
}
