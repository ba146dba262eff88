//! Rendering and measuring for the tests of the kit.

use barform_play::sound::{Mixer, SampleSet};
use barform_score::music::{Articulation, Velocity, Voice};
use std::sync::{Arc, OnceLock};

/// The rate most facts are checked at, hertz.
pub const RATE_HZ: f64 = 48_000.0;

/// Every voice with every articulation it knows.
pub fn all_strokes() -> Vec<(Voice, Articulation)> {
    let voices = Voice::ALL.into_iter().chain([Voice::Click]);
    voices
        .flat_map(|v| v.articulations().iter().map(move |a| (v, *a)))
        .collect()
}

/// A velocity.
pub fn velocity(value: u8) -> Velocity {
    Velocity::new(value).expect("1 to 127")
}

/// The shared set at a rate. That of [`RATE_HZ`] is kept for the whole run, which
/// saves building it again and again.
pub fn set(rate_hz: f64) -> Arc<SampleSet> {
    static KEPT: OnceLock<Arc<SampleSet>> = OnceLock::new();
    let build = || SampleSet::for_rate(rate_hz).expect("a rate in range");
    if rate_hz == RATE_HZ {
        KEPT.get_or_init(build).clone()
    } else {
        build()
    }
}

/// A block of both channels.
#[derive(Debug, Clone, PartialEq)]
pub struct Audio {
    /// Left channel.
    pub left: Vec<f32>,
    /// Right channel.
    pub right: Vec<f32>,
}

impl Audio {
    /// The sum of both channels, halved.
    pub fn mono(&self) -> Vec<f32> {
        self.left
            .iter()
            .zip(&self.right)
            .map(|(l, r)| 0.5 * (l + r))
            .collect()
    }

    /// Both channels, one after the other.
    pub fn samples(&self) -> impl Iterator<Item = f32> + '_ {
        self.left.iter().chain(&self.right).copied()
    }

    /// Highest magnitude of a sample.
    pub fn peak(&self) -> f32 {
        self.samples().fold(0.0, |p, x| p.max(x.abs()))
    }

    /// Sum of squares.
    pub fn energy(&self) -> f64 {
        self.samples().map(|x| f64::from(x).powi(2)).sum()
    }

    /// This less another, sample by sample.
    pub fn minus(&self, other: &Audio) -> Audio {
        let minus = |a: &[f32], b: &[f32]| a.iter().zip(b).map(|(a, b)| a - b).collect();
        Audio {
            left: minus(&self.left, &other.left),
            right: minus(&self.right, &other.right),
        }
    }

    /// The part from frame `start` on.
    pub fn from(&self, start: usize) -> Audio {
        Audio {
            left: self.left[start..].to_vec(),
            right: self.right[start..].to_vec(),
        }
    }
}

/// The next frames of a mixer.
pub fn render(mixer: &mut Mixer, frames: usize) -> Audio {
    // What render must overwrite.
    let mut audio = Audio {
        left: vec![9.0; frames],
        right: vec![9.0; frames],
    };
    mixer.render(&mut audio.left, &mut audio.right);
    audio
}

/// One stroke alone.
pub fn stroke(
    set: &Arc<SampleSet>,
    (voice, articulation): (Voice, Articulation),
    value: u8,
    frames: usize,
) -> Audio {
    let mut mixer = Mixer::new(set.clone());
    mixer.trigger(voice, articulation, velocity(value));
    render(&mut mixer, frames)
}

/// Root mean square.
pub fn rms(samples: &[f32]) -> f64 {
    let sum: f64 = samples.iter().map(|x| f64::from(*x).powi(2)).sum();
    (sum / samples.len().max(1) as f64).sqrt()
}

/// Seconds until the level, over windows of `window_s`, has fallen by `db` from
/// its maximum for good.
pub fn decay_s(samples: &[f32], db: f64, window_s: f64, rate_hz: f64) -> f64 {
    let window = (window_s * rate_hz) as usize;
    let levels: Vec<f64> = samples.chunks_exact(window).map(rms).collect();
    let limit = levels.iter().copied().fold(0.0, f64::max) * 10_f64.powf(-db / 20.0);
    let last = levels
        .iter()
        .rposition(|level| *level > limit)
        .map_or(0, |n| n + 1);
    last as f64 * window_s
}

/// Power over frequency: the hertz of a bin and the powers of the first
/// `2^15` samples.
pub fn spectrum(samples: &[f32], rate_hz: f64) -> (f64, Vec<f64>) {
    const SIZE: usize = 1 << 15;
    let mut padded = vec![0.0_f32; SIZE];
    let count = samples.len().min(SIZE);
    padded[..count].copy_from_slice(&samples[..count]);
    let bins = fundsp::fft::real_fft(&mut padded);
    (
        rate_hz / SIZE as f64,
        bins.iter().map(|z| f64::from(z.norm_sqr())).collect(),
    )
}

/// Spectral centroid, hertz.
pub fn centroid_hz(samples: &[f32], rate_hz: f64) -> f64 {
    let (bin_hz, powers) = spectrum(samples, rate_hz);
    let total: f64 = powers.iter().skip(1).sum();
    let moment: f64 = powers
        .iter()
        .enumerate()
        .skip(1)
        .map(|(n, p)| n as f64 * p)
        .sum();
    bin_hz * moment / total
}

/// The strongest frequency between `low_hz` and `high_hz`.
pub fn strongest_hz(samples: &[f32], (low_hz, high_hz): (f64, f64), rate_hz: f64) -> f64 {
    let (bin_hz, powers) = spectrum(samples, rate_hz);
    let inside = |n: &usize| (low_hz..=high_hz).contains(&(*n as f64 * bin_hz));
    let bins = (0..powers.len()).filter(inside);
    bins.max_by(|a, b| powers[*a].total_cmp(&powers[*b]))
        .unwrap_or(0) as f64
        * bin_hz
}
