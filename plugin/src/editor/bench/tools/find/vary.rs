//! Variations of a cell.

use barform_app::craft::line::Line;
use barform_app::craft::playable::Playable;
use barform_app::craft::variation::{Ask, Keep, displaced, inverted, nearest, reversed, vary};
use barform_app::music::Cell;

use super::super::answer::{Answer, Proposal};
use super::super::question::{Subject, rules};
use super::super::wishes::Wishes;
use super::super::words::grouped;

/// How many at a time.
const SHOWN: usize = 6;

/// The nearest ones, then those by rule.
pub fn answer(wishes: &Wishes, subject: &Subject) -> Result<Answer, String> {
    let cell = &subject.cell;
    let mut ask = Ask::new(cell, &wishes.level, SHOWN);
    ask.seed = wishes.seed;
    ask.keep = Keep {
        opening: 0,
        accents: wishes.accents,
        kicks: wishes.kicks,
        rests: wishes.rests,
        sticking: wishes.sticking,
        voices: wishes.voices,
    };
    let made = if wishes.any { vary } else { nearest }(&ask, &rules().variation);
    let mut answer = Answer::default();
    match made {
        Ok(made) => {
            let kind = if wishes.any { "some" } else { "the nearest" };
            let line = match made.cells.len() {
                0 => "There is no other cell that keeps all that. Keep less, or select a higher \
                      level."
                    .to_owned(),
                _ => format!(
                    "{} cells match your settings; {kind} of them:",
                    grouped(&made.exist.to_string())
                ),
            };
            answer.head.push(line);
            for (i, variation) in made.cells.iter().enumerate() {
                let mut proposal = Proposal::of(
                    format!("Variation {}", i + 1),
                    letter(cell, &variation.cell),
                );
                proposal.said = variation.said(top(wishes, subject, &variation.cell));
                answer.propose(cell, proposal);
            }
        }
        Err(error) => answer.head.push(format!("No variations: {error}.")),
    }
    for (name, made) in [
        ("Every stroke one slot later", displaced(cell, 1)),
        ("Every stroke one slot earlier", displaced(cell, -1)),
        ("In reverse order", reversed(cell)),
        ("Right for left", inverted(cell)),
    ] {
        let mut proposal = Proposal::of(name, letter(cell, &made));
        proposal.said = "by rule".to_owned();
        proposal.audible = name != "Right for left";
        answer.propose(cell, proposal);
    }
    Ok(answer)
}

/// Under the letter of the cell: which prime it gets is settled when it is kept.
fn letter(cell: &Cell, made: &Cell) -> Cell {
    Cell {
        letter: cell.letter.clone(),
        ..made.clone()
    }
}

/// The top tempo at the level.
fn top(wishes: &Wishes, subject: &Subject, cell: &Cell) -> Option<u32> {
    let level = rules().levels.get(&wishes.level)?;
    let kit = &subject.score.kit;
    let setup = rules().sticking.setup(&wishes.setup, kit).ok()?;
    let line = Line::from_cell(cell).ok()?;
    let looped = Some(line.length);
    let playable = Playable::new(&line.strokes, looped, &setup, &rules().sticking);
    playable.top_tempo(level, &rules().levels).ok()?.bpm
}
