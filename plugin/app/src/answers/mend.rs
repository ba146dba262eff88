//! What does not fill its bars, and how to fix it.

use super::AnswerError;
use crate::craft::arrange::{ArrangeError, Material, Mend, Misfit, mends_by, misfits};
use crate::craft::rules::Rules;
use crate::music::{Beats, Cell};
use crate::score::{FormItem, Overrides, Score, Section, read_form};

/// A form whose bar lines have not been checked.
#[derive(Debug, Clone)]
pub struct UnbarredForm {
    /// The section's name; empty for a form without sections.
    pub name: String,
    /// What is played, and where bar lines should fall.
    pub items: Vec<FormItem>,
    /// What holds for all of it.
    pub overrides: Overrides,
    /// Length of a bar.
    pub bar: Beats,
    /// Beats before the first bar line.
    pub pickup: Beats,
}

/// What is wrong with a form, and forms in its place.
#[derive(Debug, Clone)]
pub struct MendedForm {
    /// The form as it is.
    pub form: UnbarredForm,
    /// Where it does not meet its bar lines.
    pub misfits: Vec<Misfit>,
    /// What to do about it, the smallest change first.
    pub mends: Vec<Mend>,
}

/// The forms of a score that was read without its bar-line checks.
pub fn sections(score: &Score) -> Vec<UnbarredForm> {
    let section = |(i, section): (usize, &Section)| UnbarredForm {
        name: section.name.clone(),
        items: section.items.clone(),
        overrides: section.overrides.clone(),
        bar: section.meter.unwrap_or(score.meter).bar(),
        pickup: if i == 0 { score.pickup } else { Beats::ZERO },
    };
    score.sections.iter().enumerate().map(section).collect()
}

impl UnbarredForm {
    /// A form of the letters of a score, as somebody typed it.
    ///
    /// # Errors
    /// [`AnswerError::Question`] where it cannot be read.
    pub fn typed(form: &str, score: &Score) -> Result<UnbarredForm, AnswerError> {
        let items = read_form(form).map_err(|e| AnswerError::Question(e.to_string()))?;
        Ok(UnbarredForm {
            name: String::new(),
            items,
            overrides: Overrides::default(),
            bar: score.meter.bar(),
            pickup: score.pickup,
        })
    }

    /// What to call it in a message.
    pub fn title(&self) -> &str {
        if self.name.is_empty() {
            "the form"
        } else {
            &self.name
        }
    }
}

/// Finds what does not fill its bars, and at most `number` mends.
///
/// # Errors
/// See [`ArrangeError`].
pub fn mend(
    rules: &Rules,
    cells: &[Cell],
    form: UnbarredForm,
    number: usize,
) -> Result<MendedForm, ArrangeError> {
    let material = Material {
        cells,
        overrides: &form.overrides,
        bar: form.bar,
        pickup: form.pickup,
    };
    let misfits = misfits(&form.items, &material)?;
    let mut mends = if misfits.is_empty() {
        Vec::new()
    } else {
        mends_by(&rules.arrange, &form.items, &material)?
    };
    mends.truncate(number);
    Ok(MendedForm {
        form,
        misfits,
        mends,
    })
}
