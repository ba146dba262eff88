//! How a letter is practised: steps in words, and a ladder of tempos.
//!
//! Slow before fast, one thing at a time, small steps: common practice of
//! teaching, no source.

use barform_score::music::{Beats, Cell, Level, Limb};
use barform_score::score::Ostinato;

/// Most rungs of a ladder.
pub const RUNGS: usize = 10;

/// Tempos from slow to the goal, in beats per minute.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ladder {
    /// The score's own tempo, as printed.
    pub written: String,
    /// The tempo to reach; `None` where no tempo can be played.
    pub goal: Option<u32>,
    /// The tempo to begin at, at or below the goal.
    pub start: u32,
    /// Whether the goal is the score's tempo. If not, it is a top tempo.
    pub as_written: bool,
}

impl Ladder {
    /// The ladder for a score's tempo and the top tempos of the levels told,
    /// from easy to hard.
    ///
    /// The goal is the score's tempo, or the highest top tempo if that is less.
    /// The first rung is half of it, or the easiest level's top tempo if that is
    /// less, but no less than a quarter of the goal: slower than that is
    /// another exercise.
    pub fn new(tempo: Beats, tops: &[Option<u32>]) -> Ladder {
        let whole = u32::try_from(tempo.floor()).unwrap_or(1).max(1);
        let text = format!("{:.2}", tempo.to_f64());
        let written = text.trim_end_matches('0').trim_end_matches('.').to_owned();
        let reachable = tops.iter().copied().max().flatten();
        // Without any level nothing limits.
        let goal = if tops.is_empty() {
            Some(whole)
        } else {
            reachable.map(|top| top.min(whole))
        };
        let most = goal.unwrap_or(whole);
        let easy = tops.iter().flatten().min().copied().unwrap_or(most);
        let start = (most / 2).min(easy).max(most / 4).max(1).min(most);
        Ladder {
            written,
            as_written: goal == Some(whole),
            goal,
            start,
        }
    }

    /// At most `count` rungs, evenly spaced, each a whole tempo, rising; empty
    /// where no tempo can be played.
    pub fn rungs(&self, count: usize) -> Vec<u32> {
        let Some(goal) = self.goal else {
            return Vec::new();
        };
        let (start, steps) = (u64::from(self.start), count.saturating_sub(1).max(1) as u64);
        let way = u64::from(goal) - start.min(u64::from(goal));
        let mut rungs: Vec<u32> = (0..=steps)
            // Nearest whole tempo; the last is the goal itself.
            .map(|i| u32::try_from(start + (2 * way * i + steps) / (2 * steps)).unwrap_or(goal))
            .collect();
        rungs.dedup();
        rungs
    }

    /// What the goal is, in a sentence.
    pub fn sentence(&self) -> String {
        match self.goal {
            None => "No tempo: one limb is asked for in two places. Fix that first.".to_owned(),
            Some(_) if self.as_written => {
                format!("Goal: {} bpm, the tempo of the score.", self.written)
            }
            Some(goal) => format!(
                "Goal: {goal} bpm, the highest top tempo above; the score has {}.",
                self.written
            ),
        }
    }
}

/// What the steps depend on.
pub struct Ask<'a> {
    /// The cell.
    pub cell: &'a Cell,
    /// Its letter as printed.
    pub letter: &'a str,
    /// The letter it varies, as printed.
    pub parent: Option<String>,
    /// What runs under the form.
    pub ostinatos: &'a [Ostinato],
    /// Letters that it follows, as printed.
    pub before: Vec<String>,
    /// Letters that follow it, as printed.
    pub after: Vec<String>,
    /// The tempos.
    pub ladder: &'a Ladder,
}

/// The steps in order.
pub fn steps(ask: &Ask) -> Vec<String> {
    let strokes = || ask.cell.slots.iter().flatten();
    let hands = strokes().any(|s| !s.limb.is_foot());
    let feet = strokes().any(|s| s.limb.is_foot());
    let pad = strokes().filter(|s| !s.limb.is_foot()).map(|s| s.voice);
    let mut voices: Vec<_> = pad.collect();
    voices.dedup();
    let mut steps = Vec::new();
    let mut say = |text: String| steps.push(text);
    say(if ask.ladder.goal.is_some() {
        format!(
            "Set the click to {} bpm. Say the count aloud and clap the strokes, no sticks yet.",
            ask.ladder.start
        )
    } else {
        "Say the count aloud and clap the strokes, no sticks yet.".to_owned()
    });
    if hands {
        say(format!(
            "Hands alone on one surface, in the sticking under the staff{}. Four times in a row \
             without a slip before you go on.",
            if feet { "; leave the feet out" } else { "" }
        ));
    }
    let marks: Vec<&str> = [
        (strokes().any(|s| s.level == Level::Accent), "accents tall"),
        (
            strokes().any(|s| s.level == Level::Ghost),
            "ghost notes low",
        ),
        (
            strokes().any(|s| !s.graces.is_empty()),
            "grace notes close to their stroke",
        ),
        (strokes().any(|s| s.buzz), "buzzes long and even"),
    ]
    .into_iter()
    .filter_map(|(there, words)| there.then_some(words))
    .collect();
    if !marks.is_empty() {
        say(format!("Now bring out the marks: {}.", marks.join(", ")));
    }
    if feet {
        let which: Vec<&str> = [(Limb::KickFoot, "kick"), (Limb::HatFoot, "hi-hat foot")]
            .into_iter()
            .filter(|(limb, _)| strokes().any(|s| s.limb == *limb))
            .map(|(_, name)| name)
            .collect();
        say(if hands {
            format!(
                "With feet: the {} alone under the spoken count, then hands and feet together.",
                which.join(" and ")
            )
        } else {
            format!(
                "Feet: play the {} under the spoken count.",
                which.join(" and ")
            )
        });
    }
    for ostinato in ask.ostinatos.iter().take(1) {
        say(format!(
            "With what runs under the form: keep the ostinato {} going and play {} over it.",
            ostinato.name, ask.letter
        ));
    }
    if voices.len() > 1 {
        say(
            "On the kit: same tempo, now on the voices written. Look ahead to the next \
             drum, let the arm lead."
                .to_owned(),
        );
    }
    if let Some(parent) = &ask.parent {
        say(format!(
            "{parent} and {} in turn, so that you hear what has changed.",
            ask.letter
        ));
    }
    if let Some(text) = neighbours(ask) {
        say(text);
    }
    if ask.ladder.goal.is_some() {
        say(
            "Work up the tempo steps below: one step up after four easy times in a row, one step \
             down as soon as it feels tight."
                .to_owned(),
        );
    }
    steps
}

/// The joins to what stands beside it.
fn neighbours(ask: &Ask) -> Option<String> {
    let list = |letters: &[String]| match letters {
        [more @ .., last] if !more.is_empty() => format!("{} or {last}", more.join(", ")),
        _ => letters.join(""),
    };
    let (letter, before, after) = (ask.letter, list(&ask.before), list(&ask.after));
    let joins = match (before.is_empty(), after.is_empty()) {
        (true, true) => return None,
        (false, true) => format!("from {before} into {letter}"),
        (true, false) => format!("from {letter} on to {after}"),
        (false, false) => {
            format!("from {before} into {letter}, and from {letter} on to {after}")
        }
    };
    Some(format!(
        "In the form: {joins}. Repeat the joins: they fall apart first."
    ))
}
