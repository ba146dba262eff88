//! Forms that fill so many bars, best first.

use super::{AnswerError, cells};
use crate::craft::arrange::{Forms, Listed, Offer, Request};
use crate::craft::rules::Rules;
use crate::music::{Beats, Letter};
use crate::session::CompiledScore;

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FormsOptions {
    /// Bars to fill.
    pub bars: u32,
    /// Letters to use; all that the form has if empty.
    pub letters: Vec<Letter>,
    /// How often a letter has to come at least.
    pub at_least: Vec<(Letter, u32)>,
    /// How often a letter may come at most.
    pub at_most: Vec<(Letter, u32)>,
    /// The first letter.
    pub starts: Option<Letter>,
    /// The last letter.
    pub ends: Option<Letter>,
    /// No letter more often than this in a row.
    pub most_in_a_row: Option<u32>,
    /// Whether no letter may cross a bar line.
    pub meets_bar_lines: bool,
    /// How many forms are listed.
    pub number: usize,
}

/// What there is.
#[derive(Debug, Clone)]
pub struct FormsAnswer {
    /// The letters it was asked of, and how long they are.
    pub letters: Vec<(Letter, Beats)>,
    /// How many forms there are in all, in digits.
    pub in_all: String,
    /// The best ones.
    pub listed: Vec<Listed>,
}

/// Lists forms.
///
/// # Errors
/// See [`AnswerError`].
pub fn forms(
    rules: &Rules,
    score: &CompiledScore,
    options: &FormsOptions,
) -> Result<FormsAnswer, AnswerError> {
    let letters = if options.letters.is_empty() {
        &score.timeline.letters
    } else {
        &options.letters
    };
    let limits = options.at_least.iter().chain(&options.at_most);
    let mut limited = limits.map(|(letter, _)| letter);
    if let Some(letter) = limited.find(|letter| !letters.contains(letter)) {
        return Err(AnswerError::Question(format!(
            "{letter} is limited, but not one of the letters"
        )));
    }
    let mut offers = Vec::new();
    for letter in letters {
        let limit = |of: &[(Letter, u32)]| of.iter().find(|(l, _)| l == letter).map(|(_, n)| *n);
        for cell in cells(&score.document, Some(letter))? {
            offers.push(Offer {
                letter: letter.clone(),
                length: cell.grid.length()?,
                least: limit(&options.at_least).unwrap_or(0),
                most: limit(&options.at_most),
            });
        }
    }
    let request = Request {
        bar: score.score().meter.bar(),
        bars: options.bars,
        starts: options.starts.clone(),
        ends: options.ends.clone(),
        most_in_a_row: options.most_in_a_row,
        meets_bar_lines: options.meets_bar_lines,
        offers,
    };
    let mut found = Forms::by(&rules.arrange, &request)
        .map_err(|error| AnswerError::Question(error.to_string()))?;
    Ok(FormsAnswer {
        in_all: found.in_all().to_string(),
        listed: found.by_ref().take(options.number).collect(),
        letters: request
            .offers
            .into_iter()
            .map(|o| (o.letter, o.length))
            .collect(),
    })
}
