//! Which voice an instrument of the file is: by its id, its MIDI key, its name.

use super::names::of_name;
use crate::import::midi::percussion_voice;
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
                    voice.instrument(*how) == name
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
const SECOND_KEYS: [u8; 2] = [35, 59];

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
    percussion_voice(key).filter(|_| SECOND_KEYS.contains(&key.number()))
}
