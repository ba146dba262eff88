//! What goes into the player and what comes out.

use barform_score::score::Rate;
use barform_score::timeline::Note;

/// The host's clock as it reports it for one block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Transport {
    /// Whether time runs.
    pub playing: bool,
    /// Position of the block's first sample, in quarter-note beats, as the host
    /// says it: hosts round it.
    pub position_beats: Option<f64>,
    /// Position of the block's first sample in the song, in samples: a whole
    /// number, or not where it was given in seconds. It tells whether time went
    /// on; the beats tell where.
    pub song_samples: Option<f64>,
    /// Tempo for this block, in quarter-note beats per minute, above zero.
    pub tempo_bpm: f64,
    /// The host's loop, if active.
    pub cycle: Option<Loop>,
}

impl Transport {
    /// Time stands still.
    pub const STOPPED: Transport = Transport {
        playing: false,
        position_beats: None,
        song_samples: None,
        tempo_bpm: 0.0,
        cycle: None,
    };

    /// Time runs at `beats`, without a position in samples and without a loop.
    pub const fn at(beats: f64, tempo_bpm: f64) -> Transport {
        Transport {
            playing: true,
            position_beats: Some(beats),
            song_samples: None,
            tempo_bpm,
            cycle: None,
        }
    }
}

/// A loop of the host: at `end_beats` time goes on at `start_beats`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loop {
    /// First position of the loop.
    pub start_beats: f64,
    /// Where it turns back.
    pub end_beats: f64,
}

impl Loop {
    /// Whether it is at least a sample long; a shorter one cannot be followed.
    pub(super) fn can_be_followed(&self, beats_per_sample: f64) -> bool {
        self.end_beats - self.start_beats >= beats_per_sample
    }
}

/// What is left silent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Mute {
    /// Strokes of the hands in form and letters.
    pub hands: bool,
    /// Strokes of the feet in form and letters.
    pub feet: bool,
    /// All ostinatos.
    pub ostinato: bool,
    /// The click.
    pub click: bool,
}

/// How the timeline is played.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Length of every note in milliseconds, above zero.
    pub gate_ms: f64,
    /// Time between grace notes, and from the last one to its main stroke, in
    /// milliseconds, `0 ..= 100`.
    pub grace_ms: f64,
    /// Time between the bounces of a buzz stroke, in milliseconds, above zero.
    pub buzz_ms: f64,
    /// Speed of the whole form against the beat.
    pub rate: Rate,
    /// Host position of the form's first bar line, in beats.
    pub start_beats: f64,
    /// Whether the form starts over at its end.
    pub repeat: bool,
    /// What is left silent.
    pub mute: Mute,
}

impl Default for Settings {
    /// Flams 25 ms apart, buzz bounces 30 ms: middle of what is usual at
    /// medium tempo. Common practice, no source.
    fn default() -> Self {
        Settings {
            gate_ms: 60.0,
            grace_ms: 25.0,
            buzz_ms: 30.0,
            rate: Rate::Normal,
            start_beats: 0.0,
            repeat: true,
            mute: Mute {
                click: true,
                ..Mute::default()
            },
        }
    }
}

/// What happens at a sample of the block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Event {
    /// Sample in the block, from 0.
    pub offset: u32,
    /// Start or end of a note.
    pub kind: EventKind,
}

/// Start or end of a note.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum EventKind {
    /// Note-on.
    On(Note),
    /// Note-off; only key and channel matter to a receiver.
    Off(Note),
}
