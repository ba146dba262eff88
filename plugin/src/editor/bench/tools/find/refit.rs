//! The cell on another subdivision, refit or carried.

use barform_app::craft::carry::{carry, close_by, realign};
use barform_app::craft::modulate::Modulation;
use barform_app::craft::refit::refit_by;
use barform_app::music::{Beats, Cell, Subdivision};
use barform_app::score::edit::{CellEdit, Way};

use super::super::answer::{Answer, Proposal};
use super::super::question::{Subject, rules};
use super::super::words::{beats, count};

/// Ways to close that are told of a carried cell.
const CLOSES: usize = 2;

/// The subdivisions that have a name, but the cell's own.
fn others(cell: &Cell) -> impl Iterator<Item = (&'static str, Subdivision)> {
    let own = Subdivision(cell.grid.clone()).name();
    Subdivision::NAMES
        .into_iter()
        .filter(move |(name, ..)| own != Some(*name))
        .filter_map(|(name, ..)| Some((name, Subdivision::from_name(name)?)))
}

fn edit(to: &Subdivision, way: Way) -> CellEdit {
    CellEdit::Grid {
        grid: to.0.clone(),
        way,
    }
}

/// As long as before.
pub fn refit_answer(subject: &Subject) -> Result<Answer, String> {
    let cell = &subject.cell;
    let length = cell.grid.length().map_err(|e| e.to_string())?;
    let mut answer = Answer::default();
    answer.head.push(format!(
        "{} on {}. Refitting keeps that length; strokes are repeated or left out.",
        beats(length),
        Subdivision(cell.grid.clone())
    ));
    let mut none = Vec::new();
    for (name, to) in others(cell) {
        let Ok(refitted) = refit_by(&rules().refit, cell, &to) else {
            none.push(name);
            continue;
        };
        let mut proposal = Proposal::of(format!("On {name}"), refitted.cell);
        let strokes = |cell: &Cell| cell.slots.iter().flatten().count();
        let (was, is) = (strokes(cell), strokes(&proposal.cell));
        let slots = count(proposal.cell.slots.len() as u64, "slot");
        proposal.said = match is {
            _ if is > was => format!("{slots}; {} more", count((is - was) as u64, "stroke")),
            _ if is < was => format!("{slots}; {} fewer", count((was - is) as u64, "stroke")),
            _ => format!("{slots}; as many strokes"),
        };
        proposal.why = refitted.choices.iter().map(ToString::to_string).collect();
        proposal.edit = edit(&to, Way::Refit);
        proposal.verb = "Refit";
        answer.propose(cell, proposal);
    }
    if !none.is_empty() {
        answer.foot.push(format!(
            "No whole number of slots on {}: carry it, or change its length first.",
            none.join(", ")
        ));
    }
    Ok(answer)
}

/// With all its strokes.
pub fn carry_answer(subject: &Subject) -> Result<Answer, String> {
    let (cell, score) = (&subject.cell, &subject.score);
    let own = Subdivision(cell.grid.clone());
    let length = cell.grid.length().map_err(|e| e.to_string())?;
    let mut answer = Answer::default();
    answer.head.push(format!(
        "{} on {own}. Carrying keeps every stroke; the length changes.",
        beats(length)
    ));
    let bar = score.meter.bar();
    for (name, to) in others(cell) {
        let carried = carry(cell, &to).map_err(|e| e.to_string())?;
        let back = realign(carried.after, bar).map_err(|e| e.to_string())?;
        let mut proposal = Proposal::of(format!("Carried to {name}"), carried.cell);
        proposal.said = format!(
            "{}; looped, it is back on the bar line after {}, {}",
            beats(carried.after),
            count(back.repeats, "time"),
            count(back.bars, "bar")
        );
        let closes = close_by(&rules().carry, &proposal.cell, Beats::ZERO, bar);
        for way in closes.map_err(|e| e.to_string())?.iter().take(CLOSES) {
            proposal.why.push(format!("To close on a bar line, {way}"));
        }
        if let Ok(modulation) = Modulation::of_slots(score.tempo, &own, &to) {
            proposal
                .why
                .push(format!("At the same stroke rate: {modulation}"));
        }
        proposal.edit = edit(&to, Way::Carry);
        proposal.verb = "Carry";
        answer.propose(cell, proposal);
    }
    Ok(answer)
}
