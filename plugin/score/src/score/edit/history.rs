//! Undo and redo without end.
//!
//! An entry keeps what an edit changed in the text of the file and how to find
//! it, not the text: a click on one slot of a 50 kB file is some hundred bytes,
//! ten thousand of them a megabyte or two. The text before an edit is worked out
//! from the text after it, comments and all, and the score is read from it.

mod patch;

use super::{BarLines, Done, Edit, Focus};
use crate::music::Letter;
use crate::score::document::Document;
use crate::score::error::ScoreError;
use crate::score::model::{CellDef, Score};
use patch::Patch;
use std::collections::HashMap;
use std::ops::Range;
use std::time::Duration;

/// Edits with the same key that follow each other are undone together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Group {
    /// What is going on: `typing the sticking of A`.
    pub key: String,
    /// When, on any clock that only goes forward.
    pub at: Duration,
    /// How it goes together with the edits before it.
    pub merge: Merge,
}

/// How an edit goes together with those of its group before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Merge {
    /// It goes on from them, as typing does. A pause of [`History::PAUSE`] ends
    /// the group.
    Follow,
    /// It is made again from where the group began, as a drag is: what was
    /// passed on the way leaves no trace. [`History::seal`] ends the group.
    Again,
}

/// What an undo, a redo or an edit changed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Change {
    /// The edit's label.
    pub label: String,
    /// What to show: a letter and a section that are there now.
    pub focus: Focus,
    /// Cells that are new, gone or state something else.
    pub letters: Vec<Letter>,
    /// Sections, as they count now, that are new or not as they were; empty, at
    /// the place, where some are gone.
    pub sections: Range<usize>,
    /// Whether anything else changed: title, tempo, ostinatos, the kit.
    pub other: bool,
}

/// A step that has been worked out and not been made: what it comes to can be
/// looked at before [`History::make`].
#[derive(Debug, Clone)]
pub struct Step {
    document: Document,
    label: String,
    group: Option<Group>,
}

impl Step {
    /// The text and the score as they would be.
    pub fn document(&self) -> &Document {
        &self.document
    }
}

/// One step.
#[derive(Debug, Clone)]
struct Entry {
    label: String,
    patch: Patch,
    key: Option<String>,
    at: Duration,
    /// Number of the state after it.
    revision: u64,
}

/// A score file with all its states.
#[derive(Debug, Clone)]
pub struct History {
    document: Document,
    past: Vec<Entry>,
    future: Vec<Entry>,
    /// The last group has ended.
    sealed: bool,
    revisions: u64,
}

impl History {
    /// A pause in typing after which a new step begins.
    pub const PAUSE: Duration = Duration::from_secs(1);

    /// A history that begins with a document.
    pub fn new(document: Document) -> History {
        History {
            document,
            past: Vec::new(),
            future: Vec::new(),
            sealed: true,
            revisions: 0,
        }
    }

    /// The text and the score as they are.
    pub fn document(&self) -> &Document {
        &self.document
    }

    /// The score as it is.
    pub fn score(&self) -> &Score {
        self.document.score()
    }

    /// The text as it is.
    pub fn text(&self) -> &str {
        self.document.text()
    }

    /// A number of the state, the same again when undo or redo comes back to it:
    /// what is saved is up to date while this is what it was then.
    pub fn revision(&self) -> u64 {
        self.past.last().map_or(0, |entry| entry.revision)
    }

    /// Label of the step that [`History::undo`] takes back.
    pub fn undo_label(&self) -> Option<&str> {
        self.past.last().map(|entry| entry.label.as_str())
    }

    /// Label of the step that [`History::redo`] makes again.
    pub fn redo_label(&self) -> Option<&str> {
        self.future.last().map(|entry| entry.label.as_str())
    }

    /// Labels of all steps that can be undone, the first one first.
    pub fn labels(&self) -> impl Iterator<Item = &str> {
        self.past.iter().map(|entry| entry.label.as_str())
    }

