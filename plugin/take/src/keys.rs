//! What the keys of pads play: plain tables, and what the take itself tells.

use crate::recording::{Note, Recording};
use crate::struck::voice_of;
use barform_score::music::{Articulation, Kit, Voice};
use std::collections::BTreeMap;

/// Keys of pads with more zones than General MIDI has: the hi-hat's edge closed
/// and open, rims of the toms, edges of the cymbals. Common practice, no source.
pub const ZONES: [(u8, Voice, Articulation); 23] = [
    (22, Voice::Hat, Articulation::Plain),
    (26, Voice::Hat, Articulation::Open),
    (36, Voice::Kick, Articulation::Plain),
    (37, Voice::Snare, Articulation::Cross),
    (38, Voice::Snare, Articulation::Plain),
    (40, Voice::Snare, Articulation::Rim),
    (42, Voice::Hat, Articulation::Plain),
    (43, Voice::Tom3, Articulation::Plain),
    (44, Voice::HatFoot, Articulation::Plain),
    (45, Voice::Tom2, Articulation::Plain),
    (46, Voice::Hat, Articulation::Open),
    (47, Voice::Tom2, Articulation::Rim),
    (48, Voice::Tom1, Articulation::Plain),
    (50, Voice::Tom1, Articulation::Rim),
    (58, Voice::Tom3, Articulation::Rim),
    (49, Voice::Crash, Articulation::Plain),
    (55, Voice::Crash, Articulation::Plain),
    (57, Voice::Crash2, Articulation::Plain),
    (52, Voice::Crash2, Articulation::Plain),
    (51, Voice::Ride, Articulation::Plain),
    (59, Voice::Ride, Articulation::Plain),
    (53, Voice::Ride, Articulation::Bell),
    (56, Voice::Cowbell, Articulation::Plain),
];

/// Keys that only pads with zones send.
const ONLY_ZONES: [u8; 3] = [22, 26, 58];

/// Voices for keys that no table knows, those that a take uses least first.
const SPARE: [Voice; 7] = [
    Voice::Cowbell,
    Voice::Splash,
    Voice::China,
    Voice::Tom6,
    Voice::Tom5,
    Voice::Tom4,
    Voice::Crash2,
];

/// Which table read the keys.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layout {
    /// The kit's own keys, General MIDI unless another was given.
    Kit,
    /// [`ZONES`].
    Zones,
}

/// What the keys of a take play.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Keys {
    /// Which table read them.
    pub layout: Layout,
    table: BTreeMap<u8, (Voice, Articulation)>,
    /// Keys that no table knows, and the voice that stands for each.
    pub learned: Vec<(u8, Voice)>,
    /// Position of the pedal when the hi-hat is shut, where openness is read
    /// from controller 4.
    shut: Option<u8>,
}

impl Keys {
    /// Finds the table that fits a take.
    pub fn of(recording: &Recording, kit: &Kit) -> Keys {
        let mut counts: BTreeMap<u8, usize> = BTreeMap::new();
        for note in &recording.notes {
            *counts.entry(note.key.number()).or_default() += 1;
        }
        let own = *kit != Kit::general_midi();
        let zoned = ONLY_ZONES.iter().any(|key| counts.contains_key(key));
        let layout = if zoned && !own {
            Layout::Zones
        } else {
            Layout::Kit
        };
        let channel = barform_score::music::Channel::PERCUSSION;
        let known = |key: u8| {
            let zone = || ZONES.iter().find(|z| z.0 == key).map(|z| (z.1, z.2));
            let by_kit = || voice_of(kit, channel, barform_score::music::Key::new(key)?);
            match layout {
                Layout::Zones => zone().or_else(by_kit),
                Layout::Kit => by_kit().or_else(zone),
            }
        };
        let mut table = BTreeMap::new();
        let mut unknown: Vec<(usize, u8)> = Vec::new();
        for (key, count) in &counts {
            match known(*key) {
                Some(found) => {
                    table.insert(*key, found);
                }
                None => unknown.push((*count, *key)),
            }
        }
        unknown.sort_unstable_by(|a, b| b.cmp(a));
        let mut learned = Vec::new();
        for (_, key) in unknown {
            let taken = |v: &Voice| table.values().any(|(used, _)| used == v);
            let voice = SPARE.into_iter().find(|v| !taken(v));
            let voice = voice.unwrap_or(Voice::Cowbell);
            table.insert(key, (voice, Articulation::Plain));
            learned.push((key, voice));
        }
        let opens = table
            .values()
            .any(|(v, a)| *v == Voice::Hat && *a == Articulation::Open);
        let shut = if opens { None } else { shut(recording, &table) };
        Keys {
            layout,
            table,
            learned,
            shut,
        }
    }

    /// What a note plays.
    pub fn voice(&self, note: &Note) -> (Voice, Articulation) {
        let key = note.key.number();
        let known = self.table.get(&key).copied();
        let (voice, mut way) = known.unwrap_or((Voice::Cowbell, Articulation::Plain));
        if let (Voice::Hat, Some(shut), Some(pedal)) = (voice, self.shut, note.pedal) {
            // Thirds of the pedal's way; common practice, no source.
            way = match shut.abs_diff(pedal) {
                0..=24 => way,
                25..=76 => Articulation::Half,
                _ => Articulation::Open,
            };
        }
        if note.choked && voice.articulations().contains(&Articulation::Choke) {
            way = Articulation::Choke;
        }
        (voice, way)
    }
}

/// The pedal's position when the hi-hat is closed with the foot: the middle one
/// of those strokes, else fully down if it moves at all.
fn shut(recording: &Recording, table: &BTreeMap<u8, (Voice, Articulation)>) -> Option<u8> {
    let is = |note: &&Note, voice: Voice| {
        let found = table.get(&note.key.number());
        found.is_some_and(|(v, _)| *v == voice)
    };
    let at = |voice| {
        let notes = recording.notes.iter().filter(move |n| is(n, voice));
        let mut all: Vec<u8> = notes.filter_map(|n| n.pedal).collect();
        all.sort_unstable();
        all
    };
    let (feet, hands) = (at(Voice::HatFoot), at(Voice::Hat));
    let (low, high) = (*hands.first()?, *hands.last()?);
    if high - low <= 24 {
        return None;
    }
    Some(feet.get(feet.len() / 2).copied().unwrap_or(127))
}
