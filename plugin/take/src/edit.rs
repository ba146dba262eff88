//! What a drummer says of a proposed form; the rest follows.

use crate::TakeError;
use crate::form::Form;
use crate::job::{Job, Watch};
use crate::letters::{self, Text};
use crate::reading::{Reading, pulses};
use barform_score::music::Letter;

/// One statement. Pulses count from the start of the form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Edit {
    /// A cell begins here.
    Cut(usize),
    /// No cell begins here: what is on both sides is one.
    Join(usize),
    /// The cell that begins at the first begins at the second.
    Move(usize, usize),
    /// A letter has another name; where that is taken, they change names.
    Rename(Letter, Letter),
}

impl Reading {
    /// Reads the letters anew so that all of `edits` hold; beats and slots stay.
    /// Forms come as before, that with the shortest description first.
    ///
    /// # Errors
    /// [`TakeError::Option`] for a pulse out of the form or statements that
    /// cannot hold together, [`TakeError::Cancelled`].
    pub fn revise(
        &mut self,
        edits: &[Edit],
        most: usize,
        watch: &mut Watch<'_>,
    ) -> Result<(), TakeError> {
        let bar = (pulses(self.meter), 0);
        let mut text = Text::new(&self.classes.of, &self.classes.list, bar, self.costs);
        let end = self.pulses;
        let inside = |at: usize| {
            let what = format!("beat {} is not inside the form", at + 1);
            (at > 0 && at < end)
                .then_some(at)
                .ok_or(TakeError::Option(what))
        };
        for edit in edits {
            let (cut, join) = match edit {
                Edit::Cut(at) => (Some(*at), None),
                Edit::Join(at) => (None, Some(*at)),
                Edit::Move(from, to) => (Some(*to), Some(*from)),
                Edit::Rename(..) => (None, None),
            };
            if let Some(at) = cut.map(inside).transpose()? {
                (text.must[at], text.never[at]) = (true, false);
            }
            if let Some(at) = join.map(inside).transpose()? {
                (text.must[at], text.never[at]) = (false, true);
            }
        }
        let mut job = Job::new(watch);
        let found = letters::search(&text, most.clamp(1, 20), &mut job)?;
        let mut forms: Vec<Form> = found
            .iter()
            .filter(|s| s.cost.is_finite() && !s.steps.is_empty())
            .filter_map(|s| Form::of(s, &text))
            .collect();
        if forms.is_empty() {
            let what = "no cell of at most two bars fits between these cuts";
            return Err(TakeError::Option(what.into()));
        }
        for edit in edits {
            if let Edit::Rename(from, to) = edit {
                forms.iter_mut().for_each(|form| rename(form, from, to));
            }
        }
        self.forms = forms;
        Ok(())
    }
}

fn rename(form: &mut Form, from: &Letter, to: &Letter) {
    for cell in &mut form.cells {
        if cell.letter == *from {
            cell.letter = to.clone();
        } else if cell.letter == *to {
            cell.letter = from.clone();
        }
    }
}
