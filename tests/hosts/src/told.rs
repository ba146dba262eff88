//! What passes between a host and an instrument: time one way, notes the other.

use crate::form::Sound;

/// What a host tells of the place in the song by the sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SongTime {
    /// VST3: worked out from the musical position at the block's tempo. CLAP:
    /// nothing.
    FromBeats,
    /// So many samples from the song's start.
    At(f64),
    /// Nothing: VST3 knows no flag for that, so the field stays 0.
    Absent,
}

/// What a host tells about time for one block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Transport {
    /// Whether time runs.
    pub playing: bool,
    /// Position of the block's first sample, in beats.
    pub position_beats: f64,
    /// Whether the musical position is told at all.
    pub tells_beats: bool,
    /// Position of the block's first sample, by the sample.
    pub song: SongTime,
    /// Beats per minute.
    pub tempo_bpm: f64,
    /// Beats in a bar and the note value of a beat.
    pub meter: (u16, u16),
    /// First and last position of the loop, if it is on.
    pub cycle: Option<(f64, f64)>,
}

impl Transport {
    /// Time that stands still at the start.
    pub fn stopped() -> Transport {
        Transport {
            playing: false,
            position_beats: 0.0,
            tells_beats: true,
            song: SongTime::FromBeats,
            tempo_bpm: 120.0,
            meter: (4, 4),
            cycle: None,
        }
    }

    /// Time that runs from `position_beats` on.
    pub fn playing(position_beats: f64, tempo_bpm: f64) -> Transport {
        Transport {
            playing: true,
            position_beats,
            tempo_bpm,
            ..Transport::stopped()
        }
    }
}

/// A note-on or note-off in a block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Note {
    /// Sample in the block, from 0.
    pub frame: u32,
    /// Note-on or note-off.
    pub on: bool,
    /// MIDI channel, `0 ..= 15`.
    pub channel: u8,
    /// MIDI key.
    pub key: u8,
    /// `0 ..= 1`.
    pub velocity: f64,
}

impl Note {
    /// The velocity as MIDI has it, `0 ..= 127`.
    pub fn midi_velocity(&self) -> u8 {
        (self.velocity * 127.0).round().clamp(0.0, 127.0) as u8
    }

    /// What it sounds as.
    pub fn sound(&self) -> Sound {
        Sound {
            channel: self.channel,
            key: self.key,
            velocity: self.midi_velocity(),
        }
    }
}
