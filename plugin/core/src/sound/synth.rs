//! The workbench a sound is built on: decaying partials, falling tones and
//! bands of noise, summed into one stereo layer.

use fundsp::math::hash1;
use fundsp::prelude64::{highpass_hz, lowpass_hz, noise};
use fundsp::wave::Wave;
use std::f64::consts::TAU;

/// Partials and noise bands end below this share of the sample rate; nearer to
/// half the rate the filters' shapes are no longer the ones asked for.
const USABLE: f64 = 0.45;

/// The rate at which noise gains are stated. White noise spreads its power over
/// half the sample rate, so a band of it gets weaker as the rate rises.
const NOISE_REFERENCE_HZ: f64 = 48_000.0;

/// Samples computed at once by the recurrence of [`Layer::partial`].
const STRIDE: usize = 8;

/// A decaying sine.
#[derive(Debug, Clone, Copy)]
pub(super) struct Partial {
    /// Frequency in hertz.
    pub hz: f64,
    /// Peak amplitude at the start.
    pub gain: f64,
    /// Seconds in which it falls by 60 dB.
    pub t60_s: f64,
    /// Phase at the start, in turns.
    pub phase: f64,
    /// Left-right offset from the layer's place, -1 to 1.
    pub aside: f64,
}

/// A sine whose pitch falls exponentially while it decays: a struck membrane,
/// tighter while its swing is wide.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fall {
    /// Pitch at the start, hertz.
    pub from_hz: f64,
    /// Pitch it settles on, hertz.
    pub to_hz: f64,
    /// Time constant of the fall, seconds.
    pub fall_s: f64,
    /// Peak amplitude.
    pub gain: f64,
    /// Seconds in which it falls by 60 dB.
    pub t60_s: f64,
}

/// A band of noise.
#[derive(Debug, Clone, Copy)]
pub(super) struct Band {
    /// Lower edge (12 dB per octave below), hertz.
    pub low_hz: f64,
    /// Upper edge (12 dB per octave above), hertz.
    pub high_hz: f64,
    /// Gain ahead of the filters.
    pub gain: f64,
    /// Time constant of the rise, seconds; 0 for at once.
    pub rise_s: f64,
    /// Seconds in which it falls by 60 dB.
    pub t60_s: f64,
    /// Share of the noise that differs between left and right, 0 to 1.
    pub width: f64,
}

/// A stereo layer under construction.
#[derive(Debug)]
pub(super) struct Layer {
    rate_hz: f64,
    seed: u64,
    place: f64,
    pub left: Vec<f64>,
    pub right: Vec<f64>,
}

impl Layer {
    /// An empty layer of `seconds`, heard from `place` (-1 left, 1 right), all
    /// of whose chance comes from `seed`.
    pub fn new(rate_hz: f64, seconds: f64, place: f64, seed: u64) -> Layer {
        let frames = (seconds * rate_hz).ceil() as usize;
        Layer {
            rate_hz,
            seed,
            place,
            left: vec![0.0; frames],
            right: vec![0.0; frames],
        }
    }

