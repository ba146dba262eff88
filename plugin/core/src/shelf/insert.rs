//! Cells and form of one score put into another.

mod letters;

pub(super) use letters::stated;

use super::error::ShelfError;
use crate::music::Letter;
use crate::score::{FormItem, Overrides, Score, Section, Voicing};
use letters::Letters;
use std::collections::HashMap;

/// Where the letters go.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum At {
    /// Nowhere: the cells alone are put in.
    Cells,
    /// Into the form of a section, before one of its items. Both count from 0;
    /// an item past the last is the end.
    Form {
        /// The section.
        section: usize,
        /// The item.
        item: usize,
    },
}

/// What was put in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Inserted {
    /// Every letter as it was, and as it is called now.
    pub letters: Vec<(Letter, Letter)>,
    /// Those that were not there before, in the order they now stand.
    pub added: Vec<Letter>,
    /// The form with the letters as they are called now; in the score too, if
    /// [`At::Form`] was asked for.
    pub form: Vec<FormItem>,
    /// Whether bar-line checks of the form were left out, because bar lines do
    /// not fall there in the other score.
    pub bar_lines_left_out: bool,
}

/// Puts the cells of `from` into `into`, and its form at a place. A cell that is
/// there already, whatever its letter, is used and not put in again; a letter
/// that means something else gets another. Variations follow their parents.
/// Voicings that the form names come along. Tempo, meter, pickup, kit and
/// ostinatos of `from` do not: they belong to the whole score. Sections come as
/// groups where they override something, without their names and meters.
///
/// # Errors
/// [`ShelfError::DoesNotFit`] if there is no such section or no letter left;
/// [`ShelfError::Score`] if the result would not check. `into` is then as before.
pub fn insert_score(from: &Score, into: &mut Score, at: At) -> Result<Inserted, ShelfError> {
    let mut new = into.clone();
    let letters = Letters::merge(from, &mut new)?;
    let voicings = match at {
        At::Cells => HashMap::new(),
        At::Form { .. } => merge_voicings(from, &mut new),
    };
    let rewrite = Rewrite {
        letters: &letters.names,
        voicings: &voicings,
    };
    let mut form = Vec::new();
    for section in &from.sections {
        form.extend(rewrite.section(section));
    }
    let names = |old: &Letter| Some((old.clone(), letters.names.get(old)?.clone()));
    let mut inserted = Inserted {
        letters: from.cells.iter().filter_map(|c| names(&c.letter)).collect(),
        added: letters.added,
        form,
        bar_lines_left_out: false,
    };
    if let At::Form { section, item } = at {
        let place = |new: &mut Score, form: &[FormItem]| {
            let sections = new.sections.len();
            let Some(section) = new.sections.get_mut(section) else {
                return Err(ShelfError::DoesNotFit {
                    problem: format!("there is no section {}; there are {sections}", section + 1),
                });
            };
            let item = item.min(section.items.len());
            section.items.splice(item..item, form.iter().cloned());
            Ok(())
        };
        let mut with_bar_lines = new.clone();
        place(&mut with_bar_lines, &inserted.form)?;
        if with_bar_lines.check().is_ok() {
            new = with_bar_lines;
        } else {
            inserted.bar_lines_left_out = drop_bar_lines(&mut inserted.form);
            place(&mut new, &inserted.form)?;
        }
    }
    new.check()?;
    *into = new;
    Ok(inserted)
}

/// Takes the bar-line checks out; whether there were any.
fn drop_bar_lines(items: &mut Vec<FormItem>) -> bool {
    let before = items.len();
    items.retain(|item| *item != FormItem::BarLine);
    let mut dropped = items.len() < before;
    for item in items {
        if let FormItem::Group { items, .. } = item {
            dropped |= drop_bar_lines(items);
        }
    }
    dropped
}

/// Puts in the voicings that a form names; how each is called now.
fn merge_voicings(from: &Score, into: &mut Score) -> HashMap<String, String> {
    let mut names = HashMap::new();
    for voicing in from.voicings.iter().filter(|v| is_named(from, &v.name)) {
        let same = into.voicings.iter().filter(|v| v.map == voicing.map);
        let same = same.min_by_key(|v| v.name != voicing.name);
        if let Some(same) = same {
            names.insert(voicing.name.clone(), same.name.clone());
            continue;
        }
        let taken = |name: &String| into.voicings.iter().any(|v| v.name == *name);
        let numbered = (2_u32..).map(|n| format!("{}-{n}", voicing.name));
        let mut free = std::iter::once(voicing.name.clone()).chain(numbered);
        let name = free.find(|name| !taken(name)).unwrap_or_default();
        names.insert(voicing.name.clone(), name.clone());
        into.voicings.push(Voicing {
            name,
            map: voicing.map.clone(),
        });
    }
    names
}

fn is_named(score: &Score, name: &str) -> bool {
    fn among(items: &[FormItem], name: &str) -> bool {
        let by = |o: &Overrides| o.voicing.as_deref() == Some(name);
        items.iter().any(|item| match item {
            FormItem::BarLine => false,
            FormItem::Letter { overrides, .. } => by(overrides),
            FormItem::Group {
                items, overrides, ..
            } => by(overrides) || among(items, name),
        })
    }
    let section =
        |s: &Section| s.overrides.voicing.as_deref() == Some(name) || among(&s.items, name);
    score.sections.iter().any(section)
}

/// A form in the words of another score.
struct Rewrite<'a> {
    letters: &'a HashMap<Letter, Letter>,
    voicings: &'a HashMap<String, String>,
}

impl Rewrite<'_> {
    fn section(&self, section: &Section) -> Vec<FormItem> {
        let items = self.items(&section.items);
        if section.overrides.is_empty() {
            return items;
        }
        vec![FormItem::Group {
            items,
            times: 1,
            overrides: self.overrides(&section.overrides),
        }]
    }

    fn items(&self, items: &[FormItem]) -> Vec<FormItem> {
        let item = |item: &FormItem| match item {
            FormItem::BarLine => FormItem::BarLine,
            FormItem::Letter { letter, overrides } => FormItem::Letter {
                letter: self.letters.get(letter).unwrap_or(letter).clone(),
                overrides: self.overrides(overrides),
            },
            FormItem::Group {
                items,
                times,
                overrides,
            } => FormItem::Group {
                items: self.items(items),
                times: *times,
                overrides: self.overrides(overrides),
            },
        };
        items.iter().map(item).collect()
    }

    fn overrides(&self, overrides: &Overrides) -> Overrides {
        let mut new = overrides.clone();
        if let Some(name) = &mut new.voicing
            && let Some(now) = self.voicings.get(name)
        {
            name.clone_from(now);
        }
        new
    }
}
