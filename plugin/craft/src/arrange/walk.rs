//! The form written out: letters and bar-line checks in playing order.

use super::ArrangeError;
use super::edit::Path;
use barform_score::music::{Beats, Cell, Fit, Letter, Subdivision};
use barform_score::score::{FormItem, Overrides};

/// Most letters of a form with its repeats written out.
pub const MAX_LETTERS: usize = 200_000;

/// What a form is made from and what it must fill.
#[derive(Debug, Clone, Copy)]
pub struct Material<'a> {
    /// The cells the form may name.
    pub cells: &'a [Cell],
    /// What holds for the whole form: a section's overrides.
    pub overrides: &'a Overrides,
    /// Length of a bar, above zero.
    pub bar: Beats,
    /// Beats before the first bar line, from 0 up to a bar.
    pub pickup: Beats,
}

/// One step of the form written out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Step {
    /// A letter that lasts so long.
    Letter {
        path: Path,
        letter: Letter,
        length: Beats,
    },
    /// A bar line is asserted.
    BarLine { path: Path },
}

/// What holds at a place of the form.
#[derive(Clone, Copy)]
struct Holds<'a> {
    subdivision: Option<&'a (Subdivision, Fit)>,
    /// Product of the rates.
    rate: Beats,
}

impl<'a> Holds<'a> {
    fn inside(self, overrides: &'a Overrides) -> Result<Holds<'a>, ArrangeError> {
        let rate = match overrides.rate {
            Some(rate) => self.rate.checked_mul(rate.factor())?,
            None => self.rate,
        };
        Ok(Holds {
            subdivision: overrides.subdivision.as_ref().or(self.subdivision),
            rate,
        })
    }
}

/// Writes the form out.
pub(super) fn walk(items: &[FormItem], of: &Material) -> Result<Vec<Step>, ArrangeError> {
    let mut steps = Vec::new();
    let all = Holds {
        subdivision: None,
        rate: Beats::ONE,
    };
    inside(
        items,
        of,
        all.inside(of.overrides)?,
        &mut Path::default(),
        &mut steps,
    )?;
    Ok(steps)
}

fn inside(
    items: &[FormItem],
    of: &Material,
    holds: Holds,
    path: &mut Path,
    steps: &mut Vec<Step>,
) -> Result<(), ArrangeError> {
    for (i, item) in items.iter().enumerate() {
        path.0.push(i);
        match item {
            FormItem::BarLine => steps.push(Step::BarLine { path: path.clone() }),
            FormItem::Letter { letter, overrides } => {
                let length = length(letter, of.cells, holds.inside(overrides)?)?;
                steps.push(Step::Letter {
                    path: path.clone(),
                    letter: letter.clone(),
                    length,
                });
            }
            FormItem::Group {
                items,
                times,
                overrides,
            } => {
                let start = steps.len();
                inside(items, of, holds.inside(overrides)?, path, steps)?;
                let once = steps.len() - start;
                let all = once.saturating_mul(*times as usize);
                if start.saturating_add(all) > MAX_LETTERS {
                    return Err(ArrangeError::TooLong);
                }
                for _ in 1..*times {
                    steps.extend_from_within(start..start + once);
                }
                steps.truncate(start + all);
            }
        }
        if steps.len() > MAX_LETTERS {
            return Err(ArrangeError::TooLong);
        }
        path.0.pop();
    }
    Ok(())
}

fn length(letter: &Letter, cells: &[Cell], holds: Holds) -> Result<Beats, ArrangeError> {
    let cell = cells.iter().find(|c| c.letter == *letter);
    let cell = cell.ok_or_else(|| ArrangeError::UnknownLetter(letter.clone()))?;
    let refuse = |why| ArrangeError::Refit {
        letter: letter.clone(),
        why,
    };
    let length = match holds.subdivision {
        None => cell.grid.length()?,
        Some((to, Fit::Refit)) => {
            let length = cell.grid.length()?;
            to.0.tile_to_length(length).map_err(refuse)?;
            length
        }
        Some((to, Fit::Carry)) => to.0.tile_to_slots(cell.slots.len())?.length()?,
    };
    Ok(length.checked_div(holds.rate)?)
}
