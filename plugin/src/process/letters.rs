//! Keys that play letters.
//!
//! In: notes that came in. Out: which letter goes down or up, and when. A key
//! that went down as a letter comes up as one, whatever was set meanwhile; any
//! other passes by.

use nice_plug::midi::Key;
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

/// The letter that each held key plays.
pub(super) struct Letters([Option<u16>; 128]);

impl Default for Letters {
    fn default() -> Self {
        Letters([None; 128])
    }
}

impl Letters {
    /// No key is held any more.
    pub fn let_go(&mut self) {
        self.0 = [None; 128];
    }

    /// What an event means where the first of `letters` letters lies on
    /// `first_key`, if keys play letters; `None` if it is about no letter.
    pub fn read(
        &mut self,
        event: &NoteEvent<()>,
        first_key: Option<i32>,
        letters: usize,
    ) -> Option<Press> {
        match *event {
            NoteEvent::NoteOn {
                timing,
                key: Key::Number(key),
                ..
            } => {
                let letter = i32::from(key) - first_key?;
                if !(0..letters.min(128) as i32).contains(&letter) {
                    return None;
                }
                self.0[usize::from(key & 127)] = Some(letter as u16);
                let letter = letter as usize;
                Some(Press::Down { letter, timing })
            }
            NoteEvent::NoteOff {
                timing,
                key: Key::Number(key),
                ..
            }
            | NoteEvent::Choke {
                timing,
                key: Key::Number(key),
                ..
            } => {
                let letter = usize::from(self.0[usize::from(key & 127)].take()?);
                Some(Press::Up { letter, timing })
            }
            _ => None,
        }
    }
}
