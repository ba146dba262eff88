//! The computer keyboard as a drum set: keys of the two home rows, mirrored, the
//! thumbs on the pedals.
//!
//! Keys are taken by their place, so that they lie under the same fingers on
//! every keyboard.

use barform_app::music::{Articulation, Kit, Level, Limb, Voice};
use barform_app::timeline::Note;
use egui::{Event, Key, Ui};

/// A key, the limb it stands for and what it strikes.
type Finger = (Key, Limb, Voice, Articulation);

/// All keys that play.
const FINGERS: [Finger; 13] = {
    use Articulation::{Open, Plain};
    use Limb::{HatFoot, KickFoot, LeftHand, RightHand};
    [
        (Key::A, LeftHand, Voice::Crash, Plain),
        (Key::S, LeftHand, Voice::Tom1, Plain),
        (Key::D, LeftHand, Voice::Hat, Plain),
        (Key::F, LeftHand, Voice::Snare, Plain),
        (Key::E, LeftHand, Voice::Hat, Open),
        (Key::J, RightHand, Voice::Snare, Plain),
        (Key::K, RightHand, Voice::Ride, Plain),
        (Key::L, RightHand, Voice::Tom2, Plain),
        (Key::U, RightHand, Voice::Hat, Plain),
        (Key::I, RightHand, Voice::Tom3, Plain),
        (Key::O, RightHand, Voice::Crash, Plain),
        (Key::Space, KickFoot, Voice::Kick, Plain),
        (Key::B, HatFoot, Voice::HatFoot, Plain),
    ]
};

/// A stroke on the computer keyboard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tap {
    /// The limb of the key.
    pub limb: Limb,
    /// What it strikes.
    pub voice: Voice,
    /// How.
    pub articulation: Articulation,
    /// Accent with Shift, ghost note with Alt.
    pub level: Level,
}

/// What the keyboard asks for besides strokes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wish {
    /// Enter.
    Keep,
    /// Backspace.
    TakeBack,
    /// Escape.
    Stop,
}

/// Takes the keys that play out of this frame's events.
pub fn take(ui: &Ui) -> (Vec<Tap>, Option<Wish>) {
    let (mut taps, mut wish) = (Vec::new(), None);
    ui.input_mut(|input| {
        input.events.retain(|event| {
            let Event::Key {
                key,
                physical_key,
                pressed,
                repeat,
                modifiers,
            } = event
            else {
                return true;
            };
            if modifiers.command || modifiers.ctrl {
                return true;
            }
            let asked = match key {
                Key::Enter => Some(Wish::Keep),
                Key::Backspace => Some(Wish::TakeBack),
                Key::Escape => Some(Wish::Stop),
                _ => None,
            };
            let by_place = physical_key.unwrap_or(*key);
            let finger = FINGERS.iter().find(|(key, ..)| *key == by_place);
            if *pressed && !*repeat {
                wish = wish.or(asked);
                if let Some((_, limb, voice, articulation)) = finger {
                    taps.push(Tap {
                        limb: *limb,
                        voice: *voice,
                        articulation: *articulation,
                        level: match (modifiers.shift, modifiers.alt) {
                            (true, _) => Level::Accent,
                            (false, true) => Level::Ghost,
                            (false, false) => Level::Normal,
                        },
                    });
                }
            }
            asked.is_none() && finger.is_none()
        });
    });
    (taps, wish)
}

/// What the keys are, a line for each limb.
pub fn legend() -> Vec<String> {
    let of = |limb: Limb| {
        let keys: Vec<String> = FINGERS
            .iter()
            .filter(|(_, l, ..)| *l == limb)
            .map(|(key, _, voice, how)| match how {
                Articulation::Open => format!("{} open {}", key.name(), voice.said()),
                _ => format!("{} {}", key.name(), voice.said()),
            })
            .collect();
        keys.join(", ")
    };
    vec![
        format!("Left hand: {}", of(Limb::LeftHand)),
        format!("Right hand: {}", of(Limb::RightHand)),
        format!("Feet: {}, {}", of(Limb::KickFoot), of(Limb::HatFoot)),
        "With Shift an accent, with Alt a ghost note. Enter uses the take, Backspace \
         undoes the last stroke, Escape stops."
            .to_owned(),
    ]
}

/// The note that sounds for a stroke; `None` where the kit has no key for it.
pub fn note(kit: &Kit, voice: Voice, articulation: Articulation, level: Level) -> Option<Note> {
    let of_voice = kit.voice(voice);
    Some(Note {
        key: kit.key(voice, articulation)?,
        channel: of_voice.channel,
        velocity: of_voice.curve.at(level),
        voice,
        articulation,
        limb: None,
    })
}
