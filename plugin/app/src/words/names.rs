//! What letters, strokes and keys are called.

use crate::import::midi::percussion_name;
use crate::music::{Articulation, Key, Letter, Voice};

/// A letter as printed: with typographic primes.
pub fn letter(letter: &Letter) -> String {
    letter.as_str().replace('\'', "’")
}

/// The trade's name of a way to strike a voice.
pub fn stroke_name(voice: Voice, articulation: Articulation) -> &'static str {
    match (articulation, voice) {
        (Articulation::Plain, Voice::Hat) => "closed",
        (Articulation::Plain, Voice::HatFoot) => "closed by the foot",
        (Articulation::Plain, Voice::Ride) => "bow",
        (Articulation::Plain, Voice::Click) => "beat",
        (Articulation::Plain, Voice::Kick) => "beater",
        (
            Articulation::Plain,
            Voice::Crash | Voice::Crash2 | Voice::Splash | Voice::China | Voice::Cowbell,
        ) => "struck",
        (Articulation::Plain, _) => "head",
        (Articulation::Open, Voice::HatFoot) => "foot splash",
        (Articulation::Bell, Voice::Click) => "first of a bar",
        (other, _) => other.said(),
    }
}

/// A stroke of a voice: `Snare, rimshot`; a plain one is the voice's name.
pub fn full_name(voice: Voice, articulation: Articulation) -> String {
    match articulation {
        Articulation::Plain => voice.title().to_owned(),
        other => format!("{}, {}", voice.title(), stroke_name(voice, other)),
    }
}

/// What General MIDI calls a key; empty if it has no name for it. Keys 33 and 34
/// are of Level 2 (from memory), the others of Level 1.
pub fn key_name(key: Key) -> &'static str {
    match key.number() {
        33 => "Metronome Click",
        34 => "Metronome Bell",
        _ => percussion_name(key).unwrap_or_default(),
    }
}

/// A key in a sentence: `note 38 (Acoustic Snare)`.
pub fn note(key: Key) -> String {
    match key_name(key) {
        "" => format!("note {}", key.number()),
        name => format!("note {} ({name})", key.number()),
    }
}

/// Which limb plays a voice where the score says nothing else.
pub fn played_by(voice: Voice) -> &'static str {
    match voice {
        Voice::Kick => "Played by the foot on its pedal, K.",
        Voice::HatFoot => "Played by the foot on the hi-hat pedal, H.",
        Voice::Click => "Played by nobody: the metronome.",
        _ => "Played by either hand, R or L.",
    }
}
