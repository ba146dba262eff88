//! Cells and form of one score put into another.

mod letters;

use crate::music::Letter;
use crate::score::edit::{BarLines, Edit, FormEdit, ItemPath, Loosened};
use crate::score::{FormItem, Overrides, Score, ScoreError, Section, Voicing};
use letters::Letters;
use std::collections::HashMap;

/// What was put in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Inserted {
    /// Every letter as it was, and as it is called now.
    pub letters: Vec<(Letter, Letter)>,
    /// Those that were not there before, in the order they now stand.
    pub added: Vec<Letter>,
    /// The form with the letters as they are called now, for [`FormEdit`];
    /// where it was put in, [`Inserted::loosened`] says what it then lost.
    pub form: Vec<FormItem>,
    /// Bar-line checks of either form that gave way, because no bar line falls
    /// there any more.
    pub loosened: Vec<Loosened>,
}

/// Puts the cells of `from` into `into`, and, where a gap in the form is given,
/// its form there. A cell that is there already, whatever its letter, is used
/// and not put in again; a letter that means something else gets another.
/// Variations follow their parents. Voicings that the form names come along.
/// Tempo, meter, pickup, kit and ostinatos of `from` do not: they belong to the
/// whole score. Sections come as groups where they override something, without
/// their names and meters.
///
/// # Errors
/// If there is no such gap, or the result would not check; `into` is then as
/// before.
pub fn insert_score(
    from: &Score,
    into: &mut Score,
    at: Option<&ItemPath>,
) -> Result<Inserted, ScoreError> {
    let mut new = into.clone();
    let letters = Letters::merge(from, &mut new)?;
    let voicings = merge_voicings(from, &mut new, at.is_some());
    let rewrite = Rewrite {
        letters: &letters.names,
        voicings: &voicings,
    };
    let sections = from.sections.iter();
    let form: Vec<FormItem> = sections.flat_map(|s| rewrite.section(s)).collect();
    new.check()?;
    let mut loosened = Vec::new();
    if let Some(at) = at {
        let edit = Edit::Form(FormEdit::Insert {
            at: at.clone(),
            items: form.clone(),
        });
        let done = edit.apply_with(&new, BarLines::Loosen)?;
        (new, loosened) = (done.score, done.loosened);
    }
    *into = new;
    let name = |old: &Letter| Some((old.clone(), letters.names.get(old)?.clone()));
    Ok(Inserted {
        letters: from.cells.iter().filter_map(|c| name(&c.letter)).collect(),
        added: letters.added,
        form,
        loosened,
    })
}

/// Puts in the voicings that a form names, if it is `wanted`; how each is called.
fn merge_voicings(from: &Score, into: &mut Score, wanted: bool) -> HashMap<String, String> {
    let mut names = HashMap::new();
    for voicing in from
        .voicings
        .iter()
        .filter(|v| wanted && is_named(&from.sections, &v.name))
    {
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

/// Whether any of the sections plays a voicing of this name.
pub(super) fn is_named(sections: &[Section], name: &str) -> bool {
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
    sections.iter().any(section)
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
