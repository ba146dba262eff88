//! Notes that sound now, and when each of them ends.

use super::{Event, EventKind};
use barform_score::timeline::Note;

/// One entry per channel and key at most, so this many never overflow.
const CAPACITY: usize = 16 * 128;

/// The notes between their note-on and their note-off. Times are samples since
/// the player was made.
#[derive(Debug)]
pub(super) struct Sounding {
    notes: Vec<(Note, u64)>,
    next_off: u64,
}

impl Sounding {
    /// Room for every channel and key.
    pub fn new() -> Sounding {
        Sounding {
            notes: Vec::with_capacity(CAPACITY),
            next_off: u64::MAX,
        }
    }

    /// Whether no note waits for its end.
    pub fn is_empty(&self) -> bool {
        self.notes.is_empty()
    }

    /// Sample at which the next note ends; [`u64::MAX`] if none sounds.
    pub fn next_off(&self) -> u64 {
        self.next_off
    }

    /// Starts `note` at sample `now` (offset `offset` in the block) until
    /// `off`. If its key still sounds, that note ends first.
    pub fn start(&mut self, note: Note, off: u64, offset: u32, sink: &mut impl FnMut(Event)) {
        let same = |(n, _): &(Note, u64)| n.key == note.key && n.channel == note.channel;
        match self.notes.iter().position(same) {
            Some(i) => {
                sink(Event {
                    offset,
                    kind: EventKind::Off(self.notes[i].0),
                });
                self.notes[i] = (note, off);
                self.find_next();
            }
            None => {
                self.notes.push((note, off));
                self.next_off = self.next_off.min(off);
            }
        }
        sink(Event {
            offset,
            kind: EventKind::On(note),
        });
    }

    /// Ends every note whose time has come by sample `until`, earliest first.
    /// The block starts at sample `block`.
    pub fn end_until(&mut self, until: u64, block: u64, sink: &mut impl FnMut(Event)) {
        while self.next_off <= until {
            let Some(i) = self.notes.iter().position(|(_, off)| *off == self.next_off) else {
                break;
            };
            let (note, off) = self.notes.swap_remove(i);
            let offset = off.saturating_sub(block) as u32;
            sink(Event {
                offset,
                kind: EventKind::Off(note),
            });
            self.find_next();
        }
    }

    /// Ends everything at the first sample of the block.
    pub fn end_all(&mut self, sink: &mut impl FnMut(Event)) {
        for (note, _) in self.notes.drain(..) {
            sink(Event {
                offset: 0,
                kind: EventKind::Off(note),
            });
        }
        self.next_off = u64::MAX;
    }

    fn find_next(&mut self) {
        self.next_off = self
            .notes
            .iter()
            .map(|(_, off)| *off)
            .min()
            .unwrap_or(u64::MAX);
    }
}