    /// The next number of the layer's own fixed sequence, `0 .. 1`.
    pub fn chance(&mut self) -> f64 {
        self.seed = hash1(self.seed);
        (self.seed >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// The next number of the sequence, spread over `low .. high`.
    pub fn chance_in(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.chance()
    }

    /// Adds a decaying sine; one too high for the sample rate is left out.
    pub fn partial(&mut self, p: Partial) {
        if p.hz >= USABLE * self.rate_hz {
            return;
        }
        let turn = TAU * p.hz / self.rate_hz;
        let decay = decay_per_frame(p.t60_s, self.rate_hz);
        let at = |n: usize| p.gain * decay.powi(n as i32) * (TAU * p.phase + turn * n as f64).sin();
        // y[n] = 2 d^k cos(kw) y[n-k] - d^2k y[n-2k] holds for every stride k;
        // with k samples side by side the sum needs no step from one to the next.
        let stride = STRIDE as f64;
        let near = 2.0 * decay.powf(stride) * (turn * stride).cos();
        let far = decay.powf(2.0 * stride);
        let mut older: [f64; STRIDE] = std::array::from_fn(at);
        let mut newer: [f64; STRIDE] = std::array::from_fn(|i| at(i + STRIDE));
        let (gain_l, gain_r) = pan(self.place + p.aside);
        let frames = self.left.len().min((1.6 * p.t60_s * self.rate_hz) as usize);
        let (left, right) = (&mut self.left[..frames], &mut self.right[..frames]);
        for (l, r) in left.chunks_mut(STRIDE).zip(right.chunks_mut(STRIDE)) {
            for ((l, r), y) in l.iter_mut().zip(r).zip(&older) {
                *l += gain_l * y;
                *r += gain_r * y;
            }
            let next = std::array::from_fn(|i| near * newer[i] - far * older[i]);
            older = newer;
            newer = next;
        }
    }

    /// Adds a falling tone, starting from rest.
    pub fn fall(&mut self, f: Fall) {
        let drop = f.from_hz - f.to_hz;
        let decay = decay_per_frame(f.t60_s, self.rate_hz);
        let settle = (-1.0 / (f.fall_s * self.rate_hz)).exp();
        let (gain_l, gain_r) = pan(self.place);
        let (mut level, mut remaining) = (f.gain, 1.0);
        let frames = self.left.len().min((1.6 * f.t60_s * self.rate_hz) as usize);
        for n in 0..frames {
            let t = n as f64 / self.rate_hz;
            let turns = f.to_hz * t + drop * f.fall_s * (1.0 - remaining);
            let y = level * (TAU * turns).sin();
            self.left[n] += gain_l * y;
            self.right[n] += gain_r * y;
            level *= decay;
            remaining *= settle;
        }
    }

    /// Adds a band of noise. Where the sample rate is too low for the band, the
    /// band moves below the limit rather than vanish.
    pub fn band(&mut self, b: Band) {
        let high = b.high_hz.min(USABLE * self.rate_hz);
        let low = b.low_hz.min(0.6 * high);
        let seconds = (1.4 * b.t60_s + 4.0 * b.rise_s).min(self.left.len() as f64 / self.rate_hz);
        let middle = self.noise(low, high, seconds);
        let side = (b.width > 0.0).then(|| self.noise(low, high, seconds));
        let decay = decay_per_frame(b.t60_s, self.rate_hz);
        let rise = if b.rise_s > 0.0 {
            (-1.0 / (b.rise_s * self.rate_hz)).exp()
        } else {
            0.0
        };
        let (gain_l, gain_r) = pan(self.place);
        let (common, apart) = ((1.0 - b.width * b.width).max(0.0).sqrt(), b.width);
        let mut level = b.gain * (self.rate_hz / NOISE_REFERENCE_HZ).sqrt();
        let mut missing = 1.0;
        for (n, m) in middle.iter().enumerate().take(self.left.len()) {
            missing *= rise;
            let now = level * (1.0 - missing);
            let s = side.as_ref().map_or(0.0, |s| f64::from(s[n])) * apart;
            let m = f64::from(*m) * common;
            self.left[n] += now * gain_l * (m + s);
            self.right[n] += now * gain_r * (m - s);
            level *= decay;
        }
    }

    /// Multiplies the whole layer by `1 - depth` at the start, rising to 1 with
    /// the time constant `rise_s`: energy that needs time to reach the high
    /// modes.
    pub fn bloom(&mut self, depth: f64, rise_s: f64) {
        let rise = (-1.0 / (rise_s * self.rate_hz)).exp();
        let mut missing = depth;
        for (l, r) in self.left.iter_mut().zip(&mut self.right) {
            *l *= 1.0 - missing;
            *r *= 1.0 - missing;
            missing *= rise;
        }
    }

    fn noise(&mut self, low_hz: f64, high_hz: f64, seconds: f64) -> Vec<f32> {
        // The generator counts up from its seed, so neighbouring seeds would
        // give the same noise shifted by a sample; hashed ones lie far apart.
        self.seed = hash1(self.seed);
        let mut node = noise().seed(self.seed)
            >> highpass_hz(low_hz as f32, 0.7)
            >> lowpass_hz(high_hz as f32, 0.7);
        node.reset();
        Wave::render(self.rate_hz, seconds, &mut node)
            .channel(0)
            .clone()
    }
}

/// Factor per sample of a decay by 60 dB in `t60_s` seconds.
pub(super) fn decay_per_frame(t60_s: f64, rate_hz: f64) -> f64 {
    10_f64.powf(-3.0 / (t60_s * rate_hz))
}

/// Constant-power gains of a place between -1 (left) and 1 (right).
fn pan(place: f64) -> (f64, f64) {
    let angle = (place.clamp(-1.0, 1.0) + 1.0) * TAU / 8.0;
    (angle.cos(), angle.sin())
}
