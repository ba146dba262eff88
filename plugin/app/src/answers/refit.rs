//! Cells on another subdivision: refit, with the same length, or carried, with
//! the same strokes.

use super::{Answer, AnswerError, Proposal, Subject, rules};
use crate::craft::carry::{Carried, Close, Realign, carry, close_by, realign};
use crate::craft::modulate::Modulation;
use crate::craft::refit::refit_by;
use crate::craft::rules::Rules;
use crate::music::{Beats, Cell, Meter, Subdivision};
use crate::score::edit::{CellEdit, Way};
use crate::words::{beats, count};

/// Ways to close that the window tells of a carried cell.
const CLOSES: usize = 2;

/// Where a cell could go.
#[derive(Debug, Clone)]
pub struct SubdivisionChoice {
    /// Name of the subdivision.
    pub name: &'static str,
    /// Slots of the cell if it is refit; `None` if it does not fit.
    pub refit_slots: Option<usize>,
    /// Length of the cell if it is carried.
    pub carried: Beats,
    /// The tempo with the same rate of strokes, if somebody can play it.
    pub modulation: Option<Modulation>,
}

/// A cell with all its strokes on another subdivision.
#[derive(Debug, Clone)]
pub struct CarriedCell {
    /// The cell, and its length before and after.
    pub carried: Carried,
    /// When it is back on the bar line if it is looped.
    pub back: Realign,
    /// What closes it on a bar line.
    pub closes: Vec<Close>,
    /// The tempo with the same rate of strokes.
    pub modulation: Option<Modulation>,
}

/// The subdivisions that have a name.
fn named() -> impl Iterator<Item = (&'static str, Subdivision)> {
    let names = Subdivision::NAMES.into_iter();
    names.filter_map(|(name, ..)| Some((name, Subdivision::from_name(name)?)))
}

/// An error about a cell.
fn about<E: std::fmt::Display>(cell: &Cell) -> impl Fn(E) -> AnswerError {
    move |error| AnswerError::Unfit(format!("cell {}: {error}", cell.letter))
}

/// What becomes of a cell on each subdivision that has a name.
///
/// # Errors
/// See [`AnswerError`].
pub fn choices(
    rules: &Rules,
    tempo: Beats,
    cell: &Cell,
) -> Result<Vec<SubdivisionChoice>, AnswerError> {
    let own = Subdivision(cell.grid.clone());
    let choice = |(name, to): (&'static str, Subdivision)| {
        let refit = refit_by(&rules.refit, cell, &to).ok();
        let modulation = Modulation::of_slots(tempo, &own, &to).ok();
        Ok(SubdivisionChoice {
            name,
            refit_slots: refit.map(|refit| refit.cell.slots.len()),
            carried: carry(cell, &to).map_err(about(cell))?.after,
            modulation: modulation.filter(Modulation::in_range),
        })
    };
    named().map(choice).collect()
}

/// Carries a cell that begins on a bar line.
///
/// # Errors
/// See [`AnswerError`].
pub fn carried(
    rules: &Rules,
    tempo: Beats,
    meter: Meter,
    cell: &Cell,
    to: &Subdivision,
) -> Result<CarriedCell, AnswerError> {
    let carried = carry(cell, to).map_err(about(cell))?;
    let bar = meter.bar();
    let closes = close_by(&rules.carry, &carried.cell, Beats::ZERO, bar);
    let own = Subdivision(cell.grid.clone());
    Ok(CarriedCell {
        back: realign(carried.after, bar)?,
        closes: closes.map_err(about(cell))?,
        modulation: Modulation::of_slots(tempo, &own, to).ok(),
        carried,
    })
}

/// The subdivisions that have a name, but the cell's own.
fn others(cell: &Cell) -> impl Iterator<Item = (&'static str, Subdivision)> {
    let own = Subdivision(cell.grid.clone()).name();
    named().filter(move |(name, _)| own != Some(*name))
}

fn edit(to: &Subdivision, way: Way) -> CellEdit {
    CellEdit::Grid {
        grid: to.0.clone(),
        way,
    }
}

/// As long as before.
pub(super) fn refit_proposals(subject: &Subject) -> Result<Answer, AnswerError> {
    let cell = &subject.cell;
    let mut answer = Answer::only(format!(
        "{} on {}. Refitting keeps that length; strokes are repeated or left out.",
        beats(cell.grid.length()?),
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
        let slots = count(proposal.cell.slots.len(), "slot");
        proposal.summary = match is {
            _ if is > was => format!("{slots}; {} more", count(is - was, "stroke")),
            _ if is < was => format!("{slots}; {} fewer", count(was - is, "stroke")),
            _ => format!("{slots}; as many strokes"),
        };
        proposal.reasons = refitted.choices.iter().map(ToString::to_string).collect();
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
pub(super) fn carry_proposals(subject: &Subject) -> Result<Answer, AnswerError> {
    let (cell, score) = (&subject.cell, &subject.score);
    let mut answer = Answer::only(format!(
        "{} on {}. Carrying keeps every stroke; the length changes.",
        beats(cell.grid.length()?),
        Subdivision(cell.grid.clone())
    ));
    for (name, to) in others(cell) {
        let found = carried(rules(), score.tempo, score.meter, cell, &to)?;
        let mut proposal = Proposal::of(format!("Carried to {name}"), found.carried.cell);
        proposal.summary = format!(
            "{}; looped, it is back on the bar line after {}, {}",
            beats(found.carried.after),
            count(found.back.repeats as usize, "time"),
            count(found.back.bars as usize, "bar")
        );
        let closes = found.closes.iter().take(CLOSES);
        let closes = closes.map(|close| format!("To close on a bar line, {close}"));
        proposal.reasons.extend(closes);
        if let Some(modulation) = found.modulation {
            let line = format!("At the same stroke rate: {modulation}");
            proposal.reasons.push(line);
        }
        proposal.edit = edit(&to, Way::Carry);
        proposal.verb = "Carry";
        answer.propose(cell, proposal);
    }
    Ok(answer)
}
