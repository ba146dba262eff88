//! The volume control: a gain that moves without a step.

/// Seconds of a gain change.
const GAIN_RAMP_S: f64 = 0.02;

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
