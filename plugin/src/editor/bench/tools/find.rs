//! The tools: each one question to the craft, put into words as the command
//! line puts it.
//!
//! In: a cell, its score's kit, tempo and meter, what the user wishes. Out: an
//! answer. Never here: a widget, a rule.

mod hands;
mod refit;
mod revoice;
mod rudiments;
mod tempo;
mod vary;

use super::answer::Answer;
use super::question::{Subject, Tool};
use super::wishes::Wishes;

/// What a tool has to say about a cell.
pub fn answer(tool: Tool, wishes: &Wishes, subject: &Subject) -> Answer {
    if subject.cell.slots.iter().all(Vec::is_empty) {
        return Answer::only("There are only rests here. Put some strokes in first.");
    }
    let answer = match tool {
        Tool::Sticking => hands::answer(wishes, subject),
        Tool::Rudiments => rudiments::answer(subject),
        Tool::Vary => vary::answer(wishes, subject),
        Tool::Revoice => revoice::answer(wishes, subject),
        Tool::Refit => refit::refit_answer(subject),
        Tool::Carry => refit::carry_answer(subject),
        Tool::Tempo => tempo::answer(wishes, subject),
    };
    answer.unwrap_or_else(Answer::only)
}
