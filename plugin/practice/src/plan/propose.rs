//! Tempo steps proposed from what can be played at a level.

use super::{Play, Steps};
use barform_craft::line::Line;
use barform_craft::playable::{Ability, Levels, Playable};
use barform_craft::sticking::Rules;
use barform_score::music::BeatsError;
use barform_score::score::Score;
use barform_score::timeline::{CompileError, Timeline};

/// Per cent of the goal to start from; common practice, no source.
const START_PERCENT: u32 = 60;

/// Beats a minute from one step to the next; common practice, no source.
const STEP_BPM: u32 = 5;

/// Why nothing can be proposed.
#[derive(Debug, thiserror::Error)]
pub enum ProposeError {
    /// The score cannot be played.
    #[error(transparent)]
    Score(#[from] CompileError),
    /// A letter that the score does not have.
    #[error("the score has no such letter")]
    NoLetter,
    /// One limb on two drums at once, or a kit that is not known.
    #[error("no tempo is playable: {0}")]
    NoTempo(String),
    /// Times that do not fit.
    #[error(transparent)]
    Beats(#[from] BeatsError),
}

impl Steps {
    /// Steps from slow to a goal: the score's tempo, or the top tempo of a level if
    /// that is less. A letter is judged by itself, anything else by the whole form
    /// over its ostinatos, on a right-handed kit.
    ///
    /// The figures are those of [`Playable`], which are no advice to play that
    /// fast.
    ///
    /// # Errors
    /// See [`ProposeError`].
    pub fn proposed(
        score: &Score,
        play: &Play,
        level: &Ability,
        levels: &Levels,
        rules: &Rules,
    ) -> Result<Steps, ProposeError> {
        let line = match play {
            Play::Letter(letter) => {
                let cell = score.cell(letter).ok_or(ProposeError::NoLetter)?;
                Line::from_cell(&cell)?
            }
            _ => {
                let mut line = Line::from_timeline(&Timeline::compile(score)?)?;
                for under in &score.ostinatos {
                    line = line.with_ostinato(&under.name, &under.grid, &under.slots())?;
                }
                line
            }
        };
        let setup = rules.setup("right-handed", &score.kit);
        let setup = setup.map_err(|e| ProposeError::NoTempo(e.problem))?;
        let playable = Playable::new(&line.strokes, Some(line.length), &setup, rules);
        let top = playable.top_tempo(level, levels)?;
        let none = || ProposeError::NoTempo(top.sentence(level, &line));
        let top = top.bpm.ok_or_else(none)?;
        // Whole beats a minute within the range of tempo steps.
        let own = u32::try_from(score.tempo.floor()).unwrap_or(u32::MAX);
        let goal = own.min(top).clamp(20, 400);
        let start = (goal * START_PERCENT / 100 / STEP_BPM * STEP_BPM).clamp(20, goal);
        Ok(Steps::range(start, goal, STEP_BPM))
    }
}
