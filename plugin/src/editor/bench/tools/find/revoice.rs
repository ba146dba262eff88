//! The same strokes on other voices.

use barform_app::craft::revoice::{Pedals, Setup, along, hand_on, revoice_by};
use barform_app::music::{Cell, Limb, Voice};
use barform_app::score::Overrides;

use super::super::alone::score_of;
use super::super::answer::{Answer, Proposal};
use super::super::question::{Subject, rules};
use super::super::wishes::Wishes;

/// One hand on a voice, drum by drum round the kit, the score's named voicings,
/// the kit at hand.
pub fn answer(wishes: &Wishes, subject: &Subject) -> Result<Answer, String> {
    let (cell, score) = (&subject.cell, &subject.score);
    let order = &score.kit.order;
    let mut answer = Answer::default();
    if let Some(voice) = wishes.voice_in(score) {
        let hand = Limb::from(wishes.hand).said();
        let moved = hand_on(cell, wishes.hand, voice);
        let name = format!("The {hand} on {}", voice.said());
        propose(&mut answer, cell, name, moved);
    }
    for (name, steps) in [
        ("Next drum round the kit", 1),
        ("Previous drum round the kit", -1),
        ("Two drums further round the kit", 2),
    ] {
        propose(
            &mut answer,
            cell,
            name.to_owned(),
            along(cell, order, steps),
        );
    }
    for voicing in &score.voicings {
        let overrides = Overrides {
            voicing: Some(voicing.name.clone()),
            ..Overrides::default()
        };
        let moved = score_of(score, cell, overrides)
            .and_then(|score| score.placements().ok())
            .and_then(|placements| placements.variants.into_iter().next());
        if let Some(moved) = moved {
            propose(
                &mut answer,
                cell,
                format!("Voicing {}", voicing.name),
                moved,
            );
        }
    }
    kit_at_hand(&mut answer, subject)?;
    Ok(answer)
}

/// Without the voices that the kit of the score does not have.
fn kit_at_hand(answer: &mut Answer, subject: &Subject) -> Result<(), String> {
    let (cell, kit) = (&subject.cell, &subject.score.kit);
    let pedals = if subject.double_kick {
        Pedals::ALL
    } else {
        Pedals::TWO
    };
    let from = Setup::new(&Voice::ALL, pedals);
    let to = Setup::of(kit, pedals);
    let has = |s: &barform_app::music::Stroke| to.has(s.voice);
    if cell.slots.iter().flatten().all(has) {
        return Ok(());
    }
    let moved = revoice_by(&rules().revoice, cell, &from, &to).map_err(|e| e.to_string())?;
    let mut proposal = Proposal::of("On the kit as the Kit page has it", moved.cell);
    proposal.said = match moved.reversible {
        true => "some voices are not on it; reversible",
        false => "some voices are not on it; not reversible",
    }
    .to_owned();
    proposal.why = moved.changes.iter().map(ToString::to_string).collect();
    answer.propose(cell, proposal);
    Ok(())
}

fn propose(answer: &mut Answer, written: &Cell, name: String, moved: Cell) {
    let mut proposal = Proposal::of(name, moved);
    proposal.why = changes(written, &proposal.cell);
    let count = proposal.why.len();
    proposal.said = super::super::words::count(count as u64, "stroke") + " on another voice";
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
