//! A cell's hands on other voices of the same kit.

use super::on;
use super::toms::is_tom;
use barform_score::music::{Cell, Hand, Slot, Stroke, Voice};

/// Every hand stroke on a drum, `steps` drums further round the kit; negative is
/// back. `order` is the kit's order round it: its snare and its toms are the
/// drums, after the last comes the first again. Cymbals, feet and drums that are
/// not in `order` stay. A stroke keeps the way it is struck where its new drum
/// has it.
pub fn along(cell: &Cell, order: &[Voice], steps: i64) -> Cell {
    let mut drums: Vec<Voice> = Vec::new();
    for voice in order {
        if (*voice == Voice::Snare || is_tom(*voice)) && !drums.contains(voice) {
            drums.push(*voice);
        }
    }
    let count = i64::try_from(drums.len()).unwrap_or(i64::MAX);
    changed(cell, |stroke| {
        let at = drums.iter().position(|d| *d == stroke.voice)?;
        let to = i64::try_from(at)
            .ok()?
            .checked_add(steps)?
            .rem_euclid(count);
        drums.get(usize::try_from(to).ok()?).copied()
    })
}

/// Every stroke of a hand on one voice, as a pattern is spread over the kit: one
/// hand goes to the cymbal or the floor tom, the other stays. Strokes keep the
/// way they are struck where the voice has it; grace notes go along.
pub fn hand_on(cell: &Cell, hand: Hand, voice: Voice) -> Cell {
    changed(cell, |stroke| {
        (stroke.limb.hand() == Some(hand)).then_some(voice)
    })
}

fn changed(cell: &Cell, to: impl Fn(&Stroke) -> Option<Voice>) -> Cell {
    let one = |stroke: &Stroke| match to(stroke).filter(|_| !stroke.limb.is_foot()) {
        Some(voice) if voice != stroke.voice => on(*stroke, voice, stroke.articulation),
        _ => *stroke,
    };
    let slots = cell
        .slots
        .iter()
        .map(|slot: &Slot| slot.iter().map(one).collect());
    Cell {
        letter: cell.letter.clone(),
        grid: cell.grid.clone(),
        slots: slots.collect(),
    }
}
