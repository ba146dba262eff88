//! What is played round and round: the form, a letter, a stretch, a join, forms
//! drawn at random. A plan's [`Play`] over a score becomes one or more passages.

mod cut;
mod draw;
mod strokes;

pub use draw::DrawError;
pub use strokes::{Grace, Written};

use crate::plan::{Plan, Play};
use barform_score::music::{Beats, BeatsError, Letter, Meter};
use barform_score::score::Score;
use barform_score::timeline::{Bar, CompileError, Timeline};

/// Music that is played in passes.
#[derive(Debug, Clone, PartialEq)]
pub struct Passage {
    /// What it is called: `form`, `letter A`, `bars 3 to 6`, `join A B`, `drawn`.
    pub name: String,
    /// Speed against the tempo of a step.
    pub rate: Beats,
    /// Length of all rounds together.
    pub length: Beats,
    /// Starts of the rounds, one for each pass, then over again; the first is 0.
    pub rounds: Vec<Beats>,
    /// Bars in order. One that was cut at the passage's start begins before it,
    /// and one may begin behind its end.
    /// Number 0 is the end of a full bar.
    pub bars: Vec<Bar>,
    /// Bar lines are counted on from the start through all passes, in the meter
    /// of the first bar, and `bars` are not looked at again.
    pub bars_run_on: bool,
    /// Strokes in order of time.
    pub strokes: Vec<Written>,
    /// Ostinatos under it.
    pub ostinatos: Vec<Under>,
    /// Beat of the ostinatos' cycles at the start of every pass; `None` where
    /// they go on through all passes.
    pub ostinato_from: Option<Beats>,
    /// Letters with their starts, in order.
    pub letters: Vec<(Beats, Letter)>,
}

/// An ostinato.
#[derive(Debug, Clone, PartialEq)]
pub struct Under {
    /// Its name.
    pub name: String,
    /// Length of its cycle.
    pub cycle: Beats,
    /// Strokes of one cycle, in order of time.
    pub strokes: Vec<Written>,
}

