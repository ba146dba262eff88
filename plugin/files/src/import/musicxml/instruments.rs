//! Which voice an instrument of the file is: by its id, its MIDI key, its name.

use barform_score::music::{Articulation, Channel, Key, Kit, Voice};
use roxmltree::Node;
use std::collections::HashMap;

/// What is known of an instrument of a part.
#[derive(Debug, Clone)]
pub(super) struct Instrument {
    /// Its name.
    pub name: String,
    /// Its key, `0 ..= 127`.
    pub key: Option<Key>,
    /// Its channel, `1 ..= 16`.
    pub channel: u8,
    /// What it is, if that is certain.
    pub voice: Option<(Voice, Articulation)>,
    /// Known by id or full name rather than by key.
    pub named: bool,
}

/// The name of a way of striking a voice, in the trade's words.
pub(crate) fn instrument_name(voice: Voice, articulation: Articulation) -> String {
    let voice = match voice {
        Voice::Kick => "Bass drum",
        Voice::Snare => "Snare drum",
        Voice::Hat => "Hi-hat",
        Voice::HatFoot => "Hi-hat pedal",
        Voice::Tom1 => "Tom 1",
        Voice::Tom2 => "Tom 2",
        Voice::Tom3 => "Tom 3",
        Voice::Tom4 => "Tom 4",
        Voice::Tom5 => "Tom 5",
        Voice::Tom6 => "Tom 6",
        Voice::Ride => "Ride cymbal",
        Voice::Crash => "Crash cymbal",
        Voice::Crash2 => "Crash cymbal 2",
        Voice::Splash => "Splash cymbal",
        Voice::China => "China cymbal",
        Voice::Cowbell => "Cowbell",
        Voice::Click => "Metronome",
    };
    let how = match articulation {
        Articulation::Plain => return voice.to_owned(),
        Articulation::Rim => "rimshot",
        Articulation::Cross => "cross-stick",
        Articulation::Open => "open",
        Articulation::Half => "half-open",
        Articulation::Bell => "bell",
        Articulation::Choke => "choked",
    };
    format!("{voice}, {how}")
}

/// The instruments of a `score-part`, by id.
pub(super) fn instruments(part: Node, kit: &Kit) -> HashMap<String, Instrument> {
    let child = |node: Node, name: &str| -> Option<String> {
        let child = node.children().find(|c| c.tag_name().name() == name)?;
        Some(child.text().unwrap_or("").trim().to_owned())
    };
    let part_id = part.attribute("id").unwrap_or("");
    let mut all = HashMap::new();
    for node in part.children() {
        let Some(id) = node.attribute("id") else {
            continue;
        };
        match node.tag_name().name() {
            "score-instrument" => {
                let name = child(node, "instrument-name").unwrap_or_default();
                let own = id
                    .strip_prefix(part_id)
                    .and_then(|rest| rest.strip_prefix('-'));
                let voice = own.and_then(of_id).filter(|(voice, how)| {
                    // The id alone could be chance; with the name it is not.
                    instrument_name(*voice, *how) == name
                });
                all.insert(
                    id.to_owned(),
                    Instrument {
                        name,
                        key: None,
                        channel: Channel::PERCUSSION.number(),
                        voice,
                        named: voice.is_some(),
                    },
                );
            }
            "midi-instrument" => {
                let Some(instrument) = all.get_mut(id) else {
                    continue;
                };
                // Counted from 1 in this standard.
                let key = child(node, "midi-unpitched").and_then(|t| t.parse::<u8>().ok());
                instrument.key = key.and_then(|k| k.checked_sub(1)).and_then(Key::new);
                let channel = child(node, "midi-channel").and_then(|t| t.parse::<u8>().ok());
                if let Some(channel) = channel.and_then(Channel::new) {
                    instrument.channel = channel.number();
                }
            }
            _ => {}
        }
    }
    for instrument in all.values_mut() {
        if instrument.voice.is_none() {
            instrument.voice = instrument
                .key
                .and_then(|key| of_key(key, &instrument.name, kit))
                .or_else(|| of_name(&instrument.name));
        }
    }
    all
}

