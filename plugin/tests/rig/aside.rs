//! What is heard by itself, in the host that records.

use std::sync::Arc;

use barform::audition::Audition;
use barform_app::timeline::{Note as Struck, Timeline};
use nice_plug::midi::Key;
use nice_plug::prelude::*;

use super::{Note, RATE_HZ, Rig};

/// A cell of even strokes on one voice: so many a beat, over so many beats.
pub fn even(voice: &str, per_beat: u64, beats: u64) -> Arc<Timeline> {
    let spans = vec![per_beat.to_string(); beats as usize].join(" ");
    let strokes = ["R"].repeat((per_beat * beats) as usize).join(" ");
    timeline(&format!(
        "grid = \"{spans}\"\nsticking = \"{strokes}\"\nvoices = \"{voice}{}\"",
        " .".repeat((per_beat * beats - 1) as usize)
    ))
}

/// A score of one cell, whose tables are given.
pub fn timeline(cell: &str) -> Arc<Timeline> {
    let text =
        format!("barform = 1\nmeter = \"4/4\"\ntempo = 90\nform = \"A\"\n[cell.A]\n{cell}\n");
    barform::state::check(&text, "test").unwrap().timeline
}

/// Acoustic snare in the General MIDI Level 1 percussion key map (MIDI
/// Association).
pub const SNARE: u8 = 38;

/// The key of the first stroke.
pub fn key_of(timeline: &Timeline) -> u8 {
    timeline.form().main.notes[0].key.number()
}

/// The window's end.
pub fn audition(rig: &Rig) -> &Audition {
    &rig.plugin.session().audition
}

/// The nearest sample to a moment of `numerator / denominator` beats, ties up.
pub fn sample(numerator: u64, denominator: u64, bpm: u64) -> u64 {
    let rate = RATE_HZ as u64;
    (2 * 60 * rate * numerator + denominator * bpm) / (2 * denominator * bpm)
}

/// Plays so many samples in blocks of the sizes given, round and round. Returns
/// time, whether on, and key of each note that came out.
pub fn play(rig: &mut Rig, samples: u64, blocks: &[usize]) -> Vec<(u64, bool, u8)> {
    let (mut done, mut notes) = (0, Vec::new());
    for block in blocks.iter().cycle() {
        let frames = (*block as u64).min(samples - done);
        if frames == 0 {
            break;
        }
        let out = rig.block(frames as usize, vec![]);
        notes.extend(out.iter().filter_map(|event| note(done, event)));
        done += frames;
    }
    notes
}

/// Time, whether on, and key.
pub fn note(start: u64, event: &Note) -> Option<(u64, bool, u8)> {
    match *event {
        NoteEvent::NoteOn {
            timing,
            key: Key::Number(key),
            ..
        } => Some((start + u64::from(timing), true, key)),
        NoteEvent::NoteOff {
            timing,
            key: Key::Number(key),
            ..
        } => Some((start + u64::from(timing), false, key)),
        _ => None,
    }
}

/// When a key is struck.
pub fn ons_of(notes: &[(u64, bool, u8)], key: u8) -> Vec<u64> {
    let on = notes.iter().filter(|n| n.1 && n.2 == key);
    on.map(|n| n.0).collect()
}

/// Each note-on has one note-off, before the next note-on of its key; returns
/// how many are left sounding.
pub fn left_sounding(notes: &[(u64, bool, u8)]) -> usize {
    let mut sounding = std::collections::HashSet::new();
    for (at, on, key) in notes {
        if *on {
            assert!(sounding.insert(*key), "{key} struck twice, at {at}");
        } else {
            assert!(sounding.remove(key), "{key} ends nothing, at {at}");
        }
    }
    sounding.len()
}

/// The ways in which time may pass for the form meanwhile.
pub fn rigs() -> Vec<Rig> {
    let standing = Rig::new(PluginApi::Clap);
    let own = Rig::new(PluginApi::Standalone);
    own.set("own_run", 1.0);
    vec![standing, Rig::rolling(), own]
}

/// One stroke of the snare a beat.
pub const FORM: &str = "barform = 1\nmeter = \"4/4\"\ntempo = 90\nform = \"A\"\n\
                    [cell.A]\ngrid = \"1\"\nsticking = \"R\"\n";

/// A rig that plays [`FORM`]; a sample of it is played.
pub fn over_form(mut rig: Rig) -> Rig {
    let form = barform::state::check(FORM, "test").unwrap();
    rig.plugin.session().accept(form, "Test", None);
    rig.block(1, vec![]);
    rig
}

/// A stroke as the kit page sounds it.
pub fn struck() -> Struck {
    even("tom1", 1, 1).form().main.notes[0]
}
