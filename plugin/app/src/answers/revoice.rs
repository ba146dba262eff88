//! The same strokes on other voices.

use super::{Answer, AnswerError, Proposal, Subject, ToolSettings, rules};
use crate::craft::revoice::{Pedals, Setup, along, hand_on, revoice_by};
use crate::music::{Cell, Limb, Stroke, Voice};
use crate::score::Overrides;
use crate::session::alone;
use crate::words::count;

/// The pedals that cells are written for: a second one on the bass drum only if
/// the hi-hat foot plays it.
pub fn written_pedals(cells: &[Cell]) -> Pedals {
    let second = |s: &Stroke| s.limb == Limb::HatFoot && s.voice == Voice::Kick;
    if cells
        .iter()
        .flat_map(|cell| &cell.slots)
        .flatten()
        .any(second)
    {
        Pedals::ALL
    } else {
        Pedals::TWO
    }
}

/// One hand on a voice, drum by drum round the kit, the score's named voicings,
/// the kit at hand.
pub(super) fn proposals(settings: &ToolSettings, subject: &Subject) -> Result<Answer, AnswerError> {
    let (cell, score) = (&subject.cell, &subject.score);
    let order = &score.kit.order;
    let mut answer = Answer::default();
    if let Some(voice) = settings.voice_in(score) {
        let hand = Limb::from(settings.hand).said();
        let moved = hand_on(cell, settings.hand, voice);
        let name = format!("The {hand} on {}", voice.said());
        propose(&mut answer, cell, name, moved);
    }
    for (name, steps) in [
        ("Next drum round the kit", 1),
        ("Previous drum round the kit", -1),
        ("Two drums further round the kit", 2),
    ] {
        let moved = along(cell, order, steps);
        propose(&mut answer, cell, name.to_owned(), moved);
    }
    for voicing in &score.voicings {
        let overrides = Overrides {
            voicing: Some(voicing.name.clone()),
            ..Overrides::default()
        };
        let moved = alone(score, cell, overrides)
            .and_then(|score| score.placements().ok())
            .and_then(|placements| placements.variants.into_iter().next());
        if let Some(moved) = moved {
            let name = format!("Voicing {}", voicing.name);
            propose(&mut answer, cell, name, moved);
        }
    }
    kit_at_hand(&mut answer, subject)?;
    Ok(answer)
}

/// Without the voices that the kit of the score does not have.
fn kit_at_hand(answer: &mut Answer, subject: &Subject) -> Result<(), AnswerError> {
    let (cell, kit) = (&subject.cell, &subject.score.kit);
    let from = Setup::new(&Voice::ALL, subject.pedals);
    let to = Setup::of(kit, subject.pedals);
    if cell.slots.iter().flatten().all(|s| to.has(s.voice)) {
        return Ok(());
    }
    let moved = revoice_by(&rules().revoice, cell, &from, &to)?;
    let mut proposal = Proposal::of("On the kit as the Kit page has it", moved.cell);
    proposal.summary = match moved.reversible {
        true => "some voices are not on it; reversible",
        false => "some voices are not on it; not reversible",
    }
    .to_owned();
    proposal.reasons = moved.changes.iter().map(ToString::to_string).collect();
    answer.propose(cell, proposal);
    Ok(())
}

fn propose(answer: &mut Answer, written: &Cell, name: String, moved: Cell) {
    let mut proposal = Proposal::of(name, moved);
    proposal.reasons = changes(written, &proposal.cell);
    proposal.summary = count(proposal.reasons.len(), "stroke") + " on another voice";
    answer.propose(written, proposal);
}

/// `slot 3 R: snare to tom 1`, for each stroke that changed.
fn changes(written: &Cell, moved: &Cell) -> Vec<String> {
    let mut lines = Vec::new();
    for (slot, (was, is)) in written.slots.iter().zip(&moved.slots).enumerate() {
        for (was, is) in was.iter().zip(is).filter(|(was, is)| was != is) {
            let letter = Limb::letter(was.limb);
            let (from, to) = (was.voice.said(), is.voice.said());
            lines.push(format!("slot {} {letter}: {from} to {to}", slot + 1));
        }
    }
    lines
}