/// `snare`, `hat-open`: what our own ids end with.
fn of_id(id: &str) -> Option<(Voice, Articulation)> {
    let (voice, how) = match id.split_once('-') {
        Some((voice, how)) => (voice, Articulation::from_name(how)?),
        None => (id, Articulation::Plain),
    };
    let voice = Voice::from_name(voice).filter(|v| *v != Voice::Click)?;
    voice.articulations().contains(&how).then_some((voice, how))
}

/// Keys of the General MIDI Level 1 percussion map that name a second
/// instrument of a kind, beside the ones a kit has (MIDI Association; from
/// memory).
const SECOND_KEYS: [(u8, Voice, Articulation); 2] = [
    (35, Voice::Kick, Articulation::Plain),
    (59, Voice::Ride, Articulation::Plain),
];

fn of_key(key: Key, name: &str, kit: &Kit) -> Option<(Voice, Articulation)> {
    let mut hits = Voice::ALL.into_iter().flat_map(|voice| {
        let ways = voice.articulations().iter();
        ways.filter(move |a| kit.voice(voice).keys[a.index()] == Some(key))
            .map(move |a| (voice, *a))
    });
    let first = hits.next();
    // One key may stand for several; the name may tell them apart.
    if let Some(first) = first {
        let named = of_name(name);
        let same = |hit: &(Voice, Articulation)| Some(*hit) == named;
        return Some(hits.find(same).unwrap_or(first));
    }
    SECOND_KEYS
        .into_iter()
        .find(|(second, ..)| *second == key.number())
        .map(|(_, voice, how)| (voice, how))
}

/// A voice by words in an instrument's name. Common practice.
pub(super) fn of_name(name: &str) -> Option<(Voice, Articulation)> {
    use Articulation::*;
    let name = name.to_lowercase();
    let has = |words: &[&str]| words.iter().any(|w| name.contains(w));
    let second = has(&["2", "second"]);
    let found = if has(&["bass drum", "kick"]) {
        (Voice::Kick, Plain)
    } else if has(&["hi-hat", "hihat", "hi hat"]) {
        if has(&["pedal", "foot"]) {
            (
                Voice::HatFoot,
                if has(&["open", "splash"]) {
                    Open
                } else {
                    Plain
                },
            )
        } else if has(&["half"]) {
            (Voice::Hat, Half)
        } else if has(&["open"]) {
            (Voice::Hat, Open)
        } else {
            (Voice::Hat, Plain)
        }
    } else if has(&["side stick", "sidestick", "cross-stick", "cross stick"]) {
        (Voice::Snare, Cross)
    } else if has(&["snare", "rimshot", "rim shot"]) {
        (Voice::Snare, if has(&["rim"]) { Rim } else { Plain })
    } else if has(&["cowbell"]) {
        (Voice::Cowbell, Plain)
    } else if has(&["ride"]) {
        (
            Voice::Ride,
            if has(&["bell", "cup"]) { Bell } else { Plain },
        )
    } else if has(&["splash"]) {
        (Voice::Splash, Plain)
    } else if has(&["china", "chinese"]) {
        (Voice::China, Plain)
    } else if has(&["crash"]) {
        (if second { Voice::Crash2 } else { Voice::Crash }, Plain)
    } else if has(&["tom"]) {
        (tom(&name), Plain)
    } else {
        return None;
    };
    let choked = has(&["chok"]) && found.0.articulations().contains(&Choke);
    Some(if choked { (found.0, Choke) } else { found })
}

/// Which tom: by number, else by height.
fn tom(name: &str) -> Voice {
    const TOMS: [Voice; 6] = [
        Voice::Tom1,
        Voice::Tom2,
        Voice::Tom3,
        Voice::Tom4,
        Voice::Tom5,
        Voice::Tom6,
    ];
    let digit = name.chars().find_map(|c| c.to_digit(10));
    let numbered = digit.and_then(|d| TOMS.get((d as usize).checked_sub(1)?));
    let (high, mid, low) = (
        name.contains("high") || name.contains("hi-"),
        name.contains("mid"),
        name.contains("low"),
    );
    match (numbered, name.contains("floor")) {
        (Some(tom), false) => *tom,
        (_, true) => TOMS[if low { 5 } else { 3 }],
        _ if high && mid => Voice::Tom2,
        _ if low && mid => Voice::Tom3,
        _ if high => Voice::Tom1,
        _ if low => Voice::Tom4,
        _ => Voice::Tom2,
    }
}
