//! Rudiments that are in a cell or a form.

use super::{Answer, AnswerError, Row, Subject, rules};
use crate::craft::line::Line;
use crate::craft::rudiments::{Find, Look, Rhythm, Rudiments};
use crate::timeline::Timeline;

/// How often a cell is played in a row to find what goes on across its end.
const ROUNDS: usize = 4;

/// A rudiment of the form.
#[derive(Debug, Clone)]
pub struct FoundRudiment {
    /// Which one, and where.
    pub find: Find,
    /// Number of the bar in which it begins.
    pub bar: u32,
}

/// Finds rudiments in the form; gives it as a line too.
///
/// # Errors
/// [`AnswerError::Beats`] if times do not fit.
pub fn form_rudiments(
    rudiments: &Rudiments,
    timeline: &Timeline,
    look: Look,
) -> Result<(Line, Vec<FoundRudiment>), AnswerError> {
    let line = Line::from_timeline(timeline)?;
    let finds = rudiments.find(&line, look)?;
    let found = finds.into_iter().map(|find| {
        let first = find.strokes.first().and_then(|i| line.strokes.get(*i));
        let bar = first.and_then(|(at, _)| {
            let after = timeline.bars.partition_point(|bar| bar.start <= *at);
            timeline.bars.get(after.saturating_sub(1))
        });
        FoundRudiment {
            bar: bar.map_or(0, |bar| bar.number),
            find,
        }
    });
    let found = found.collect();
    Ok((line, found))
}

/// What is found once through, then what is there only if it is repeated, then
/// what has another rhythm.
pub(super) fn rows(subject: &Subject) -> Result<Answer, AnswerError> {
    let once = Line::from_cells([&subject.cell])?;
    let again = Line::from_cells(std::iter::repeat_n(&subject.cell, ROUNDS))?;
    let mut answer = Answer::default();
    let mut seen: Vec<String> = Vec::new();
    for (line, rhythm, about) in [
        (&once, Rhythm::Proportional, ""),
        (&again, Rhythm::Proportional, "Looped: "),
        (&once, Rhythm::Any, "With another rhythm: "),
        (&again, Rhythm::Any, "With another rhythm, looped: "),
    ] {
        let look = Look {
            accents: false,
            rhythm,
        };
        for find in rules().rudiments.find(line, look)? {
            if seen.contains(&find.named.name) && !about.is_empty() {
                continue;
            }
            seen.push(find.named.name.clone());
            answer.rows.push(row(&find, line, about));
        }
    }
    if answer.rows.is_empty() {
        answer.head.push(
            "None of the 40 International Drum Rudiments (Percussive Arts Society) is in this \
             cell."
                .to_owned(),
        );
    }
    Ok(answer)
}

fn row(find: &Find, line: &Line, about: &str) -> Row {
    let mut text = format!("{about}{}", find.sentence(line));
    let also: Vec<&str> = find.also.iter().map(|named| named.name.as_str()).collect();
    if !also.is_empty() {
        text += &format!("; the same strokes are also: {}", also.join(", "));
    }
    Row {
        name: find.named.name.clone(),
        text,
        slot: Some(find.first.slot),
    }
}
