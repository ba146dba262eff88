//! The last stage: a ceiling for the true peak, without latency.
//!
//! A limiter that may not look ahead cannot see an overshoot between two samples
//! before it has let the first one out. But overshoots need samples that jump,
//! so this one limits each sample together with its step from the one before:
//! `|y| + STEP_WEIGHT * |y - previous| <= CEILING`. Smooth waves, where most of a
//! drum's level is, may reach the ceiling; only waves near half the sample rate,
//! where samples hide most, are held lower.
//!
//! Under that rule no interpolator of ITU-R BS.1770 can read more than 1.46 times
//! the ceiling, whatever the signal: the worst case is a linear program, and the
//! unit test bounds it for the filters that read true peaks.

#[cfg(test)]
mod test;

/// No sample of [`super::Mixer`] is above this, dB relative to full scale.
pub const CEILING_DBFS: f32 = -4.3;

/// What neither live output nor files shall exceed, dB true peak (ITU-R
/// BS.1770).
pub const TRUE_PEAK_LIMIT_DBTP: f64 = -1.0;

/// `10^(CEILING_DBFS / 20)`, rounded down.
const CEILING: f32 = 0.6095;

/// How much a step counts beside the sample it leads to. More would let smooth
/// waves come closer to the limit and hold bright ones lower; this holds a wave
/// at a quarter of the sample rate some 3 dB lower than a low one.
const STEP_WEIGHT: f32 = 0.5;

/// Up to here nothing is changed; 3 dB below the ceiling.
const KNEE: f32 = 0.4315;

/// Seconds in which the limiter lets go to 1/e.
const RELEASE_S: f64 = 0.12;

/// Follows the highest load of both channels at once and recovers slowly, so
/// that a wave held down keeps its shape; what still would pass is cut.
#[derive(Debug, Clone)]
pub(super) struct Limiter {
    load: f32,
    release: f32,
    /// The last frame before limiting.
    wanted: [f32; 2],
    /// The last frame let out.
    given: [f32; 2],
}

impl Limiter {
    pub fn new(rate_hz: f64) -> Limiter {
        let release = (-1.0 / (RELEASE_S * rate_hz)).exp() as f32;
        Limiter {
            load: 0.0,
            release,
            wanted: [0.0; 2],
            given: [0.0; 2],
        }
    }

    pub fn reset(&mut self) {
        self.load = 0.0;
        self.wanted = [0.0; 2];
        self.given = [0.0; 2];
    }

    /// One frame.
    pub fn frame(&mut self, left: &mut f32, right: &mut f32) {
        let now = [*left, *right];
        let load = |n: usize| now[n].abs() + STEP_WEIGHT * (now[n] - self.wanted[n]).abs();
        self.follow(load(0).max(load(1)));
        self.wanted = now;
        let gain = if self.load > KNEE {
            bend(self.load) / self.load
        } else {
            1.0
        };
        for (out, given) in [left, right].into_iter().zip(&mut self.given) {
            // The rule of the module, solved for this sample: an interval that
            // always holds both zero and the sample before.
            let highest = (CEILING + STEP_WEIGHT * *given) / (1.0 + STEP_WEIGHT);
            let lowest = (-CEILING + STEP_WEIGHT * *given) / (1.0 + STEP_WEIGHT);
            *out = (*out * gain).clamp(lowest, highest);
            *given = *out;
        }
    }

    /// `frames` of silence.
    pub fn rest(&mut self, frames: usize) {
        if frames > 0 {
            self.wanted = [0.0; 2];
            self.given = [0.0; 2];
        }
        for _ in 0..frames {
            if self.load == 0.0 {
                break;
            }
            self.follow(0.0);
        }
    }

    fn follow(&mut self, load: f32) {
        self.load = (self.load * self.release).max(load);
        // Below the knee only the present matters.
        if self.load <= KNEE {
            self.load = 0.0;
        }
    }
}

/// The static curve: straight to the knee, then bending towards the ceiling,
/// without a corner.
fn bend(load: f32) -> f32 {
    let room = CEILING - KNEE;
    let over = (load - KNEE) / room;
    // Written so that it holds for the largest finite input, too.
    KNEE + room * (1.0 - 1.0 / (1.0 + over))
}