/// Why there is nothing to practise.
#[derive(Debug, thiserror::Error)]
pub enum PassageError {
    /// The score cannot be played.
    #[error(transparent)]
    Score(#[from] CompileError),
    /// A letter that the score does not have.
    #[error("the score has no letter {wanted}; it has {letters}")]
    NoLetter {
        /// The one asked for.
        wanted: Letter,
        /// Those there are.
        letters: String,
    },
    /// Bars that the form does not have.
    #[error("the form has bars {first} to {last}, not {wanted}")]
    NoBars {
        /// First bar's number.
        first: u32,
        /// Last bar's number.
        last: u32,
        /// What was asked for.
        wanted: String,
    },
    /// Two letters that do not follow one another.
    #[error("{from} is never followed by {to} in the form; its joins are {joins}")]
    NoJoin {
        /// The first.
        from: Letter,
        /// The second.
        to: Letter,
        /// The joins there are.
        joins: String,
    },
    /// Forms cannot be drawn.
    #[error(transparent)]
    Draw(#[from] DrawError),
    /// Lengths that do not add up exactly.
    #[error(transparent)]
    Beats(#[from] BeatsError),
}

impl From<barform_score::score::ScoreError> for PassageError {
    fn from(error: barform_score::score::ScoreError) -> Self {
        PassageError::Score(error.into())
    }
}

/// Two letters that follow one another in the form.
pub type Pair = (Letter, Letter);

/// Every pair of unlike letters that follow one another in the form, in the order
/// in which they come, each once; the form's end leads back to its start.
pub fn pairs(timeline: &Timeline) -> Vec<Pair> {
    let letter = |place: &barform_score::timeline::Place| &timeline.letters[place.letter as usize];
    let places = &timeline.places;
    let nexts = places.iter().skip(1).chain(places.first());
    let mut pairs: Vec<Pair> = Vec::new();
    for (place, next) in places.iter().zip(nexts) {
        let pair = (letter(place).clone(), letter(next).clone());
        if pair.0 != pair.1 && !pairs.contains(&pair) {
            pairs.push(pair);
        }
    }
    pairs
}

impl Passage {
    /// The passages of a plan, in the order in which they are practised. `first`
    /// are joins to be practised ahead of the others: the worst ones, where a
    /// history tells.
    ///
    /// # Errors
    /// See [`PassageError`].
    pub fn all(plan: &Plan, score: &Score, first: &[Pair]) -> Result<Vec<Passage>, PassageError> {
        let timeline = Timeline::compile(score)?;
        let join = |(from, to): &Pair| cut::join(plan, score, &timeline, from, to);
        Ok(match &plan.play {
            Play::Form => vec![Passage::form(score, &timeline)?],
            Play::Letter(letter) => vec![Passage::letter(score, &timeline, letter)?],
            Play::Bars(from, to) => vec![cut::bars(score, &timeline, *from, *to)?],
            Play::Join(from, to) => vec![join(&(from.clone(), to.clone()))?],
            Play::Joins => {
                let mut pairs = pairs(&timeline);
                // Stable: the others keep their order.
                let rank = |p: &Pair| first.iter().position(|f| f == p).unwrap_or(first.len());
                pairs.sort_by_key(rank);
                pairs.iter().map(join).collect::<Result<_, _>>()?
            }
            Play::Drawn => vec![draw::drawn(&plan.drawn, score)?],
        })
    }

    /// Beats before the first bar line.
    pub fn pickup(&self) -> Beats {
        let mut lines = self.bars.iter().filter(|bar| bar.number > 0);
        let line = lines.find(|bar| bar.start >= Beats::ZERO && bar.start < self.length);
        line.map_or(Beats::ZERO, |bar| bar.start)
    }

    /// Meter of the first bar.
    pub fn meter(&self) -> Meter {
        self.bars.first().map_or(Meter::FOUR_FOUR, |bar| bar.meter)
    }

    /// First beat and end of a round.
    pub fn round(&self, pass: u32) -> (Beats, Beats) {
        let round = pass as usize % self.rounds.len().max(1);
        let start = self.rounds.get(round).copied().unwrap_or(Beats::ZERO);
        let end = self.rounds.get(round + 1).copied().unwrap_or(self.length);
        (start, end)
    }

    /// The letter that sounds at a beat of the passage.
    pub fn letter_at(&self, at: Beats) -> Option<usize> {
        self.letters
            .partition_point(|(start, _)| *start <= at)
            .checked_sub(1)
    }

    fn form(score: &Score, timeline: &Timeline) -> Result<Passage, PassageError> {
        let places = timeline.places.iter();
        let letter =
            |p: &barform_score::timeline::Place| timeline.letters[p.letter as usize].clone();
        Ok(Passage {
            name: "form".to_owned(),
            rate: Beats::ONE,
            length: timeline.length,
            rounds: vec![Beats::ZERO],
            bars: timeline.bars.clone(),
            bars_run_on: false,
            strokes: strokes::of_form(score, timeline)?,
            ostinatos: strokes::ostinatos(score, timeline)?,
            ostinato_from: None,
            letters: places.map(|p| (p.start, letter(p))).collect(),
        })
    }

    fn letter(
        score: &Score,
        timeline: &Timeline,
        letter: &Letter,
    ) -> Result<Passage, PassageError> {
        let number = timeline.letters.iter().position(|l| l == letter);
        let cell = number.and_then(|_| score.cell(letter));
        let (Some(number), Some(cell)) = (number, cell) else {
            let all: Vec<String> = timeline.letters.iter().map(Letter::to_string).collect();
            return Err(PassageError::NoLetter {
                wanted: letter.clone(),
                letters: all.join(" "),
            });
        };
        let meter = timeline.bars.first().map_or(score.meter, |bar| bar.meter);
        Ok(Passage {
            name: Play::Letter(letter.clone()).to_string(),
            rate: Beats::ONE,
            length: cell.grid.length()?,
            rounds: vec![Beats::ZERO],
            bars: vec![Bar {
                start: Beats::ZERO,
                meter,
                number: 1,
            }],
            bars_run_on: true,
            strokes: strokes::of_letter(score, timeline, number)?,
            ostinatos: strokes::ostinatos(score, timeline)?,
            ostinato_from: None,
            letters: vec![(Beats::ZERO, letter.clone())],
        })
    }
}
