//! What is done to the strokes of one slot.

use super::refuse;
use crate::music::{Articulation, Graces, Hand, Level, Limb, Slot, Stroke, Voice};
use crate::score::error::{Fault, Spot};

/// Puts a stroke on a slot: in the place of that limb's, or beside the others
/// in the order `R L K H`.
pub(super) fn add(slot: &mut Slot, stroke: Stroke) {
    if let Some(own) = slot.iter_mut().find(|s| s.limb == stroke.limb) {
        *own = stroke;
        return;
    }
    let after = slot.iter().rposition(|s| s.limb < stroke.limb);
    slot.insert(after.map_or(0, |i| i + 1), stroke);
}

/// The strokes of `limb`, or all; a rest has none.
fn picked<'s>(
    slot: &'s mut Slot,
    limb: Option<Limb>,
    what: &str,
    spot: Spot,
) -> Result<Vec<&'s mut Stroke>, Fault> {
    let strokes = slot.iter_mut().filter(|s| limb.is_none_or(|l| s.limb == l));
    let strokes: Vec<_> = strokes.collect();
    if strokes.is_empty() {
        let who = limb.map_or("nothing".into(), |l| format!("no {}", l.letter()));
        let problem = format!("{who} plays on this slot: there is no {what} to change");
        let mend = Some("put a stroke there first".into());
        return Err(refuse(
            spot,
            problem,
            "allowed is a slot with a stroke",
            mend,
        ));
    }
    Ok(strokes)
}

/// Takes one limb's stroke away, or all.
pub(super) fn remove(slot: &mut Slot, limb: Option<Limb>) {
    slot.retain(|s| limb.is_some_and(|l| s.limb != l));
}

/// Gives all picked strokes a level, or takes it from them if all have it.
pub(super) fn toggle(
    slot: &mut Slot,
    limb: Option<Limb>,
    level: Level,
    spot: Spot,
) -> Result<(), Fault> {
    let strokes = picked(slot, limb, "level", spot)?;
    let all = strokes.iter().all(|s| s.level == level);
    for stroke in strokes {
        stroke.level = if all { Level::Normal } else { level };
    }
    Ok(())
}

/// The next ornament of the picked hands: none, flam, drag, ruff, buzz, none.
pub(super) fn cycle(slot: &mut Slot, limb: Option<Limb>, spot: Spot) -> Result<(), Fault> {
    let mut strokes = picked(slot, limb, "ornament", spot)?;
    strokes.retain(|s| !s.limb.is_foot());
    let Some(first) = strokes.first() else {
        let problem = "a foot has no grace notes and no buzz";
        let allowed = "allowed is a slot with a hand";
        return Err(refuse(spot, problem, allowed, None));
    };
    let next = if first.buzz {
        5
    } else {
        first.graces.len() + 1
    };
    for stroke in strokes {
        let Some(hand) = stroke.limb.hand() else {
            continue;
        };
        stroke.graces = graces(hand, next);
        stroke.buzz = next == 4;
    }
    Ok(())
}

/// The grace notes of a flam (1), a drag (2) or a ruff (3) before a hand: a flam
/// and a drag with the other hand, a ruff hand to hand. Percussive Arts Society,
/// 40 International Drum Rudiments, for flam and drag; common practice for the
/// ruff.
fn graces(hand: Hand, ornament: usize) -> Graces {
    let other = hand.other();
    let hands: &[Hand] = match ornament {
        1 => &[other],
        2 => &[other, other],
        3 => &[other, hand, other],
        _ => &[],
    };
    Graces::from_hands(hands).unwrap_or(Graces::NONE)
}

/// Sets how the picked strokes are struck, where their voices have it.
pub(super) fn articulate(
    slot: &mut Slot,
    limb: Option<Limb>,
    way: Articulation,
    spot: Spot,
) -> Result<(), Fault> {
    let mut strokes = picked(slot, limb, "articulation", spot)?;
    let names: Vec<&str> = strokes.iter().map(|s| s.voice.name()).collect();
    let names = names.join("+");
    strokes.retain(|s| s.voice.articulations().contains(&way));
    if strokes.is_empty() {
        let problem = format!("{names} is not played as '{}'", way.name());
        let allowed = "allowed are the ways of that voice";
        return Err(refuse(spot, problem, allowed, None));
    }
    for stroke in strokes {
        stroke.articulation = way;
    }
    Ok(())
}

/// Sets what the picked strokes are struck on; they keep their articulation
/// where the voice has it.
pub(super) fn voice(
    slot: &mut Slot,
    limb: Option<Limb>,
    to: Voice,
    spot: Spot,
) -> Result<(), Fault> {
    for stroke in picked(slot, limb, "voice", spot)? {
        stroke.voice = to;
        if !to.articulations().contains(&stroke.articulation) {
            stroke.articulation = Articulation::Plain;
        }
    }
    Ok(())
}

/// Right for left and left for right, grace notes too; the voices stay. Two
/// hands at once change places.
pub(super) fn swap(slot: &mut Slot, spot: Spot) -> Result<(), Fault> {
    let mut strokes = picked(slot, None, "hand", spot)?;
    strokes.retain(|s| !s.limb.is_foot());
    if strokes.is_empty() {
        let problem = "no hand plays on this slot";
        let allowed = "allowed is a slot with a hand";
        return Err(refuse(spot, problem, allowed, None));
    }
    for stroke in strokes {
        if let Some(hand) = stroke.limb.hand() {
            stroke.limb = hand.other().into();
        }
        let hands: Vec<Hand> = stroke.graces.iter().map(Hand::other).collect();
        stroke.graces = Graces::from_hands(&hands).unwrap_or(stroke.graces);
    }
    Ok(())
}
