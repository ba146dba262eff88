//! Rudiments that are in a cell.

use barform_app::craft::line::Line;
use barform_app::craft::rudiments::{Find, Look, Rhythm};

use super::super::answer::{Answer, Row};
use super::super::question::{Subject, rules};

/// How often a cell is played in a row to find what goes on across its end.
const ROUNDS: usize = 4;

/// What is found once through, then what is there only if it is repeated, then
/// what has another rhythm.
pub fn answer(subject: &Subject) -> Result<Answer, String> {
    let once = Line::from_cells([&subject.cell]).map_err(|e| e.to_string())?;
    let rounds = std::iter::repeat_n(&subject.cell, ROUNDS);
    let again = Line::from_cells(rounds).map_err(|e| e.to_string())?;
    let mut answer = Answer::default();
    let mut told: Vec<String> = Vec::new();
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
        let finds = rules()
            .rudiments
            .find(line, look)
            .map_err(|e| e.to_string())?;
        for find in finds {
            if told.contains(&find.named.name) && !about.is_empty() {
                continue;
            }
            told.push(find.named.name.clone());
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
