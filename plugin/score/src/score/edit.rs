//! Edits of a score, as an editor calls them: blocks of the form, cells, text.
//!
//! In: a [`Score`] and an [`Edit`]. Out: the score after it with what was done,
//! told and loosened ([`Done`]), or a plain error and everything as it was; and
//! a [`History`] of texts that undoes and redoes all of it. Never here: a
//! window, a clock, a file on a disk; never a score that does not check.
//!
//! `path` says where in a form, `form`, `sections`, `letters` and `cell` make
//! the edits, `regrid` and `restate` keep cells and their lines together,
//! `loosen` takes bar-line checks away that an edit breaks, `clip` copies.

mod cell;
mod clip;
mod form;
mod history;
mod letters;
mod loosen;
mod path;
mod regrid;
mod restate;
mod sections;
mod slots;

pub use cell::{CellEdit, Lines, Owner};
pub use clip::{Paste, copy_cells, copy_run};
pub use form::{FormEdit, Override, Target};
pub use history::{Change, Group, History, Merge, Step};
pub use letters::{LetterEdit, Used, Uses, next_letter, next_prime};
pub use loosen::{BarLines, Loosened};
pub use path::{ItemPath, Run};
pub use regrid::Way;
pub use restate::stated;
pub use sections::SectionEdit;

use super::error::{Fault, Mend, ScoreError, ScoreErrorKind as Kind, Spot};
use super::form::FormItem;
use super::model::Score;
use crate::music::Letter;

/// One thing a user does to a score.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Edit {
    /// To the items of the form.
    Form(FormEdit),
    /// To the sections.
    Section(SectionEdit),
    /// To the list of cells.
    Letter(LetterEdit),
    /// To what a cell or an ostinato plays.
    Cell(Owner, CellEdit),
    /// Text put in that [`copy_cells`] or [`copy_run`] gave.
    Paste(Paste),
}

/// A score after an edit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Done {
    /// The score, which checks.
    pub score: Score,
    /// What was done, for a menu: `Accent on A, slot 3`.
    pub label: String,
    /// What to show.
    pub focus: Focus,
    /// Where the items are now that were put in, moved or changed.
    pub run: Option<Run>,
    /// Cells that the edit added.
    pub added: Vec<Letter>,
    /// Bar-line checks and meters that gave way.
    pub loosened: Vec<Loosened>,
    /// What the user did not ask for in so many words, a line each: strokes that
    /// moved to another slot, letters that got another name.
    pub told: Vec<String>,
}

/// What an editor shows after a change.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Focus {
    /// Section, from 0.
    pub section: Option<usize>,
    /// Cell.
    pub letter: Option<Letter>,
    /// Slot of that cell, from 0.
    pub slot: Option<usize>,
}

impl Edit {
    /// The score after the edit. A bar-line check that the edit breaks refuses it.
    ///
    /// # Errors
    /// Why the edit cannot be made, and the mend.
    pub fn apply(&self, score: &Score) -> Result<Done, ScoreError> {
        self.apply_with(score, BarLines::Hold)
    }

    /// The score after the edit, without the bar-line checks that it breaks,
    /// here and in all that follows; [`Done::loosened`] names them.
    ///
    /// # Errors
    /// As [`Edit::apply`], but for bar-line checks. A section that changes the
    /// meter still has to begin on a bar line.
    pub fn loosened(&self, score: &Score) -> Result<Done, ScoreError> {
        self.apply_with(score, BarLines::Loosen)
    }

    /// The score after the edit.
    ///
    /// What one expects who drags a block: the block goes where it was let go,
    /// nothing else moves, and a check that no longer holds says so rather than
    /// refuse the drag. So an editor applies with [`BarLines::Loosen`], shows
    /// [`Done::loosened`], and offers `craft::arrange::mends`, whose forms
    /// [`FormEdit::Items`] puts in. While a drag goes on, [`Merge::Again`]
    /// starts each step from where the drag began, so that a check that broke on
    /// the way is there again.
    ///
    /// # Errors
    /// As [`Edit::apply`].
    pub fn apply_with(&self, score: &Score, bar_lines: BarLines) -> Result<Done, ScoreError> {
        let mut work = Work::new(score);
        match self {
            Edit::Form(edit) => form::make(edit, &mut work)?,
            Edit::Section(edit) => sections::make(edit, &mut work)?,
            Edit::Letter(edit) => letters::make(edit, &mut work)?,
            Edit::Cell(owner, edit) => cell::make(owner, edit, &mut work)?,
            Edit::Paste(paste) => clip::make(paste, &mut work)?,
        }
        work.tidy()?;
        // A check that is put in is meant: it does not give way at once.
        let asserts = matches!(self, Edit::Form(FormEdit::Insert { items, .. })
            if items.iter().all(|item| *item == FormItem::BarLine));
        let bar_lines = if asserts { BarLines::Hold } else { bar_lines };
        let loosened = work.settle(bar_lines)?;
        Ok(Done {
            score: work.score,
            label: work.label,
            focus: work.focus,
            run: work.run,
            added: work.added,
            loosened,
            told: work.told,
        })
    }
}

/// An edit on its way.
struct Work {
    score: Score,
    label: String,
    focus: Focus,
    run: Option<Run>,
    added: Vec<Letter>,
    told: Vec<String>,
}

impl Work {
    fn new(score: &Score) -> Work {
        Work {
            score: score.clone(),
            label: String::new(),
            focus: Focus::default(),
            run: None,
            added: Vec::new(),
            told: Vec::new(),
        }
    }

    /// Takes away groups that have become empty, bar lines that have come to
    /// stand side by side, and plain sections without a letter.
    fn tidy(&mut self) -> Result<(), Fault> {
        let gone = path::tidy(&mut self.score.sections);
        self.run = self.run.take().and_then(|run| run.without(&gone));
        sections::drop_emptied(self)
    }

    /// Checks the score, bar lines last.
    fn settle(&mut self, bar_lines: BarLines) -> Result<Vec<Loosened>, Fault> {
        let (gone, loosened) = loosen::loosen(&mut self.score, bar_lines)?;
        self.run = self.run.take().and_then(|run| run.without(&gone));
        Ok(loosened)
    }
}

impl From<Fault> for ScoreError {
    fn from(fault: Fault) -> ScoreError {
        fault.without_text()
    }
}

/// An edit that cannot be made.
fn refuse(spot: Spot, problem: impl Into<String>, allowed: &str, mend: Option<String>) -> Fault {
    Fault::new(
        spot,
        Kind::Edit {
            problem: problem.into(),
            allowed: allowed.into(),
            mend: Mend(mend),
        },
    )
}
