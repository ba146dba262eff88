//! Variations of a cell.

use std::ops::RangeInclusive;

use super::{Answer, AnswerError, Proposal, Subject, ToolSettings, rules, top_tempo};
use crate::craft::rules::Rules;
use crate::craft::variation::{
    Ask, Keep, Variation, Variations, displaced, inverted, nearest, reversed, vary,
};
use crate::music::{Articulation, Cell, Kit, Limb, Voice};
use crate::words::thousands;

/// How many the window shows at a time.
const SHOWN: usize = 6;

/// What may vary.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VaryOptions {
    /// How many of each cell.
    pub number: usize,
    /// Which of equally good ones.
    pub seed: u64,
    /// How hard they may be, by its name in the rules.
    pub level: String,
    /// What stays as it is.
    pub keep: Keep,
    /// Limbs that may play; those of the cell if empty.
    pub limbs: Vec<Limb>,
    /// What may be struck; what is struck in the cell if empty.
    pub voices: Vec<(Voice, Articulation)>,
    /// Distances from the cell.
    pub within: Option<RangeInclusive<u64>>,
    /// Any that exist, each as likely as another, in place of the nearest ones.
    pub any: bool,
    /// Whether the cell is played round and round.
    pub looped: bool,
    /// How the kit stands, by its name in the rules: top tempos depend on it.
    pub setup: String,
}

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

/// Makes variations, nearest first.
///
/// # Errors
/// See [`AnswerError`].
pub fn variations(
    rules: &Rules,
    kit: &Kit,
    cell: &Cell,
    options: &VaryOptions,
) -> Result<FoundVariations, AnswerError> {
    let mut ask = Ask::new(cell, &options.level, options.number);
    ask.keep = options.keep;
    if !options.limbs.is_empty() {
        ask.limbs.clone_from(&options.limbs);
    }
    if !options.voices.is_empty() {
        ask.voices.clone_from(&options.voices);
    }
    ask.within.clone_from(&options.within);
    ask.repeats = options.looped;
    ask.seed = options.seed;
    let made = if options.any { vary } else { nearest }(&ask, &rules.variation);
    let made = made.map_err(|e| AnswerError::Question(format!("cell {}: {e}", cell.letter)))?;
    let top = |variation: &Variation| {
        let (setup, level) = (&options.setup, &options.level);
        top_tempo(rules, kit, setup, level, &variation.cell, options.looped)
    };
    Ok(FoundVariations {
        top_bpm: made.cells.iter().map(top).collect::<Result<_, _>>()?,
        made,
    })
}

/// The nearest ones, then those by rule.
pub(super) fn proposals(settings: &ToolSettings, subject: &Subject) -> Result<Answer, AnswerError> {
    let cell = &subject.cell;
    let options = VaryOptions {
        number: SHOWN,
        seed: settings.seed,
        level: settings.level.clone(),
        keep: Keep {
            opening: 0,
            accents: settings.accents,
            kicks: settings.kicks,
            rests: settings.rests,
            sticking: settings.sticking,
            voices: settings.voices,
        },
        limbs: Vec::new(),
        voices: Vec::new(),
        within: None,
        any: settings.any,
        looped: true,
        setup: settings.setup.clone(),
    };
    let mut answer = Answer::default();
    match variations(rules(), &subject.score.kit, cell, &options) {
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
