//! Whether a score that was read, written again, is the file it came from.

use super::Reading;
use super::own;
use crate::export::{self, midi};
use crate::import::Remarks;
use crate::import::midi::clock::Clock;
use crate::import::midi::file::File;
use barform_score::music::Beats;
use barform_score::score::Score;
use barform_score::timeline::Timeline;
use std::collections::BTreeMap;

/// A time, a channel, a key and a velocity.
type Sound = (Beats, u8, u8, u8);

/// Notes of the file but for the click, and how often each is there.
fn sounds(file: &File) -> Option<BTreeMap<Sound, i64>> {
    let clock = Clock::of(file);
    let mut all = BTreeMap::new();
    for note in &file.notes {
        if own::is_click(&file.tracks[note.track].name) {
            continue;
        }
        let at = clock.beats(note.tick).ok()?;
        let sound = (
            at,
            note.channel.number(),
            note.key.number(),
            note.velocity.value(),
        );
        *all.entry(sound).or_default() += 1;
    }
    Some(all)
}

/// How many notes of the file the score does not give back.
pub(super) fn notes_off(reading: &Reading<'_>, score: &Score, empty_bars: u32) -> usize {
    let all = reading.file.notes.len();
    let again = || {
        let timeline = Timeline::compile(score).ok()?;
        let options = export::Options {
            empty_bars,
            ..export::Options::default()
        };
        let written = midi::write(score, &timeline, &options).ok()?;
        File::read(&written.bytes, &mut Remarks::default()).ok()
    };
    let Some((mut left, again)) = sounds(reading.file).zip(again().and_then(|f| sounds(&f))) else {
        return all;
    };
    for (sound, count) in again {
        *left.entry(sound).or_default() -= count;
    }
    left.values()
        .map(|count| count.unsigned_abs() as usize)
        .sum()
}
