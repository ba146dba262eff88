//! The one exact schedule of a plan over a score.
//!
//! A [`Schedule`] is a list of [`Segment`]s, each within one bar: its tempo, the
//! stretch of a passage that it plays, what is silent, its clicks. Tracks and the
//! report on somebody's playing both read it.

mod onsets;
mod seconds;
mod silence;
mod walk;
mod write;

pub use onsets::{Onset, Ornaments, Sounding};
pub use seconds::Seconds;

use crate::passage::{Pair, Passage, PassageError, Written};
use crate::plan::{Layer, Plan, StepsError, Then, TurnOf};
use barform_score::music::{Beats, BeatsError, Letter, Meter};
use barform_score::score::Score;
use barform_score::timeline::{ClickKind, Note};

/// Most segments of one schedule: days of bars.
pub const MAX_SEGMENTS: usize = 200_000;

/// Most strokes and clicks of one schedule: half a day of sixteenths at 180.
pub const MAX_STROKES: usize = 500_000;

/// A plan worked out over a score.
#[derive(Debug, Clone, PartialEq)]
pub struct Schedule {
    /// Title of the score.
    pub title: String,
    /// What is played.
    pub passages: Vec<Passage>,
    /// Segments in order, without a gap between them.
    pub segments: Vec<Segment>,
    /// Length in beats.
    pub length: Beats,
    /// Its end.
    pub ends: Seconds,
    /// Letters that are always the player's.
    pub player_letters: Vec<Letter>,
    /// Layers in order; all of the music if there are none.
    pub layers: Vec<Layer>,
}

/// A stretch within one bar.
#[derive(Debug, Clone, PartialEq)]
pub struct Segment {
    /// Where it begins, in beats from the start of the track.
    pub start: Beats,
    /// Its length in beats.
    pub length: Beats,
    /// When it begins.
    pub begins: Seconds,
    /// Its tempo in beats a minute.
    pub tempo: Beats,
    /// Number of the tempo step, from 0, those after the last one counted on.
    pub step: usize,
    /// Which passage is played or counted in.
    pub passage: usize,
    /// What is played; `None` in a count-in.
    pub source: Option<Source>,
    /// Whether a bar line stands at its start.
    pub bar_line: bool,
    /// Meter of its bar.
    pub meter: Meter,
    /// What a gap silences.
    pub silent: Silent,
    /// How many of the layers are heard.
    pub layers: usize,
    /// The clicks in it that sound.
    pub clicks: Vec<Click>,
}

/// The stretch of a passage that a segment plays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Source {
    /// Which time the passage is played, from 0.
    pub pass: u32,
    /// First beat of the passage.
    pub from: Beats,
    /// Beat of the ostinatos at the start.
    pub ostinato_from: Beats,
    /// Whose turn it is.
    pub turn: TurnOf,
}

/// What is silent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Silent {
    /// The form.
    pub form: bool,
    /// The ostinatos.
    pub ostinato: bool,
    /// The click.
    pub click: bool,
}

/// A click.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Click {
    /// Beats from the start of the track.
    pub at: Beats,
    /// What it marks.
    pub kind: ClickKind,
    /// What sounds.
    pub note: Note,
}

/// Why there is no schedule.
#[derive(Debug, thiserror::Error)]
pub enum ScheduleError {
    /// Nothing to play.
    #[error(transparent)]
    Passage(#[from] PassageError),
    /// Tempo steps that cannot be taken.
    #[error(transparent)]
    Steps(#[from] StepsError),
    /// More than [`MAX_SEGMENTS`] or [`MAX_STROKES`].
    #[error("more than {MAX_SEGMENTS} bars or {MAX_STROKES} strokes; use fewer steps or passes")]
    TooLong,
    /// Numbers of the plan out of their range.
    #[error("{0}")]
    Plan(String),
    /// Lengths that do not add up exactly.
    #[error(transparent)]
    Beats(#[from] BeatsError),
}

impl Schedule {
    /// Works a plan out. `first` are joins to be practised ahead of others.
    ///
    /// # Errors
    /// See [`ScheduleError`].
    pub fn new(plan: &Plan, score: &Score, first: &[Pair]) -> Result<Schedule, ScheduleError> {
        plan.check()
            .map_err(|(_, problem)| ScheduleError::Plan(problem))?;
        let passages = Passage::all(plan, score, first)?;
        let mut tempos = plan.tempo.tempos(score.tempo)?;
        match plan.then {
            Then::End => {}
            Then::Down => {
                let down: Vec<Beats> = tempos.iter().rev().skip(1).copied().collect();
                tempos.extend(down);
            }
            Then::Hold(times) => {
                let last = tempos.last().copied().unwrap_or(score.tempo);
                tempos.extend(std::iter::repeat_n(last, usize::from(times)));
            }
        }
        let (segments, length, ends) = walk::segments(plan, &score.kit, &passages, &tempos)?;
        let player_letters = plan.trading.iter().flat_map(|t| &t.player);
        Ok(Schedule {
            title: score.title.clone(),
            passages,
            segments,
            length,
            ends,
            player_letters: player_letters.map(|l| l.0.clone()).collect(),
            layers: plan.layers.iter().flat_map(|l| &l.order).copied().collect(),
        })
    }

    /// Whether a segment's stretch, as far as a stroke of the form is concerned,
    /// is the player's.
    pub fn is_players(&self, segment: &Segment, stroke: &Written) -> bool {
        let passage = &self.passages[segment.passage];
        let letter = passage.letters.get(stroke.letter).map(|(_, letter)| letter);
        let turn = segment.source.map(|s| s.turn);
        turn.is_some_and(|turn| turn != TurnOf::Barform)
            || letter.is_some_and(|letter| self.player_letters.contains(letter))
    }

    /// Whether anything is the player's alone.
    pub fn trades(&self) -> bool {
        let open = |s: &Segment| s.source.is_some_and(|s| s.turn != TurnOf::Barform);
        !self.player_letters.is_empty() || self.segments.iter().any(open)
    }
}
