//! What a key and a velocity are: a voice, and how loud it was meant.

use barform_score::music::{Articulation, Channel, Key, Kit, Level, Limb, Velocity, Voice};

/// Keys of the General MIDI Level 1 percussion map that are another sound of a
/// voice that has a key of its own: acoustic bass drum, second ride cymbal (MIDI
/// Association, *General MIDI System Level 1*, table 3; from memory).
const RELATIONS: [(u8, u8); 2] = [(35, 36), (59, 51)];

/// A stroke as it was played.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Struck {
    /// What was struck.
    pub voice: Voice,
    /// How.
    pub articulation: Articulation,
    /// How loud it was meant.
    pub level: Level,
    /// How loud it was.
    pub velocity: Velocity,
    /// The limb, where it is known.
    pub limb: Option<Limb>,
}

/// From which velocity on a stroke is no ghost note any more, and from which on
/// it is an accent. The thresholds are common practice, no source: they lie
/// between the levels that most pads give to a tap, a stroke and a blow, and
/// between the three levels of the kit as it comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Loudness {
    /// A softer stroke is a ghost note.
    pub ghost_below: Velocity,
    /// A stroke as loud or louder is an accent.
    pub accent_from: Velocity,
}

impl Loudness {
    /// Ghost notes below 50, accents from 105.
    pub const COMMON: (u8, u8) = (50, 105);

    /// How loud a velocity is meant.
    pub fn level(self, velocity: Velocity) -> Level {
        if velocity < self.ghost_below {
            Level::Ghost
        } else if velocity >= self.accent_from {
            Level::Accent
        } else {
            Level::Normal
        }
    }
}

impl Default for Loudness {
    fn default() -> Self {
        let (ghost, accent) = Loudness::COMMON;
        Loudness {
            ghost_below: Velocity::clamped(f64::from(ghost)),
            accent_from: Velocity::clamped(f64::from(accent)),
        }
    }
}

/// What a key plays: as the kit has it, on its channel or else on any; where the
/// kit has no such key, as General MIDI has it. `None` for a key that is in
/// neither, and for the click.
pub fn voice_of(kit: &Kit, channel: Channel, key: Key) -> Option<(Voice, Articulation)> {
    let on_any = || {
        Voice::ALL
            .into_iter()
            .find_map(|voice| kit.voice_of_key(kit.voice(voice).channel, key))
    };
    let by_standard = || {
        let general = Kit::general_midi();
        let near = RELATIONS.into_iter().find(|(own, _)| *own == key.number());
        let near = near.and_then(|(_, near)| Key::new(near));
        let hit = |key| general.voice_of_key(Channel::PERCUSSION, key);
        hit(key).or_else(|| hit(near?))
    };
    let drum = |hit: &(Voice, Articulation)| hit.0 != Voice::Click;
    let own = kit.voice_of_key(channel, key);
    own.filter(drum)
        .or_else(|| on_any().filter(drum))
        .or_else(|| by_standard().filter(drum))
}