    /// Bytes of text that all steps keep.
    pub fn kept_bytes(&self) -> usize {
        let all = self.past.iter().chain(&self.future);
        all.map(|entry| entry.patch.bytes() + entry.label.len())
            .sum()
    }

    /// Makes an edit of any kind; one that changes nothing is no step.
    ///
    /// # Errors
    /// What `edit` says, or what the score's check has against its result; all
    /// is then as before.
    pub fn apply(
        &mut self,
        label: impl Into<String>,
        group: Option<&Group>,
        edit: impl FnOnce(&mut Score) -> Result<(), ScoreError>,
    ) -> Result<Change, ScoreError> {
        let step = self.plan(label, group, edit)?;
        Ok(self.make(step))
    }

    /// Makes an [`Edit`], under its own label.
    ///
    /// # Errors
    /// As [`Edit::apply_with`]; all is then as before.
    pub fn edit(
        &mut self,
        edit: &Edit,
        bar_lines: BarLines,
        group: Option<&Group>,
    ) -> Result<Done, ScoreError> {
        let (step, done) = self.plan_edit(edit, bar_lines, group)?;
        self.make(step);
        Ok(done)
    }

    /// Works out what [`History::apply`] would make.
    ///
    /// # Errors
    /// As [`History::apply`].
    pub fn plan(
        &self,
        label: impl Into<String>,
        group: Option<&Group>,
        edit: impl FnOnce(&mut Score) -> Result<(), ScoreError>,
    ) -> Result<Step, ScoreError> {
        let mut document = self.base(group)?;
        let mut score = document.score().clone();
        edit(&mut score)?;
        document.update(&score)?;
        Ok(Step {
            document,
            label: label.into(),
            group: group.cloned(),
        })
    }

    /// Works out what [`History::edit`] would make.
    ///
    /// # Errors
    /// As [`History::edit`].
    pub fn plan_edit(
        &self,
        edit: &Edit,
        bar_lines: BarLines,
        group: Option<&Group>,
    ) -> Result<(Step, Done), ScoreError> {
        let mut document = self.base(group)?;
        let done = edit.apply_with(document.score(), bar_lines)?;
        document.update(&done.score)?;
        let step = Step {
            document,
            label: done.label.clone(),
            group: group.cloned(),
        };
        Ok((step, done))
    }

    /// Makes a step that was worked out from what is there now.
    pub fn make(&mut self, step: Step) -> Change {
        self.commit(step.document, step.label, step.group.as_ref())
    }

    /// Takes the whole text as someone typed it. Only text that is a score
    /// becomes a step; the editor keeps drafts that are not.
    ///
    /// # Errors
    /// As [`Score::parse`]; all is then as before.
    pub fn set_text(
        &mut self,
        text: &str,
        label: impl Into<String>,
        group: Option<&Group>,
    ) -> Result<Change, ScoreError> {
        let document = Document::parse(text, self.document.file_name())?;
        Ok(self.commit(document, label.into(), group))
    }

    /// Takes a document that was read elsewhere, as [`History::set_text`] takes a
    /// text.
    pub fn take(
        &mut self,
        document: Document,
        label: impl Into<String>,
        group: Option<&Group>,
    ) -> Change {
        self.commit(document, label.into(), group)
    }

    /// Ends the group: the next edit is a step of its own. Call it when a drag
    /// is let go or a text field is left.
    pub fn seal(&mut self) {
        self.sealed = true;
        self.drop_idle();
    }

    /// A drag that came back to where it began is no step once it has ended.
    fn drop_idle(&mut self) {
        self.past.pop_if(|last| last.patch.is_empty());
    }

    /// Takes the last step back; `None` if there is none.
    pub fn undo(&mut self) -> Option<Change> {
        self.drop_idle();
        let entry = self.past.pop()?;
        let text = entry.patch.backwards(self.document.text());
        let change = self.go(&text, &entry.label);
        match change {
            Some(_) => self.future.push(entry),
            None => self.past.push(entry),
        }
        change
    }

