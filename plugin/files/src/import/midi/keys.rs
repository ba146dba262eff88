//! What the keys of a file are: which kit fits them best, and what a key plays.
//!
//! The names are those of the General MIDI Level 1 percussion key map (MIDI
//! Association, *General MIDI System Level 1*, table 3; from memory, held
//! against `pretty_midi`'s copy by a test).

use super::file::RawNote;
use super::{Channels, NamedKit};
use barform_score::music::{Articulation, Channel, Key, Kit, Voice};
use std::collections::BTreeMap;

/// First key of the General MIDI Level 1 percussion map.
pub const FIRST_PERCUSSION_KEY: u8 = 35;

/// The sounds of keys 35 to 81.
pub const PERCUSSION_NAMES: [&str; 47] = [
    "Acoustic Bass Drum",
    "Bass Drum 1",
    "Side Stick",
    "Acoustic Snare",
    "Hand Clap",
    "Electric Snare",
    "Low Floor Tom",
    "Closed Hi Hat",
    "High Floor Tom",
    "Pedal Hi-Hat",
    "Low Tom",
    "Open Hi-Hat",
    "Low-Mid Tom",
    "Hi-Mid Tom",
    "Crash Cymbal 1",
    "High Tom",
    "Ride Cymbal 1",
    "Chinese Cymbal",
    "Ride Bell",
    "Tambourine",
    "Splash Cymbal",
    "Cowbell",
    "Crash Cymbal 2",
    "Vibraslap",
    "Ride Cymbal 2",
    "Hi Bongo",
    "Low Bongo",
    "Mute Hi Conga",
    "Open Hi Conga",
    "Low Conga",
    "High Timbale",
    "Low Timbale",
    "High Agogo",
    "Low Agogo",
    "Cabasa",
    "Maracas",
    "Short Whistle",
    "Long Whistle",
    "Short Guiro",
    "Long Guiro",
    "Claves",
    "Hi Wood Block",
    "Low Wood Block",
    "Mute Cuica",
    "Open Cuica",
    "Mute Triangle",
    "Open Triangle",
];

/// Keys of that map with a near relation on a kit that has no key for them.
const RELATIONS: [(u8, u8); 2] = [(35, 36), (59, 51)];

/// The General MIDI Level 1 name of a key, if it has one.
pub fn percussion_name(key: Key) -> Option<&'static str> {
    let at = key.number().checked_sub(FIRST_PERCUSSION_KEY)?;
    PERCUSSION_NAMES.get(usize::from(at)).copied()
}

/// What a key of that map plays on a drum set: as the kit of that map has it, or
/// a near relation. Hand clap, congas and the like are none of a drum set's.
pub(crate) fn percussion_voice(key: Key) -> Option<(Voice, Articulation)> {
    percussion_name(key)?;
    let near = RELATIONS.into_iter().find(|(k, _)| *k == key.number());
    let key = near.map_or(Some(key), |(_, near)| Key::new(near))?;
    Kit::general_midi().voice_of_key(Channel::PERCUSSION, key)
}

/// A key with its name, as a message tells it.
pub(super) fn told(key: Key) -> String {
    match percussion_name(key) {
        Some(name) => format!("note {} ({name})", key.number()),
        None => format!("note {}", key.number()),
    }
}

/// What a note plays on a kit.
pub(super) fn voice_of(
    kit: &Kit,
    channels: Channels,
    channel: Channel,
    key: Key,
    foot: bool,
) -> Option<(Voice, Articulation)> {
    let all = Voice::ALL.into_iter().chain([Voice::Click]);
    let pedal = |v: &Voice| matches!(v, Voice::Kick | Voice::HatFoot);
    let fits = |v: &Voice| match channels {
        Channels::OfKit => kit.voice(*v).channel == channel,
        Channels::Any => true,
        Channels::Only(only) => only == channel,
    };
    let hit = |voice: Voice| {
        let keys = &kit.voice(voice).keys;
        let way = |a: &&Articulation| keys[a.index()] == Some(key);
        voice.articulations().iter().find(way).map(|a| (voice, *a))
    };
    let found = all
        .clone()
        .filter(fits)
        .filter(|v| pedal(v) == foot)
        .find_map(hit);
    found.or_else(|| all.filter(fits).find_map(hit))
}

/// The same, with a near relation of the General MIDI map where the kit lacks
/// the key itself; whether that was needed.
pub(super) fn voice_or_relation(
    kit: &Kit,
    channels: Channels,
    channel: Channel,
    key: Key,
    foot: bool,
) -> Option<(Voice, Articulation, bool)> {
    if let Some((voice, way)) = voice_of(kit, channels, channel, key, foot) {
        return Some((voice, way, false));
    }
    let (_, near) = RELATIONS.into_iter().find(|(k, _)| *k == key.number())?;
    let (voice, way) = voice_of(kit, channels, channel, Key::new(near)?, foot)?;
    // On another map that key is something else.
    let same = Kit::general_midi().voice_of_key(Channel::PERCUSSION, Key::new(near)?);
    (same == Some((voice, way))).then_some((voice, way, true))
}

/// How well a kit fits the notes of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KitFit {
    /// Its name.
    pub name: String,
    /// Notes of the channels read.
    pub notes: usize,
    /// How many of them the kit knows.
    pub known: usize,
    /// Notes on keys it does not know, by key.
    pub unknown: BTreeMap<Key, usize>,
}

/// How well each kit fits, in the order given, and the index of the best: that
/// which knows most notes, of equals the first.
pub(super) fn fits(
    kits: &[NamedKit],
    channels: Channels,
    notes: &[RawNote],
) -> (Vec<KitFit>, usize) {
    let mut counts: BTreeMap<(Channel, Key), usize> = BTreeMap::new();
    for note in notes {
        *counts.entry((note.channel, note.key)).or_default() += 1;
    }
    let fit = |named: &NamedKit| {
        let mut fit = KitFit {
            name: named.name.clone(),
            notes: 0,
            known: 0,
            unknown: BTreeMap::new(),
        };
        for ((channel, key), count) in &counts {
            let read = match channels {
                Channels::OfKit => {
                    let mut voices = Voice::ALL.into_iter();
                    voices.any(|v| named.kit.voice(v).channel == *channel)
                }
                Channels::Any => true,
                Channels::Only(only) => only == *channel,
            };
            if !read {
                continue;
            }
            fit.notes += count;
            if voice_or_relation(&named.kit, channels, *channel, *key, false).is_some() {
                fit.known += count;
            } else {
                *fit.unknown.entry(*key).or_default() += count;
            }
        }
        fit
    };
    let fits: Vec<KitFit> = kits.iter().map(fit).collect();
    let best = (0..fits.len()).rev().max_by_key(|i| fits[*i].known);
    (fits, best.unwrap_or(0))
}
