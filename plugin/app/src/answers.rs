//! What the craft has to say about cells and forms: data with reasons in words.
//!
//! One file for each question: what can be asked for, the function that answers,
//! and where the window has a tool for it, the answer as it proposes it
//! ([`answer()`]). Rules are the craft's; how an answer is printed or drawn is the
//! shell's.

mod answer;
mod cell_lines;
mod count;
mod forms;
mod kit;
mod mend;
mod playable;
mod practice;
mod refit;
mod revoice;
mod rudiments;
mod settings;
mod stick;
mod vary;

pub use answer::{Answer, Proposal, Row};
pub use cell_lines::cell_lines;
pub use count::{CountedPlace, cell_counts, form_counts, tradition};
pub use forms::{FormsAnswer, FormsOptions, forms};
pub use kit::{KitUse, other_strokes};
pub use mend::{MendedForm, UnbarredForm, mend, sections};
pub use playable::{LevelTop, Playability, PlayableOptions, form_line, playable, top_tempo};
pub use practice::{Review, TakeStart, click_latency, plan_for_level, played, review};
pub use refit::{CarriedCell, SubdivisionChoice, carried, choices};
pub use revoice::written_pedals;
pub use rudiments::{FoundRudiment, form_rudiments};
pub use settings::{Subject, ToolSettings};
pub use stick::{CellSticking, StickOptions, StickQuestion};
pub use vary::{ByRule, FoundVariations, variations};

use std::sync::OnceLock;

use crate::craft::playable::Ability;
use crate::craft::rules::Rules;
use crate::craft::sticking::Setup;
use crate::music::{BeatsError, Cell, Kit, Letter};
use crate::score::{Document, ScoreError};

/// Why there is no answer.
#[derive(Debug, thiserror::Error)]
pub enum AnswerError {
    /// What was asked for makes no sense or is not there.
    #[error("{0}")]
    Question(String),
    /// The score has an error.
    #[error(transparent)]
    Score(#[from] ScoreError),
    /// Exact times do not fit.
    #[error(transparent)]
    Beats(#[from] BeatsError),
    /// It cannot be worked out of the score.
    #[error("{0}")]
    Unfit(String),
}

/// What can be done for a cell by itself, as buttons beside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Tool {
    /// Which hand plays which stroke.
    #[default]
    Sticking,
    /// Rudiments that are in it.
    Rudiments,
    /// New cells in its frame.
    Vary,
    /// Other voices.
    Revoice,
    /// Another subdivision, same length.
    Refit,
    /// Another subdivision, same strokes.
    Carry,
    /// How fast it can be played.
    Tempo,
}

impl Tool {
    /// All of them, with the word on the button and what it means.
    pub const ALL: [(Tool, &str, &str); 7] = [
        (
            Tool::Sticking,
            "Sticking",
            "Which hand plays which stroke: several ways, and what each costs the hands",
        ),
        (
            Tool::Rudiments,
            "Rudiments",
            "Which of the 40 International Drum Rudiments are in the cell, and where",
        ),
        (
            Tool::Vary,
            "Vary",
            "New cells in the frame of this one, nearest first",
        ),
        (
            Tool::Revoice,
            "Re-voice",
            "The same strokes on other drums and cymbals",
        ),
        (
            Tool::Refit,
            "Refit",
            "On another subdivision, as long as before: strokes are repeated or left out",
        ),
        (
            Tool::Carry,
            "Carry",
            "On another subdivision with all its strokes: the length changes, and it moves \
             across the bar line",
        ),
        (
            Tool::Tempo,
            "Top tempo",
            "How fast each level of player is asked to be at most, and what limits it",
        ),
    ];
}

/// What a tool has to say about a cell.
pub fn answer(tool: Tool, settings: &ToolSettings, subject: &Subject) -> Answer {
    if subject.cell.slots.iter().all(Vec::is_empty) {
        return Answer::only("There are only rests here. Put some strokes in first.");
    }
    let answer = match tool {
        Tool::Sticking => stick::proposals(settings, subject),
        Tool::Rudiments => rudiments::rows(subject),
        Tool::Vary => vary::proposals(settings, subject),
        Tool::Revoice => revoice::proposals(settings, subject),
        Tool::Refit => refit::refit_proposals(subject),
        Tool::Carry => refit::carry_proposals(subject),
        Tool::Tempo => playable::rows(settings, subject),
    };
    answer.unwrap_or_else(|error| Answer::only(error.to_string()))
}

/// The built-in rule sets, read once.
pub fn rules() -> &'static Rules {
    static RULES: OnceLock<Rules> = OnceLock::new();
    RULES.get_or_init(Rules::builtin)
}

/// The cell of a letter, or all cells in the order written.
///
/// # Errors
/// [`AnswerError::Question`] for a letter that the score does not have.
pub fn cells(document: &Document, letter: Option<&Letter>) -> Result<Vec<Cell>, AnswerError> {
    let score = document.score();
    let Some(letter) = letter else {
        return Ok(score.cells_resolved()?);
    };
    score.cell(letter).map(|cell| vec![cell]).ok_or_else(|| {
        let letters: Vec<&str> = score.cells.iter().map(|c| c.letter.as_str()).collect();
        AnswerError::Question(format!(
            "no cell {letter} in {}; its letters are {}",
            document.file_name(),
            letters.join(", ")
        ))
    })
}

/// A level of player.
fn level<'r>(rules: &'r Rules, name: &str) -> Result<&'r Ability, AnswerError> {
    rules.levels.get(name).ok_or_else(|| {
        let known: Vec<&str> = rules.levels.all().iter().map(|l| l.name.as_str()).collect();
        AnswerError::Question(format!(
            "unknown level '{name}'; known are {}",
            known.join(", ")
        ))
    })
}

/// How a player's kit stands.
fn setup(rules: &Rules, name: &str, kit: &Kit) -> Result<Setup, AnswerError> {
    let setup = rules.sticking.setup(name, kit);
    setup.map_err(|error| AnswerError::Question(error.problem))
}
