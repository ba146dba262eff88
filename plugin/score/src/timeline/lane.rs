//! Lanes: streams of strokes, each on its own cycle.

use crate::music::{Articulation, Beats, Channel, Graces, Key, Limb, Velocity, Voice};
use crate::score::MAX_CELLS;

/// Most bounces after the first contact of a buzz stroke. A pressed stick
/// settles after a handful of bounces. Common practice, no source.
pub const BOUNCES: usize = 8;

/// Most lanes of one timeline: form, click, eight ostinatos, the letters.
pub const MAX_LANES: usize = 10 + MAX_CELLS;

/// What a lane is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LaneRole {
    /// The form.
    Form,
    /// An ostinato, by its number in the score.
    Ostinato(u16),
    /// The metronome click.
    Click,
    /// One letter, looped on its own when its key is held.
    Letter(u16),
}

/// One note, worked out from kit, level and voicing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Note {
    /// MIDI key.
    pub key: Key,
    /// MIDI channel.
    pub channel: Channel,
    /// Note-on velocity.
    pub velocity: Velocity,
    /// Instrument.
    pub voice: Voice,
    /// How it is struck.
    pub articulation: Articulation,
    /// Who plays it; `None` for the click.
    pub limb: Option<Limb>,
}

/// Notes in order of time. Parallel arrays: entry `i` of each belongs together.
#[derive(Debug, Clone, Default)]
pub struct Track {
    /// Time of the main stroke in beats from the start of the cycle, not
    /// falling.
    pub at: Vec<f64>,
    /// What sounds.
    pub notes: Vec<Note>,
    /// Bounce tracks only: beats until the next slot, where the buzz ends.
    pub room: Vec<f32>,
}

/// One stream of strokes with its own cycle.
#[derive(Debug, Clone)]
pub struct Lane {
    /// What it is for.
    pub role: LaneRole,
    /// Length of the cycle.
    pub cycle: Beats,
    cycle_beats: f64,
    /// Main strokes.
    pub main: Track,
    /// For each main stroke: which place (form lane) it stands in, or 0.
    pub place: Vec<u32>,
    /// For each main stroke: which slot of its cell.
    pub slot: Vec<u16>,
    /// Track `n` holds the grace notes that come `n + 1` grace times before
    /// their main stroke, at the main stroke's time.
    pub graces: [Track; Graces::MAX],
    /// Track `n` holds the bounces that come `n + 1` buzz times after their
    /// stroke, at the stroke's time.
    pub bounces: [Track; BOUNCES],
}

impl Lane {
    /// An empty lane.
    pub fn new(role: LaneRole, cycle: Beats) -> Lane {
        Lane {
            role,
            cycle,
            cycle_beats: cycle.to_f64(),
            main: Track::default(),
            place: Vec::new(),
            slot: Vec::new(),
            graces: Default::default(),
            bounces: Default::default(),
        }
    }
}

impl Lane {
    /// Length of the cycle in beats, as the player uses it.
    pub fn cycle_beats(&self) -> f64 {
        self.cycle_beats
    }
}

impl Track {
    /// Number of notes.
    pub fn len(&self) -> usize {
        self.at.len()
    }

    /// Whether there is no note.
    pub fn is_empty(&self) -> bool {
        self.at.is_empty()
    }

    /// Adds a note; `at` must not fall below the last one's.
    pub fn push(&mut self, at: f64, note: Note) {
        debug_assert!(self.at.last().is_none_or(|last| *last <= at));
        self.at.push(at);
        self.notes.push(note);
    }
}
