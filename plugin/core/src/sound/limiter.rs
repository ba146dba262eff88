//! The last stage: a gain that moves smoothly and a ceiling that holds.
//!
//! The limiter has no latency, so it cannot see an overshoot between two samples
//! before it has let the first one out. It therefore keeps the samples 2 dB
//! below the true-peak limit. That is a margin, not a proof: the true peak of an
//! arbitrary signal can exceed its samples by more (a sine at a quarter of the
//! sample rate by up to 3 dB). The loudest moments of this kit lie below 5 kHz,
//! where a 48 kHz sample clock misses less than 0.5 dB; tests measure the true
//! peak of the worst pile-ups, and a rendered file is measured and lowered.

/// No sample of [`super::Mixer`] is above this, dB relative to full scale.
pub const CEILING_DBFS: f32 = -3.0;

/// What neither live output nor files shall exceed, dB true peak (ITU-R
/// BS.1770).
pub const TRUE_PEAK_LIMIT_DBTP: f64 = -1.0;

/// `10^(CEILING_DBFS / 20)`, rounded down.
const CEILING: f32 = 0.707_9;

/// Up to here nothing is changed: -6 dB relative to full scale.
const KNEE: f32 = 0.501_2;

/// Seconds in which the limiter lets go to 1/e.
const RELEASE_S: f64 = 0.12;

/// Seconds of a gain change.
const GAIN_RAMP_S: f64 = 0.02;

/// A limiter without latency: the gain follows the highest peak at once and
/// recovers slowly, so that a held-down wave keeps its shape.
#[derive(Debug, Clone)]
pub(super) struct Limiter {
    peak: f32,
    release: f32,
}

impl Limiter {
    pub fn new(rate_hz: f64) -> Limiter {
        Limiter {
            peak: 0.0,
            release: (-1.0 / (RELEASE_S * rate_hz)).exp() as f32,
        }
    }

    pub fn reset(&mut self) {
        self.peak = 0.0;
    }

    /// One frame.
    pub fn frame(&mut self, left: &mut f32, right: &mut f32) {
        self.follow(left.abs().max(right.abs()));
        if self.peak > KNEE {
            let gain = bend(self.peak) / self.peak;
            // The product may round up past the ceiling by a hair.
            *left = (*left * gain).clamp(-CEILING, CEILING);
            *right = (*right * gain).clamp(-CEILING, CEILING);
        }
    }

    /// `frames` of silence.
    pub fn rest(&mut self, frames: usize) {
        for _ in 0..frames {
            if self.peak == 0.0 {
                break;
            }
            self.follow(0.0);
        }
    }

    fn follow(&mut self, peak: f32) {
        self.peak = (self.peak * self.release).max(peak);
        // Below the knee only the present peak matters.
        if self.peak <= KNEE {
            self.peak = 0.0;
        }
    }
}

/// The static curve: straight to the knee, then bending towards the ceiling,
/// without a corner.
fn bend(peak: f32) -> f32 {
    let room = CEILING - KNEE;
    let over = (peak - KNEE) / room;
    // Written so that it holds for the largest finite input, too.
    KNEE + room * (1.0 - 1.0 / (1.0 + over))
}

/// A gain that moves to its target in a straight line.
#[derive(Debug, Clone)]
pub(super) struct SmoothGain {
    target: f32,
    step: f32,
    left: u32,
    ramp: u32,
}

impl SmoothGain {
    pub fn new(rate_hz: f64) -> SmoothGain {
        SmoothGain {
            target: 1.0,
            step: 0.0,
            left: 0,
            ramp: (GAIN_RAMP_S * rate_hz) as u32,
        }
    }

    pub fn set(&mut self, gain: f32) {
        if gain == self.target {
            return;
        }
        let now = self.now();
        self.left = self.ramp.max(1);
        self.step = (gain - now) / self.left as f32;
        self.target = gain;
    }

    /// Arrives at once.
    pub fn settle(&mut self) {
        self.left = 0;
    }

    pub fn target(&self) -> f32 {
        self.target
    }

    /// The gain of the next frame. From the counter, not accumulated: the same
    /// for any split into blocks.
    pub fn next(&mut self) -> f32 {
        self.left = self.left.saturating_sub(1);
        self.now()
    }

    pub fn skip(&mut self, frames: usize) {
        self.left = self
            .left
            .saturating_sub(u32::try_from(frames).unwrap_or(u32::MAX));
    }

    fn now(&self) -> f32 {
        self.target - self.step * self.left as f32
    }
}
