//! Where a form does not meet its bar lines, and by how much.

use super::edit::Path;
use super::walk::{Step, walk};
use super::{ArrangeError, Material};
use barform_score::music::{Beats, Letter};
use barform_score::score::FormItem;
use std::fmt;

/// A place where a bar line should fall and none does.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Misfit {
    /// The bar-line check that is not met; `None` for the end of the form.
    pub line: Option<Path>,
    /// Beats since the last bar line: what is over.
    pub over: Beats,
    /// Beats until the next one: what is missing.
    pub short: Beats,
    /// The letter that the last bar line falls into, or else the last letter:
    /// the one that is over.
    pub letter: Option<(Path, Letter)>,
    /// Beats of that letter on the far side of the bar line; zero if the bar
    /// line does not fall into it.
    pub across: Beats,
    /// Letters and groups between this check and the one before.
    pub(super) items: Vec<Path>,
}

/// Where the form does not meet its bar lines: each asserted one, and the end.
/// Bars are counted on from the check before, so that one letter too many is
/// told once. A check inside a repeat is told once for each distance it is off
/// by.
///
/// # Errors
/// See [`ArrangeError`].
pub fn misfits(items: &[FormItem], of: &Material) -> Result<Vec<Misfit>, ArrangeError> {
    let Material { bar, pickup, .. } = *of;
    if !bar.is_positive() || pickup < Beats::ZERO || pickup >= bar {
        return Err(ArrangeError::Bar { bar, pickup });
    }
    let mut found: Vec<Misfit> = Vec::new();
    let steps = walk(items, of)?;
    // Beats before the next bar line may fall.
    let mut first = pickup;
    let mut part: Vec<(&Path, &Letter, Beats)> = Vec::new();
    let ends = std::iter::once(None);
    for step in steps.iter().map(Some).chain(ends) {
        let line = match step {
            Some(Step::Letter {
                path,
                letter,
                length,
            }) => {
                part.push((path, letter, *length));
                continue;
            }
            Some(Step::BarLine { path }) => Some(path.clone()),
            None => None,
        };
        if let Some(misfit) = check(&part, line, first, bar)? {
            let known = |m: &Misfit| m.line == misfit.line && m.over == misfit.over;
            if !found.iter().any(known) {
                found.push(misfit);
            }
        }
        part.clear();
        first = Beats::ZERO;
    }
    Ok(found)
}

fn check(
    part: &[(&Path, &Letter, Beats)],
    line: Option<Path>,
    first: Beats,
    bar: Beats,
) -> Result<Option<Misfit>, ArrangeError> {
    let length = part
        .iter()
        .try_fold(Beats::ZERO, |sum, (.., l)| sum.checked_add(*l))?;
    let since = length.checked_sub(first)?;
    let (over, short) = if since < Beats::ZERO {
        (length, first.checked_sub(length)?)
    } else {
        let over = since.checked_rem(bar)?;
        if over.is_zero() {
            return Ok(None);
        }
        (over, bar.checked_sub(over)?)
    };
    // Back from the end to the letter with the last bar line in it.
    let mut left = over;
    let mut letter = part.last();
    let mut across = Beats::ZERO;
    for step in part.iter().rev() {
        if left.is_zero() {
            break;
        }
        if step.2 > left && since >= Beats::ZERO {
            (letter, across) = (Some(step), left);
            break;
        }
        left = left.checked_sub(step.2)?;
    }
    let mut items: Vec<Path> = Vec::new();
    for (path, ..) in part {
        for depth in 1..=path.0.len() {
            let outer = Path(path.0[..depth].to_vec());
            if !items.contains(&outer) {
                items.push(outer);
            }
        }
    }
    let letter = letter.map(|(path, letter, _)| ((*path).clone(), (*letter).clone()));
    Ok(Some(Misfit {
        line,
        over,
        short,
        letter,
        across,
        items,
    }))
}

pub(super) fn beats(n: Beats) -> String {
    if n == Beats::ONE {
        "1 beat".into()
    } else {
        format!("{n} beats")
    }
}

impl fmt::Display for Misfit {
    /// One line: `at the end: 1 beat over, B crosses the bar line by 1 beat; or 3
    /// beats short`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.line {
            Some(path) => write!(f, "at the bar line {path}")?,
            None => f.write_str("at the end")?,
        }
        write!(f, ": {} over", beats(self.over))?;
        match &self.letter {
            Some((_, letter)) if self.across.is_positive() => {
                write!(
                    f,
                    ", {letter} crosses the bar line by {}",
                    beats(self.across)
                )?;
            }
            Some((_, letter)) => write!(f, ", {letter} is the last")?,
            None => {}
        }
        write!(f, "; or {} short", beats(self.short))
    }
}
