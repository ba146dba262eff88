//! Variations of a cell.

use super::{Answer, AnswerError, Proposal, Subject, ToolSettings, rules, top_tempo};
use crate::craft::rules::Rules;
use crate::craft::variation::{
    Ask, Keep, Variation, Variations, displaced, inverted, nearest, reversed, vary,
};
use crate::music::{Cell, Kit};
use crate::words::thousands;

/// How many the window shows at a time.
const SHOWN: usize = 6;

/// Variations of one cell.
#[derive(Debug, Clone)]
pub struct FoundVariations {
    /// How many there are, and those that were chosen.
    pub made: Variations,
    /// Top tempo of each at the level, where there is one.
    pub top_bpm: Vec<Option<u32>>,
}

/// A variation that is worked out by a rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ByRule {
    /// Every stroke so many slots later, or earlier if negative.
    Shift(i64),
    /// The strokes in reverse order.
    Reverse,
    /// Right for left and left for right.
    Invert,
}

impl ByRule {
    /// The variation, under its next prime.
    pub fn of(self, cell: &Cell) -> Cell {
        match self {
            ByRule::Shift(slots) => displaced(cell, slots),
            ByRule::Reverse => reversed(cell),
            ByRule::Invert => inverted(cell),
        }
    }
}

/// Makes variations: the nearest ones, or `any` that exist, each as likely as
/// another; with top tempos for a kit that stands as `setup` says.
///
/// # Errors
/// See [`AnswerError`].
pub fn variations(
    rules: &Rules,
    kit: &Kit,
    setup: &str,
    ask: &Ask,
    any: bool,
) -> Result<FoundVariations, AnswerError> {
    let made = if any { vary } else { nearest }(ask, &rules.variation);
    let letter = &ask.original.letter;
    let made = made.map_err(|e| AnswerError::Question(format!("cell {letter}: {e}")))?;
    let top = |variation: &Variation| {
        top_tempo(rules, kit, setup, &ask.level, &variation.cell, ask.repeats)
    };
    Ok(FoundVariations {
        top_bpm: made.cells.iter().map(top).collect::<Result<_, _>>()?,
        made,
    })
}

/// The nearest ones, then those by rule.
pub(super) fn proposals(settings: &ToolSettings, subject: &Subject) -> Result<Answer, AnswerError> {
    let cell = &subject.cell;
    let mut ask = Ask::new(cell, &settings.level, SHOWN);
    ask.seed = settings.seed;
    ask.keep = Keep {
        opening: 0,
        accents: settings.accents,
        kicks: settings.kicks,
        rests: settings.rests,
        sticking: settings.sticking,
        voices: settings.voices,
    };
    let mut answer = Answer::default();
    let kit = &subject.score.kit;
    match variations(rules(), kit, &settings.setup, &ask, settings.any) {
        Ok(found) => {
            let kind = if settings.any { "some" } else { "the nearest" };
            let line = match found.made.cells.len() {
                0 => "There is no other cell that keeps all that. Keep less, or select a higher \
                      level."
                    .to_owned(),
                _ => format!(
                    "{} cells match your settings; {kind} of them:",
                    thousands(&found.made.exist.to_string())
                ),
            };
            answer.head.push(line);
            let all = found.made.cells.iter().zip(found.top_bpm);
            for (i, (variation, bpm)) in all.enumerate() {
                let name = format!("Variation {}", i + 1);
                let mut proposal = Proposal::of(name, under(cell, &variation.cell));
                proposal.summary = variation.said(bpm);
                answer.propose(cell, proposal);
            }
        }
        Err(error) => answer.head.push(format!("No variations: {error}.")),
    }
    for (name, rule) in [
        ("Every stroke one slot later", ByRule::Shift(1)),
        ("Every stroke one slot earlier", ByRule::Shift(-1)),
        ("In reverse order", ByRule::Reverse),
        ("Right for left", ByRule::Invert),
    ] {
        let mut proposal = Proposal::of(name, under(cell, &rule.of(cell)));
        proposal.summary = "by rule".to_owned();
        proposal.audible = rule != ByRule::Invert;
        answer.propose(cell, proposal);
    }
    Ok(answer)
}

/// Under the letter of the cell: which prime it gets is settled when it is kept.
fn under(cell: &Cell, made: &Cell) -> Cell {
    Cell {
        letter: cell.letter.clone(),
        ..made.clone()
    }
}
