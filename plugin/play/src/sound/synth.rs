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

/// Samples computed side by side by [`Ringing`].
const STRIDE: usize = 8;

/// Frames in which all partials are added before the next; a whole number of
/// strides.
const PIECE: usize = 128 * STRIDE;

/// Corner of [`Layer::block_dc`].
const DC_BLOCK_HZ: f32 = 18.0;

/// Everything is followed until it has fallen to this amplitude, some 80 dB
/// below a layer's start.
const FLOOR: f64 = 6e-5;

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
        let frames = ((seconds * rate_hz) as usize).next_multiple_of(STRIDE);
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

    /// Adds decaying sines; those too high for the sample rate are left out.
    pub fn partials(&mut self, partials: &[Partial]) {
        let mut ringing: Vec<Ringing> = partials
            .iter()
            .filter(|p| p.hz < USABLE * self.rate_hz)
            .map(|p| Ringing::new(*p, self.place, self.rate_hz))
            .collect();
        // In pieces that stay in the processor's cache through all partials.
        let pieces = self
            .left
            .chunks_mut(PIECE)
            .zip(self.right.chunks_mut(PIECE));
        for (left, right) in pieces {
            ringing.retain(|r| r.frames > 0);
            ringing.iter_mut().for_each(|r| r.add_to(left, right));
        }
    }

    /// Adds a falling tone, starting from rest.
    pub fn fall(&mut self, f: Fall) {
        let drop = f.from_hz - f.to_hz;
        let decay = decay_per_frame(f.t60_s, self.rate_hz);
        let settle = (-1.0 / (f.fall_s * self.rate_hz)).exp();
        let (gain_l, gain_r) = pan(self.place);
        let (mut level, mut remaining) = (f.gain, 1.0);
        let frames = self
            .left
            .len()
            .min(frames_to_floor(f.gain, f.t60_s, self.rate_hz));
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
        let seconds = (seconds_to_floor(b.gain, b.t60_s) + 4.0 * b.rise_s)
            .min(self.left.len() as f64 / self.rate_hz);
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

    /// Bends peaks softly towards `1 / drive`, as a head driven hard does, so that
    /// a stroke's attack does not tower over its body; then takes out the offset
    /// that bending leaves.
    pub fn press(&mut self, drive: f64) {
        for x in self.left.iter_mut().chain(&mut self.right) {
            // Below this, bending changes less than the last bit of an `f32`.
            if (drive * *x).abs() > 4e-4 {
                *x = (drive * *x).tanh() / drive;
            }
        }
        self.block_dc();
    }

    /// Takes out what lies below [`DC_BLOCK_HZ`]: no loudspeaker should be asked
    /// to move for it. Cymbals have nothing there.
    pub fn block_dc(&mut self) {
        for channel in [&mut self.left, &mut self.right] {
            let mut node = highpass_hz(DC_BLOCK_HZ, 0.7);
            node.set_sample_rate(self.rate_hz);
            node.reset();
            channel
                .iter_mut()
                .for_each(|x| *x = f64::from(node.filter_mono(*x as f32)));
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

/// A partial on its way, by the recurrence y\[n\] = 2 d^k cos(kw) y\[n-k\] -
/// d^2k y\[n-2k\]. It holds for every stride k; with k samples side by side no
/// step waits for the one before.
#[derive(Debug, Clone, Copy)]
struct Ringing {
    near: f64,
    far: f64,
    older: [f64; STRIDE],
    newer: [f64; STRIDE],
    pan: (f64, f64),
    frames: usize,
}

impl Ringing {
    fn new(p: Partial, place: f64, rate_hz: f64) -> Ringing {
        let turn = TAU * p.hz / rate_hz;
        let decay = decay_per_frame(p.t60_s, rate_hz);
        let at = |n: usize| p.gain * decay.powi(n as i32) * (TAU * p.phase + turn * n as f64).sin();
        let stride = STRIDE as f64;
        Ringing {
            near: 2.0 * decay.powf(stride) * (turn * stride).cos(),
            far: decay.powf(2.0 * stride),
            older: std::array::from_fn(at),
            newer: std::array::from_fn(|i| at(i + STRIDE)),
            pan: pan(place + p.aside),
            frames: frames_to_floor(p.gain, p.t60_s, rate_hz),
        }
    }

    fn add_to(&mut self, left: &mut [f64], right: &mut [f64]) {
        let (gain_l, gain_r) = self.pan;
        self.frames = self.frames.saturating_sub(left.len());
        // Layers and pieces are whole numbers of strides: nothing is left over.
        let (left, right) = (left.as_chunks_mut().0, right.as_chunks_mut().0);
        for (l, r) in left.iter_mut().zip(right) {
            let (l, r): (&mut [f64; STRIDE], &mut [f64; STRIDE]) = (l, r);
            for i in 0..STRIDE {
                l[i] += gain_l * self.older[i];
                r[i] += gain_r * self.older[i];
            }
            let next = |i: usize| self.near * self.newer[i] - self.far * self.older[i];
            let next = std::array::from_fn(next);
            self.older = self.newer;
            self.newer = next;
        }
    }
}

/// Factor per sample of a decay by 60 dB in `t60_s` seconds.
pub(super) fn decay_per_frame(t60_s: f64, rate_hz: f64) -> f64 {
    10_f64.powf(-3.0 / (t60_s * rate_hz))
}

/// Seconds in which a start at `gain` falls to [`FLOOR`].
fn seconds_to_floor(gain: f64, t60_s: f64) -> f64 {
    t60_s * ((gain / FLOOR).log10() / 3.0).max(0.0)
}

fn frames_to_floor(gain: f64, t60_s: f64, rate_hz: f64) -> usize {
    (seconds_to_floor(gain, t60_s) * rate_hz) as usize
}

/// Constant-power gains of a place between -1 (left) and 1 (right).
fn pan(place: f64) -> (f64, f64) {
    let angle = (place.clamp(-1.0, 1.0) + 1.0) * TAU / 8.0;
    (angle.cos(), angle.sin())
}