    /// Makes the step again that was taken back last; `None` if there is none.
    pub fn redo(&mut self) -> Option<Change> {
        let entry = self.future.pop()?;
        let text = entry.patch.forwards(self.document.text());
        let change = self.go(&text, &entry.label);
        match change {
            Some(_) => self.past.push(entry),
            None => self.future.push(entry),
        }
        change
    }

    /// Shows the state of a text that was a score once, so it is one.
    fn go(&mut self, text: &str, label: &str) -> Option<Change> {
        let document = Document::parse(text, self.document.file_name()).ok()?;
        let change = Change::between(self.document.score(), document.score(), label);
        self.document = document;
        self.sealed = true;
        Some(change)
    }

    /// Whether an edit belongs to the last step.
    fn merges(&self, group: Option<&Group>) -> bool {
        let (Some(group), Some(last)) = (group, self.past.last()) else {
            return false;
        };
        let pause = group.at.saturating_sub(last.at);
        let on_time = group.merge == Merge::Again || pause <= History::PAUSE;
        !self.sealed && on_time && last.key.as_ref() == Some(&group.key)
    }

    /// What an edit starts from.
    fn base(&self, group: Option<&Group>) -> Result<Document, ScoreError> {
        let again = group.is_some_and(|g| g.merge == Merge::Again);
        match self.past.last() {
            Some(last) if again && self.merges(group) => {
                let text = last.patch.backwards(self.document.text());
                Document::parse(&text, self.document.file_name())
            }
            _ => Ok(self.document.clone()),
        }
    }

    fn commit(&mut self, document: Document, label: String, group: Option<&Group>) -> Change {
        let change = Change::between(self.document.score(), document.score(), &label);
        let merging = self.merges(group);
        let from = match self.past.last() {
            Some(last) if merging => last.patch.backwards(self.document.text()),
            _ => self.document.text().to_owned(),
        };
        if document.text() == self.document.text() {
            return change;
        }
        if merging {
            self.past.pop();
        } else {
            self.drop_idle();
        }
        self.future.clear();
        self.sealed = group.is_none();
        // A drag that is back where it began is no step, but goes on.
        if from != document.text() || group.is_some_and(|g| g.merge == Merge::Again) {
            self.revisions += 1;
            self.past.push(Entry {
                label,
                patch: Patch::between(&from, document.text()),
                key: group.map(|g| g.key.clone()),
                at: group.map_or(Duration::ZERO, |g| g.at),
                revision: self.revisions,
            });
        }
        self.document = document;
        change
    }
}

impl Change {
    fn between(old: &Score, new: &Score, label: &str) -> Change {
        let by_letter = |cells: &[CellDef]| -> HashMap<Letter, CellDef> {
            let all = cells.iter().map(|c| (c.letter.clone(), c.clone()));
            all.collect()
        };
        let (was, is) = (by_letter(&old.cells), by_letter(&new.cells));
        let all = new.cells.iter().chain(&old.cells).map(|c| &c.letter);
        let mut letters: Vec<Letter> = Vec::new();
        for letter in all {
            if was.get(letter) != is.get(letter) && !letters.contains(letter) {
                letters.push(letter.clone());
            }
        }
        let same = |(a, b): &(&_, &_)| a == b;
        let (a, b) = (&old.sections, &new.sections);
        let start = a.iter().zip(b).take_while(same).count();
        let rest = a.len().min(b.len()) - start;
        let back = a.iter().rev().zip(b.iter().rev()).take(rest);
        let end = b.len() - back.take_while(same).count();
        let sections = if a == b { 0..0 } else { start..end };
        let rest = |s: &Score| Score {
            sections: Vec::new(),
            cells: Vec::new(),
            ..s.clone()
        };
        let focus = Focus {
            section: (a != b).then(|| start.min(b.len().saturating_sub(1))),
            letter: letters.iter().find(|l| is.contains_key(*l)).cloned(),
            slot: None,
        };
        Change {
            label: label.to_owned(),
            focus,
            letters,
            sections,
            other: rest(old) != rest(new),
        }
    }
}
