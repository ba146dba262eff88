//! The hand-out: what a student takes home, as one drawing.
//!
//! In: a [`Score`], its [`Timeline`], what the craft knows ([`Rules`]). Out: the
//! sheet, then for each letter a page to practise from: its music in large
//! print, what it is, the rudiments in it, how fast it can be played and what
//! limits that, steps, and a ladder of tempos with room to write. `about`
//! gathers, `grid` and `steps` put it into words, `page` and `table` find the
//! places.
//! Never here: a rule about rhythm or hands (the craft's), a position of a note
//! (the engraver's), advice to play as fast as a table allows.

mod about;
mod grid;
mod page;
mod steps;
mod table;
mod text;

use super::engrave::{EngraveError, Style, engrave};
use super::notate::{self, Fold, NotateError, written};
use super::{Drawing, Role};
use barform_craft::rules::{RuleError, Rules};
use barform_score::music::{BeatsError, CountBy, Tradition};
use barform_score::score::{Score, ScoreError};
use barform_score::timeline::Timeline;

/// What a hand-out shows, and by which rules.
#[derive(Debug, Clone)]
pub struct Options {
    /// Paper and sizes of the sheet. Letters are drawn half as large again, up
    /// to [`Style::LARGE_STAFF_MM`], where the paper allows it.
    pub style: Style,
    /// How much of the form the sheet writes out.
    pub fold: Fold,
    /// The tradition of the counts, as in [`notate::Options`].
    pub tradition: Option<Tradition>,
    /// What gets a number where a tradition is given.
    pub count_by: CountBy,
    /// Levels, rudiments, where the voices stand.
    pub rules: Rules,
    /// Levels to tell top tempos of, by name; all of them if empty.
    pub levels: Vec<String>,
    /// How the kit stands: the name of a set-up of the rules.
    pub setup: String,
}

impl Default for Options {
    fn default() -> Options {
        Options {
            style: Style::default(),
            fold: Fold::Repeats,
            tradition: None,
            count_by: CountBy::default(),
            rules: Rules::builtin(),
            levels: Vec::new(),
            setup: "right-handed".to_owned(),
        }
    }
}

/// Why there is no hand-out.
#[derive(Debug, thiserror::Error)]
pub enum HandoutError {
    /// Something cannot be written as notes.
    #[error(transparent)]
    Notate(#[from] NotateError),
    /// Nothing fits the paper.
    #[error(transparent)]
    Engrave(#[from] EngraveError),
    /// The score is not sound.
    #[error(transparent)]
    Score(#[from] ScoreError),
    /// Exact times do not fit.
    #[error(transparent)]
    Beats(#[from] BeatsError),
    /// The rules have no such set-up.
    #[error(transparent)]
    Setup(#[from] RuleError),
    /// The rules have no such level.
    #[error("unknown level '{name}'; known are {known}")]
    Level {
        /// What was asked for.
        name: String,
        /// What there is.
        known: String,
    },
}

/// Draws a hand-out: the sheet, then every letter of the score in the order
/// written, each from a new page on. [`Drawing::spots`] are the sheet's; the
/// systems of a letter name the bars of that letter written alone.
///
/// # Errors
/// [`HandoutError`]. `timeline` must be compiled from `score`.
pub fn handout(
    score: &Score,
    timeline: &Timeline,
    options: &Options,
) -> Result<Drawing, HandoutError> {
    let notation = notate::Options {
        fold: options.fold,
        tradition: options.tradition.clone(),
        count_by: options.count_by,
    };
    let abouts = about::letters(score, timeline, options)?;
    let music = written(score, timeline, &notation)?;
    let mut drawing = engrave(&music, &score.kit, &options.style)?;
    for page in &mut drawing.pages {
        // Pages are numbered through the whole hand-out below.
        page.items.retain(|item| item.role != Role::Folio);
    }
    let mut pages = page::Pages::new(drawing, &options.style);
    for about in &abouts {
        let music = notate::cell(&about.cell, score.meter, &notation)?;
        pages.letter(about, &music, &score.kit)?;
    }
    Ok(pages.finish())
}
