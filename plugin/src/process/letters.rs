//! Keys that play letters.
//!
//! A key that went down as a letter comes up as one, whatever was set
//! meanwhile; any other passes by.

use nice_plug::midi::{Channel, Key, VoiceID};
use nice_plug::prelude::*;

/// What a letter key does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Press {
    /// It goes down.
    Down {
        /// Index into the timeline's letters.
        letter: usize,
        /// Sample in the block.
        timing: u32,
    },
    /// It comes up.
    Up {
        /// Index into the timeline's letters.
        letter: usize,
        /// Sample in the block.
        timing: u32,
    },
}

/// A key that went down as a letter and has not come up yet.
#[derive(Debug, Clone, Copy)]
struct Held {
    /// `None` once the letter was let go: only the key's end is still to come.
    letter: Option<u16>,
    voice: VoiceID,
    channel: Channel,
}

impl Held {
    /// Whether an event for these is about it; a wildcard means all.
    fn is_of(&self, voice: VoiceID, channel: Channel) -> bool {
        (voice.is_wildcard() || voice == self.voice)
            && (channel.is_wildcard() || self.channel.is_wildcard() || channel == self.channel)
    }
}

/// All sound off, and all notes off, among the channel mode messages of MIDI 1.0
/// (MIDI Association).
const ALL_OFF: [u8; 2] = [120, 123];

/// The keys that are held as letters.
pub(super) struct Letters([Option<Held>; 128]);

impl Default for Letters {
    fn default() -> Self {
        Letters([None; 128])
    }
}

impl Letters {
    /// No letter is held any more; the keys' ends are still to come.
    pub fn let_go(&mut self) {
        for held in self.0.iter_mut().flatten() {
            held.letter = None;
        }
    }

    /// Tells `press` what an event means where the first of `letters` letters
    /// lies on `first_key`, if keys play letters. Returns whether it was about
    /// letters alone, and is to go no further.
    pub fn read(
        &mut self,
        event: &NoteEvent<()>,
        first_key: Option<i32>,
        letters: usize,
        mut press: impl FnMut(Press),
    ) -> bool {
        match *event {
            NoteEvent::NoteOn {
                timing,
                voice_id: voice,
                channel,
                key: Key::Number(key),
                ..
            } => {
                let letter = first_key.map(|first| i32::from(key) - first);
                let letter = letter.filter(|l| (0..letters.min(128) as i32).contains(l));
                let before = std::mem::replace(
                    &mut self.0[usize::from(key & 127)],
                    letter.map(|letter| Held {
                        letter: Some(letter as u16),
                        voice,
                        channel,
                    }),
                );
                match (letter, before.and_then(|held| held.letter)) {
                    (Some(letter), _) => {
                        let letter = letter as usize;
                        press(Press::Down { letter, timing });
                    }
                    (None, Some(letter)) => {
                        let letter = usize::from(letter);
                        press(Press::Up { letter, timing });
                    }
                    (None, None) => {}
                }
                letter.is_some()
            }
            NoteEvent::NoteOff {
                timing,
                voice_id,
                channel,
                key,
                ..
            }
            | NoteEvent::Choke {
                timing,
                voice_id,
                channel,
                key,
            } => match key {
                Key::Number(key) => {
                    let held = self.0[usize::from(key & 127)].take();
                    if let Some(letter) = held.and_then(|held| held.letter) {
                        let letter = usize::from(letter);
                        press(Press::Up { letter, timing });
                    }
                    held.is_some()
                }
                Key::Wildcard => {
                    let ended = self.end(voice_id, channel, timing, press);
                    // Of one voice: then nobody else waits for it.
                    ended && !voice_id.is_wildcard()
                }
            },
            NoteEvent::MidiCC {
                timing,
                channel,
                cc,
                ..
            } if ALL_OFF.contains(&cc) => {
                self.end(VoiceID::Wildcard, Channel::Number(channel), timing, press);
                false
            }
            _ => false,
        }
    }

    /// Lets go of the letters of a voice and a channel; says whether there were
    /// any. An end of each key may still come by itself.
    fn end(
        &mut self,
        voice: VoiceID,
        channel: Channel,
        timing: u32,
        mut press: impl FnMut(Press),
    ) -> bool {
        let mut any = false;
        let held = self.0.iter_mut().flatten();
        for held in held.filter(|held| held.is_of(voice, channel)) {
            any = true;
            if let Some(letter) = held.letter.take() {
                let letter = usize::from(letter);
                press(Press::Up { letter, timing });
            }
        }
        any
    }
}
