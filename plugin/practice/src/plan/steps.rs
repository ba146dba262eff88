//! Tempo steps: a list, a range, or per cent of a goal.

use super::text::{TextError, by_words, decimal};
use barform_score::music::{Beats, BeatsError};
use std::fmt;
use std::str::FromStr;

/// Most tempo steps of a plan.
pub const MAX_STEPS: usize = 500;

/// Slowest and fastest tempo of a step, in beats a minute: those of a score.
const RANGE_BPM: (i64, i64) = (20, 400);

const ALLOWED: &str = "60 70 80, or 60 to 120 by 5, or 50% to 100% by 10% of 120";

/// One tempo as it is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Tempo {
    /// Beats a minute.
    Bpm(Beats),
    /// Per cent of the goal.
    Percent(Beats),
}

/// Tempo steps in order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Steps {
    rungs: Rungs,
    /// What per cent are of, in beats a minute; the score's tempo if none is
    /// stated.
    goal: Option<Beats>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Rungs {
    List(Vec<Tempo>),
    Range { from: Tempo, to: Tempo, by: Beats },
}

/// Why steps cannot be worked out.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum StepsError {
    /// More than [`MAX_STEPS`].
    #[error("more than {MAX_STEPS} tempo steps; use larger ones")]
    TooMany,
    /// A tempo out of its range.
    #[error("a tempo step of {} beats a minute; allowed are 20 to 400", decimal(*.0))]
    Tempo(Beats),
    /// A number that does not fit.
    #[error(transparent)]
    Beats(#[from] BeatsError),
}

impl Default for Steps {
    /// The score's own tempo.
    fn default() -> Steps {
        Steps {
            rungs: Rungs::List(vec![Tempo::Percent(Beats::whole(100))]),
            goal: None,
        }
    }
}

impl Steps {
    /// Whole beats a minute from one tempo to another.
    pub fn range(from: u32, to: u32, by: u32) -> Steps {
        let bpm = |n: u32| Tempo::Bpm(Beats::whole(n.into()));
        let rungs = Rungs::Range {
            from: bpm(from),
            to: bpm(to),
            by: Beats::whole(by.max(1).into()),
        };
        Steps { rungs, goal: None }
    }

    /// The tempos in beats a minute, over a score of tempo `of_score`. A range
    /// ends on its last tempo even where its steps do not lead there.
    ///
    /// # Errors
    /// [`StepsError`].
    pub fn tempos(&self, of_score: Beats) -> Result<Vec<Beats>, StepsError> {
        let goal = self.goal.unwrap_or(of_score);
        let hundredth = goal.checked_div(Beats::whole(100))?;
        let bpm = |tempo: Tempo| match tempo {
            Tempo::Bpm(bpm) => Ok(bpm),
            Tempo::Percent(percent) => hundredth.checked_mul(percent),
        };
        let mut tempos = Vec::new();
        match &self.rungs {
            Rungs::List(list) => {
                for tempo in list {
                    tempos.push(bpm(*tempo)?);
                }
            }
            Rungs::Range { from, to, by } => {
                let by = match from {
                    Tempo::Bpm(_) => *by,
                    Tempo::Percent(_) => hundredth.checked_mul(*by)?,
                };
                let (from, to) = (bpm(*from)?, bpm(*to)?);
                let mut now = from;
                while now != to {
                    if tempos.len() >= MAX_STEPS {
                        return Err(StepsError::TooMany);
                    }
                    tempos.push(now);
                    now = if from < to {
                        now.checked_add(by)?.min(to)
                    } else {
                        now.checked_sub(by)?.max(to)
                    };
                }
                tempos.push(to);
            }
        }
        if tempos.len() > MAX_STEPS {
            return Err(StepsError::TooMany);
        }
        let (slowest, fastest) = RANGE_BPM;
        let within = |t: &Beats| *t >= Beats::whole(slowest) && *t <= Beats::whole(fastest);
        match tempos.iter().find(|t| !within(t)) {
            Some(out) => Err(StepsError::Tempo(*out)),
            None => Ok(tempos),
        }
    }
}

impl FromStr for Steps {
    type Err = TextError;

    fn from_str(text: &str) -> Result<Steps, TextError> {
        let wrong = || TextError::new("list of tempo steps", text, ALLOWED);
        let positive = |word: &str| {
            let value = word.parse::<Beats>().ok().filter(|v| v.is_positive());
            value.ok_or_else(wrong)
        };
        let tempo = |word: &str| match word.strip_suffix('%') {
            Some(percent) => positive(percent).map(Tempo::Percent),
            None => positive(word).map(Tempo::Bpm),
        };
        let spaced = text.replace(',', " ");
        let words: Vec<&str> = spaced.split_whitespace().collect();
        let (rungs, goal) = match &words[..] {
            [rungs @ .., "of", goal] => (rungs, Some(positive(goal)?)),
            rungs => (rungs, None),
        };
        let rungs = match rungs {
            [from, "to", to, "by", by] => {
                let (from, to) = (tempo(from)?, tempo(to)?);
                let alike = matches!(
                    (from, to),
                    (Tempo::Bpm(_), Tempo::Bpm(_)) | (Tempo::Percent(_), Tempo::Percent(_))
                );
                let by = match from {
                    Tempo::Percent(_) => by.strip_suffix('%').unwrap_or(by),
                    Tempo::Bpm(_) => by,
                };
                if !alike {
                    return Err(wrong());
                }
                let by = positive(by)?;
                Rungs::Range { from, to, by }
            }
            [] => return Err(wrong()),
            list => Rungs::List(list.iter().map(|w| tempo(w)).collect::<Result<_, _>>()?),
        };
        Ok(Steps { rungs, goal })
    }
}

impl fmt::Display for Tempo {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Tempo::Bpm(bpm) => f.write_str(&decimal(*bpm)),
            Tempo::Percent(percent) => write!(f, "{}%", decimal(*percent)),
        }
    }
}

impl fmt::Display for Steps {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.rungs {
            Rungs::List(list) => {
                let words: Vec<String> = list.iter().map(Tempo::to_string).collect();
                f.write_str(&words.join(" "))?;
            }
            Rungs::Range { from, to, by } => {
                let sign = if matches!(from, Tempo::Percent(_)) {
                    "%"
                } else {
                    ""
                };
                write!(f, "{from} to {to} by {}{sign}", decimal(*by))?;
            }
        }
        match self.goal {
            Some(goal) => write!(f, " of {}", decimal(goal)),
            None => Ok(()),
        }
    }
}

by_words!(Steps);
