//! Strokes and slots, as a score file and the command line write them.

use crate::music::{Articulation, Slot, Stroke, Voice};
use crate::score::{StickToken, stick_slot_text};

/// `hat:open`; a plain stroke is the voice's name.
pub fn stroke(voice: Voice, articulation: Articulation) -> String {
    match articulation {
        Articulation::Plain => voice.name().to_owned(),
        how => format!("{}:{}", voice.name(), how.name()),
    }
}

/// A slot as a sticking line writes it: `R>`, `lR`, `R+K`, `-`.
pub fn sticking(slot: &Slot) -> String {
    stick_slot_text(&slot.iter().map(StickToken::from).collect())
}

/// A whole sticking line.
pub fn sticking_line(slots: &[Slot]) -> String {
    slots.iter().map(sticking).collect::<Vec<_>>().join(" ")
}

/// What is struck on a slot: `snare+kick`; `-` for a rest.
pub fn voices(slot: &Slot) -> String {
    if slot.is_empty() {
        return "-".to_owned();
    }
    let name = |s: &Stroke| stroke(s.voice, s.articulation);
    slot.iter().map(name).collect::<Vec<_>>().join("+")
}
