//! Edits of the sections: put in, named, moved, cut in two, taken out.

use super::path::{ItemPath, Run};
use super::{Work, refuse};
use crate::music::Meter;
use crate::score::error::{Fault, Spot};
use crate::score::form::{FormItem, Overrides};
use crate::score::model::{Score, Section};

/// One change of the list of sections. Sections count from 0.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SectionEdit {
    /// Puts a section before another, or at the end.
    Insert {
        /// Before which; the number of sections for the end.
        at: usize,
        /// Its name; may be empty.
        name: String,
        /// Its form, with at least one letter.
        items: Vec<FormItem>,
    },
    /// Plays a section once more, right after itself.
    Duplicate(usize),
    /// Names a section.
    Rename {
        /// Which.
        section: usize,
        /// Its name; may be empty.
        name: String,
    },
    /// Takes a section out.
    Remove(usize),
    /// Moves a section.
    Move {
        /// Which.
        from: usize,
        /// Its number after the move.
        to: usize,
    },
    /// Cuts a section in two before an item that is in no group. Both parts keep
    /// its meter and overrides, the first part its name.
    Split {
        /// The item the new section begins with.
        at: ItemPath,
        /// Name of the new section; may be empty.
        name: String,
    },
    /// Sets a section's meter, or with `None` that of the score.
    Meter {
        /// Which.
        section: usize,
        /// Its meter.
        meter: Option<Meter>,
    },
}

/// Makes the edit.
pub(super) fn make(edit: &SectionEdit, work: &mut Work) -> Result<(), Fault> {
    let count = work.score.sections.len();
    match edit {
        SectionEdit::Insert { at, name, items } => {
            if *at > count {
                return Err(nowhere(*at));
            }
            work.label = format!("New {}", called(name, *at));
            let section = Section {
                name: name.clone(),
                meter: None,
                overrides: Overrides::default(),
                items: items.clone(),
            };
            insert(work, *at, section);
        }
        SectionEdit::Duplicate(i) => {
            let copy = at(&mut work.score, *i)?.clone();
            work.label = format!("Duplicate {}", called(&copy.name, *i));
            insert(work, i + 1, copy);
        }
        SectionEdit::Rename { section, name } => {
            at(&mut work.score, *section)?.name.clone_from(name);
            work.label = format!("Rename section {}", section + 1);
            work.focus.section = Some(*section);
        }
        SectionEdit::Remove(i) => {
            let name = at(&mut work.score, *i)?.name.clone();
            if count == 1 {
                let problem = "this is the only section";
                return Err(refuse(
                    Spot::Section(0),
                    problem,
                    "a score has at least one",
                    Some("change its letters instead".into()),
                ));
            }
            work.score.sections.remove(*i);
            work.label = format!("Remove {}", called(&name, *i));
            work.focus.section = Some((*i).min(count - 2));
        }
        SectionEdit::Move { from, to } => {
            at(&mut work.score, *to)?;
            let section = at(&mut work.score, *from)?.clone();
            work.label = format!("Move {}", called(&section.name, *from));
            work.score.sections.remove(*from);
            insert(work, *to, section);
        }
        SectionEdit::Split { at: gap, name } => split(work, gap, name)?,
        SectionEdit::Meter { section, meter } => {
            at(&mut work.score, *section)?.meter = *meter;
            work.label = format!("Meter of section {}", section + 1);
            work.focus.section = Some(*section);
        }
    }
    Ok(())
}

fn insert(work: &mut Work, at: usize, section: Section) {
    work.run = Some(Run {
        at: ItemPath::new(at, [0]),
        count: section.items.len(),
    });
    work.score.sections.insert(at, section);
    work.focus.section = Some(at);
}

fn split(work: &mut Work, gap: &ItemPath, name: &str) -> Result<(), Fault> {
    let whole = at(&mut work.score, gap.section)?;
    let [index] = gap.items[..] else {
        let problem = format!("{gap} is in a group");
        let mend = Some("remove the group's parentheses first".into());
        let allowed = "a section begins between items that are in no group";
        return Err(refuse(Spot::Form(gap.section), problem, allowed, mend));
    };
    if index > whole.items.len() {
        return Err(gap.nowhere());
    }
    let part = Section {
        name: name.to_owned(),
        items: whole.items.split_off(index),
        ..whole.clone()
    };
    work.label = format!("Split section {}", gap.section + 1);
    insert(work, gap.section + 1, part);
    Ok(())
}

/// A section, to change it.
pub(super) fn at(score: &mut Score, section: usize) -> Result<&mut Section, Fault> {
    score
        .sections
        .get_mut(section)
        .ok_or_else(|| nowhere(section))
}

fn nowhere(section: usize) -> Fault {
    let problem = format!("there is no section {}", section.saturating_add(1));
    refuse(
        Spot::Section(section),
        problem,
        "allowed is a section of the score",
        None,
    )
}

fn called(name: &str, section: usize) -> String {
    if name.is_empty() {
        format!("section {}", section + 1)
    } else {
        format!("section {name}")
    }
}

/// Takes away sections that have lost their last letter, if nothing else is
/// lost with them: a name, a meter or overrides are the user's to give up.
pub(super) fn drop_emptied(work: &mut Work) -> Result<(), Fault> {
    let mut i = 0;
    while let Some(section) = work.score.sections.get(i) {
        if section.items.iter().any(|item| *item != FormItem::BarLine) {
            i += 1;
            continue;
        }
        let only = work.score.sections.len() == 1;
        let plain =
            section.name.is_empty() && section.meter.is_none() && section.overrides.is_empty();
        if only || !plain {
            let problem = format!(
                "{} would be left without a letter",
                called(&section.name, i)
            );
            let mend = if only {
                "put another letter in first"
            } else {
                "remove the section, or put another letter in first"
            };
            let allowed = "a section has at least one";
            return Err(refuse(Spot::Form(i), problem, allowed, Some(mend.into())));
        }
        work.score.sections.remove(i);
        if let Some(run) = work.run.take().filter(|run| run.at.section != i) {
            let mut run = run;
            run.at.section -= usize::from(run.at.section > i);
            work.run = Some(run);
        }
        work.focus.section = match &work.run {
            Some(run) => Some(run.at.section),
            None => Some(i.min(work.score.sections.len() - 1)),
        };
    }
    Ok(())
}
