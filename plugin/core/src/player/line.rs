//! The line of time the player follows through the host's reports.
//!
//! Hosts report a position per block, and that report may be off by a sample
//! either way. Playing each block from its own report would move strokes and,
//! at block edges, lose or double them. So the player draws one line from the
//! first report of a run and keeps to it as long as the reports agree.

use super::Loop;

/// Reports this close to the line, in samples, are wobble: one sample of the
/// report at hand and one of the report the line was drawn from.
const WOBBLE_SAMPLES: f64 = 2.0 + 1e-2;

/// A host may cut its block at the rounded end of a loop; the fractions it
/// drops each time add up. Within this many samples, a turn is still a turn.
const TURN_SAMPLES: f64 = 16.0;

/// After so many reports that all lie further off than a report may be, and on
/// the same side, it is the line that is off.
const BIAS_BLOCKS: u32 = 64;

/// How far off a single report may be, in samples, and what rounding adds.
const REPORT_SAMPLES: f64 = 1.0 + 1e-2;

/// A straight line of host beats over samples.
#[derive(Debug, Clone)]
pub(super) struct Line {
    anchor_beats: f64,
    samples: u64,
    beats_per_sample: f64,
    last_frames: u32,
    bias_blocks: u32,
    bias_sign: f64,
    bias_least: f64,
}

/// What a report means for the line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Follow {
    /// Time goes on, strokes up to now are done.
    On,
    /// The host has gone elsewhere.
    Jump,
}

impl Line {
    /// A new line through the first report of a run.
    pub fn start(beats: f64, beats_per_sample: f64) -> Line {
        Line {
            anchor_beats: beats,
            samples: 0,
            beats_per_sample,
            last_frames: 0,
            bias_blocks: 0,
            bias_sign: 0.0,
            bias_least: f64::INFINITY,
        }
    }

    /// Beats at the first sample of the block at hand.
    pub fn now(&self) -> f64 {
        self.at(0)
    }

    /// Beats `frames` samples later. Multiplied from the anchor, so that no
    /// error builds up from block to block.
    pub fn at(&self, frames: u32) -> f64 {
        self.anchor_beats + (self.samples + u64::from(frames)) as f64 * self.beats_per_sample
    }

    /// Beats from one sample to the next.
    pub fn beats_per_sample(&self) -> f64 {
        self.beats_per_sample
    }

    /// Whether a report is as close to the line as a report may be, so that,
    /// with the tempo as it was, [`Line::pass`] does for [`Line::follow`].
    pub fn agrees(&self, reported: f64) -> bool {
        (reported - self.now()).abs() <= REPORT_SAMPLES * self.beats_per_sample
    }

    /// Takes a report that agrees, and goes on to the next block.
    pub fn pass(&mut self, frames: u32) {
        self.bias_blocks = 0;
        self.advance(frames);
    }

    /// Goes on to the next block.
    pub fn advance(&mut self, frames: u32) {
        self.samples += u64::from(frames);
        self.last_frames = frames;
    }

    /// Moves the whole line by `beats` (a loop turned back).
    pub fn shift(&mut self, beats: f64) {
        self.anchor_beats += beats;
    }

    /// Takes the report for the block at hand.
    pub fn follow(&mut self, reported: f64, beats_per_sample: f64, cycle: Option<Loop>) -> Follow {
        let predicted = self.now();
        let (error, turned) = deviation(reported, predicted, beats_per_sample, cycle);
        // A host in a ramp reports one tempo per block but may move by its
        // mean; what that explains is no jump, and its position is the truth.
        let ramp = (beats_per_sample - self.beats_per_sample).abs() * f64::from(self.last_frames);
        if beats_per_sample != self.beats_per_sample {
            self.anchor_beats = predicted;
            self.samples = 0;
            self.beats_per_sample = beats_per_sample;
        }
        let wobble = WOBBLE_SAMPLES * beats_per_sample;
        if error.abs() <= wobble {
            self.watch_bias(error);
            return Follow::On;
        }
        let turn = if turned {
            TURN_SAMPLES * beats_per_sample
        } else {
            0.0
        };
        if error.abs() <= wobble + ramp + turn {
            self.anchor_beats += error;
            self.bias_blocks = 0;
            return Follow::On;
        }
        Follow::Jump
    }

    /// Moves the line where every report of a long run lies beyond what a
    /// report may be off, on one side, by the least of those deviations: a slow
    /// drift, not a wobble. A wobble to one side alone never moves it.
    fn watch_bias(&mut self, error: f64) {
        let sign = error.signum();
        if error.abs() <= REPORT_SAMPLES * self.beats_per_sample {
            self.bias_blocks = 0;
            return;
        }
        if self.bias_blocks == 0 || sign != self.bias_sign {
            self.bias_blocks = 0;
            self.bias_sign = sign;
            self.bias_least = f64::INFINITY;
        }
        self.bias_blocks += 1;
        self.bias_least = self.bias_least.min(error.abs());
        if self.bias_blocks >= BIAS_BLOCKS {
            self.anchor_beats += sign * self.bias_least;
            self.bias_blocks = 0;
        }
    }
}

/// How far the report is from the prediction, and whether only one of the two
/// has yet turned back at the loop's end.
fn deviation(
    reported: f64,
    predicted: f64,
    beats_per_sample: f64,
    cycle: Option<Loop>,
) -> (f64, bool) {
    let straight = reported - predicted;
    let Some(cycle) = cycle else {
        return (straight, false);
    };
    let length = cycle.end_beats - cycle.start_beats;
    let near = (TURN_SAMPLES + WOBBLE_SAMPLES) * beats_per_sample;
    let mut best = (straight, false);
    let host_turned =
        (reported - cycle.start_beats).abs() <= near && (predicted - cycle.end_beats).abs() <= near;
    let we_turned =
        (predicted - cycle.start_beats).abs() <= near && (reported - cycle.end_beats).abs() <= near;
    for (holds, error) in [
        (host_turned, straight + length),
        (we_turned, straight - length),
    ] {
        if holds && error.abs() < best.0.abs() {
            best = (error, true);
        }
    }
    best
}
