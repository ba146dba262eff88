//! The built-in transport, for use without a host's.

use super::Transport;

/// Own clock: counts samples and turns them into beats without accumulating
/// error.
#[derive(Debug, Clone, Default)]
pub struct OwnClock {
    running: bool,
    anchor_beats: f64,
    samples: u64,
    tempo_bpm: f64,
    sample_rate: f64,
}

impl OwnClock {
    /// Starts at `beats`, or goes on from there.
    pub fn start_at(&mut self, beats: f64) {
        self.running = true;
        self.anchor_beats = beats;
        self.samples = 0;
    }

    /// Stops; the position stays.
    pub fn stop(&mut self) {
        self.running = false;
    }

    /// Whether it runs.
    pub fn is_running(&self) -> bool {
        self.running
    }

    /// Position in beats.
    pub fn position_beats(&self) -> f64 {
        if self.sample_rate > 0.0 {
            self.anchor_beats + self.samples as f64 * (self.tempo_bpm / (60.0 * self.sample_rate))
        } else {
            self.anchor_beats
        }
    }

    /// The transport for the next `frames` samples, which the clock then has
    /// counted.
    pub fn advance(&mut self, frames: u32, tempo_bpm: f64, sample_rate: f64) -> Transport {
        if tempo_bpm != self.tempo_bpm || sample_rate != self.sample_rate {
            self.anchor_beats = self.position_beats();
            self.samples = 0;
            self.tempo_bpm = tempo_bpm;
            self.sample_rate = sample_rate;
        }
        let transport = Transport {
            playing: self.running,
            ..Transport::at(self.position_beats(), tempo_bpm)
        };
        if self.running {
            self.samples += u64::from(frames);
        }
        transport
    }
}
