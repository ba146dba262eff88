//! Single strokes: what a limb plays next, ornaments, the order round the kit,
//! the hand for a new stroke.

use std::sync::LazyLock;

use barform_app::craft::sticking::{Ask, Rules, stick_cell};
use barform_app::music::{Cell, Graces, Hand, Limb, Stroke, Voice};

use super::super::desk::Desk;
use super::known::Known;

/// Grace notes or a buzz.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ornament {
    /// One grace note by the other hand.
    Flam,
    /// Two by the other hand.
    Drag,
    /// Three, hand to hand.
    Ruff,
    /// The stick pressed to bounce until the next slot.
    Buzz,
}

/// A stroke of a limb as it goes on from what is there: on the voice it or
/// another hand has on the slot or had before.
pub fn stroke_of(cell: &Cell, slot: usize, limb: Limb) -> Stroke {
    let here = cell.slots.get(slot).map_or(&[][..], Vec::as_slice);
    let own = |s: &&Stroke| s.limb == limb;
    let hand = |s: &&Stroke| !limb.is_foot() && !s.limb.is_foot();
    if let Some(own) = here.iter().find(own) {
        return *own;
    }
    let plain = Stroke::plain(limb);
    if let Some(other) = here.iter().find(hand) {
        return Stroke {
            limb,
            graces: turned(other.graces),
            ..*other
        };
    }
    let before = cell.slots[..slot.min(cell.slots.len())].iter().rev();
    let like = (before.clone().flatten().find(own)).or_else(|| before.flatten().find(hand));
    Stroke {
        voice: like.map_or(plain.voice, |s| s.voice),
        ..plain
    }
}

/// The same grace notes by the other hands.
fn turned(graces: Graces) -> Graces {
    let hands: Vec<Hand> = graces.iter().map(Hand::other).collect();
    Graces::from_hands(&hands).unwrap_or(graces)
}

/// The stroke with the ornament, or plain if it has it. Hands as the Percussive
/// Arts Society's 40 International Drum Rudiments have them for flam and drag;
/// common practice for the ruff.
pub fn ornamented(stroke: Stroke, ornament: Ornament) -> Stroke {
    let plain = Stroke {
        graces: Graces::NONE,
        buzz: false,
        ..stroke
    };
    let Some(hand) = stroke.limb.hand() else {
        return plain;
    };
    let other = hand.other();
    let hands: &[Hand] = match ornament {
        Ornament::Flam => &[other],
        Ornament::Drag => &[other, other],
        Ornament::Ruff => &[other, hand, other],
        Ornament::Buzz => &[],
    };
    let with = Stroke {
        graces: Graces::from_hands(hands).unwrap_or(Graces::NONE),
        buzz: ornament == Ornament::Buzz,
        ..plain
    };
    if with.graces.len() == stroke.graces.len() && with.buzz == stroke.buzz {
        plain
    } else {
        with
    }
}

/// Whether a stroke has an ornament.
pub fn has(stroke: &Stroke, ornament: Ornament) -> bool {
    match ornament {
        Ornament::Flam => stroke.graces.len() == 1,
        Ornament::Drag => stroke.graces.len() == 2,
        Ornament::Ruff => stroke.graces.len() == 3,
        Ornament::Buzz => stroke.buzz,
    }
}

/// The foot whose pedal a voice is.
pub fn foot_of(voice: Voice) -> Option<Limb> {
    match voice {
        Voice::Kick => Some(Limb::KickFoot),
        Voice::HatFoot => Some(Limb::HatFoot),
        _ => None,
    }
}

/// What a hand or a foot can be put on, round the kit.
pub fn voices_of(desk: &Desk, foot: bool) -> Vec<Voice> {
    if foot {
        vec![Voice::Kick, Voice::HatFoot]
    } else {
        desk.score().kit.order.clone()
    }
}

/// The next of the voices, or the one before; over the end to the start.
pub fn round(voices: &[Voice], now: Voice, back: bool) -> Voice {
    let count = voices.len();
    let Some(at) = voices.iter().position(|v| *v == now) else {
        return voices.first().copied().unwrap_or(now);
    };
    let to = if back { at + count - 1 } else { at + 1 };
    voices[to % count]
}

static STICKING: LazyLock<Rules> = LazyLock::new(Rules::builtin);

/// The hand for a new stroke: the best by the sticking's rules with all other
/// hands as they are; else the other one than before it.
pub fn hand_for(desk: &Desk, known: &Known, slot: usize, voice: Voice) -> Hand {
    let alternate = || {
        let before = known.cell.slots[..slot.min(known.cell.slots.len())].iter();
        let last = before.rev().flatten().find_map(|s| s.limb.hand());
        last.map_or(Hand::Right, Hand::other)
    };
    let mut cell = known.cell.clone();
    let Some(strokes) = cell.slots.get_mut(slot) else {
        return Hand::Right;
    };
    strokes.insert(
        0,
        Stroke {
            voice,
            ..Stroke::plain(Limb::RightHand)
        },
    );
    let Ok(setup) = STICKING.setup("right-handed", &desk.score().kit) else {
        return alternate();
    };
    let ask = Ask::new(desk.score().tempo, setup);
    let open = |s: usize, number: usize| s == slot && number == 0;
    let stuck = stick_cell(&cell, open, true, &ask, &STICKING).ok();
    let hand = stuck.and_then(|(cell, _)| cell.slots.get(slot)?.first()?.limb.hand());
    hand.unwrap_or_else(alternate)
}
