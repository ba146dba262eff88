//! The drum set at hand: which voices, in what order, on which MIDI keys.

use super::{Articulation, Level, Voice};

/// A MIDI key number, `0 ..= 127`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Key(u8);

/// A MIDI channel as musicians count them, `1 ..= 16`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Channel(u8);

/// A MIDI note-on velocity, `1 ..= 127`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Velocity(u8);

impl Key {
    /// A key, if in range.
    pub const fn new(number: u8) -> Option<Key> {
        if number < 128 {
            Some(Key(number))
        } else {
            None
        }
    }

    /// `0 ..= 127`.
    pub const fn number(self) -> u8 {
        self.0
    }
}

impl Channel {
    /// The percussion channel of General MIDI Level 1.
    pub const PERCUSSION: Channel = Channel(10);

    /// A channel counted from 1, if in range.
    pub const fn new(number: u8) -> Option<Channel> {
        if number >= 1 && number <= 16 {
            Some(Channel(number))
        } else {
            None
        }
    }

    /// `1 ..= 16`.
    pub const fn number(self) -> u8 {
        self.0
    }

    /// `0 ..= 15`, as on the wire.
    pub const fn index(self) -> u8 {
        self.0 - 1
    }
}

impl Velocity {
    /// A velocity, if in range.
    pub const fn new(value: u8) -> Option<Velocity> {
        if value >= 1 && value <= 127 {
            Some(Velocity(value))
        } else {
            None
        }
    }

    /// The nearest velocity to `value`.
    pub fn clamped(value: f64) -> Velocity {
        Velocity(value.round().clamp(1.0, 127.0) as u8)
    }

    /// `1 ..= 127`.
    pub const fn value(self) -> u8 {
        self.0
    }

    /// `> 0 ..= 1`.
    pub fn to_unit(self) -> f32 {
        f32::from(self.0) / 127.0
    }
}

/// The velocities a voice answers the three levels with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct VelocityCurve {
    /// Ghost note.
    pub ghost: Velocity,
    /// Normal stroke.
    pub normal: Velocity,
    /// Accent.
    pub accent: Velocity,
}

impl Default for VelocityCurve {
    fn default() -> Self {
        VelocityCurve {
            ghost: Velocity(32),
            normal: Velocity(84),
            accent: Velocity(118),
        }
    }
}

impl VelocityCurve {
    /// The velocity of a level.
    pub fn at(self, level: Level) -> Velocity {
        match level {
            Level::Ghost => self.ghost,
            Level::Normal => self.normal,
            Level::Accent => self.accent,
        }
    }
}

/// One voice of a kit: where its MIDI goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct KitVoice {
    /// Key of each articulation; `None` plays the plain key.
    pub keys: [Option<Key>; Articulation::COUNT],
    /// Channel of all its notes.
    pub channel: Channel,
    /// Velocity of each level.
    pub curve: VelocityCurve,
}

/// A kit: the voices that exist, their order and their MIDI keys.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kit {
    /// Voices struck with the hands, in order round the kit.
    pub order: Vec<Voice>,
    voices: [KitVoice; Voice::COUNT],
}

impl Kit {
    /// The kit of the General MIDI Level 1 percussion key map (MIDI
    /// Association, *General MIDI System Level 1*, table 3), on channel 10.
    /// The click has no place in that map: keys 33 and 34 are the metronome
    /// click and bell of General MIDI Level 2 (from memory).
    pub fn general_midi() -> Kit {
        use Articulation::*;
        let mut kit = Kit {
            order: vec![
                Voice::Hat,
                Voice::Snare,
                Voice::Tom1,
                Voice::Tom2,
                Voice::Tom3,
                Voice::Tom4,
                Voice::Ride,
                Voice::Crash,
                Voice::Splash,
            ],
            voices: [KitVoice {
                keys: [None; Articulation::COUNT],
                channel: Channel::PERCUSSION,
                curve: VelocityCurve::default(),
            }; Voice::COUNT],
        };
        for (voice, articulation, key) in [
            (Voice::Kick, Plain, 36),
            (Voice::Snare, Plain, 38),
            (Voice::Snare, Cross, 37),
            (Voice::Snare, Rim, 40),
            (Voice::Hat, Plain, 42),
            (Voice::Hat, Open, 46),
            (Voice::Hat, Half, 46),
            (Voice::HatFoot, Plain, 44),
            (Voice::HatFoot, Open, 46),
            (Voice::Tom1, Plain, 50),
            (Voice::Tom2, Plain, 48),
            (Voice::Tom3, Plain, 47),
            (Voice::Tom4, Plain, 45),
            (Voice::Tom5, Plain, 43),
            (Voice::Tom6, Plain, 41),
            (Voice::Ride, Plain, 51),
            (Voice::Ride, Bell, 53),
            (Voice::Crash, Plain, 49),
            (Voice::Crash2, Plain, 57),
            (Voice::Splash, Plain, 55),
            (Voice::China, Plain, 52),
            (Voice::Cowbell, Plain, 56),
            (Voice::Click, Plain, 33),
            (Voice::Click, Bell, 34),
        ] {
            kit.voices[voice.index()].keys[articulation.index()] = Key::new(key);
        }
        kit
    }

    /// The MIDI side of a voice.
    pub fn voice(&self, voice: Voice) -> &KitVoice {
        &self.voices[voice.index()]
    }

    /// The MIDI side of a voice, to change it.
    pub fn voice_mut(&mut self, voice: Voice) -> &mut KitVoice {
        &mut self.voices[voice.index()]
    }

    /// The key a voice plays with an articulation: its own, else the plain one.
    /// `None` only if the voice has no key at all.
    pub fn key(&self, voice: Voice, articulation: Articulation) -> Option<Key> {
        let keys = &self.voice(voice).keys;
        keys[articulation.index()].or(keys[Articulation::Plain.index()])
    }

    /// The voice and articulation that answer to an incoming key, if any.
    pub fn voice_of_key(&self, channel: Channel, key: Key) -> Option<(Voice, Articulation)> {
        let all = Voice::ALL.into_iter().chain([Voice::Click]);
        all.filter(|v| self.voice(*v).channel == channel)
            .find_map(|voice| {
                let hit = |a: &&Articulation| self.voice(voice).keys[a.index()] == Some(key);
                voice.articulations().iter().find(hit).map(|a| (voice, *a))
            })
    }
}

impl Default for Kit {
    fn default() -> Self {
        Kit::general_midi()
    }
}
