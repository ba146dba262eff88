//! What cymbals are made of: plates with many inharmonic partials, high ones
//! dying first, bells with few clear ones, and a wash of noise.

use super::synth::{Band, Layer, Partial};

/// What a cluster of partials is made of.
#[derive(Debug, Clone, Copy)]
pub(super) struct Plate {
    /// Lowest and highest partial, hertz.
    pub range_hz: (f64, f64),
    /// Number of partials.
    pub count: usize,
    /// Frequency of the loudest partials, hertz; gains fall off to both sides.
    pub centre_hz: f64,
    /// Octaves from the centre in which gains fall to 1/e.
    pub spread_octaves: f64,
    /// Seconds in which a partial at 1 kHz falls by 60 dB.
    pub t60_s: f64,
    /// How much faster higher partials die: the power of frequency.
    pub damping: f64,
    /// Sum of the partials' powers, as an amplitude.
    pub gain: f64,
}

/// Adds a cluster of partials. Their spacing lies between even (a flat plate)
/// and even per octave, each shifted by chance so that no pitch is heard.
pub(super) fn plate(layer: &mut Layer, p: Plate) {
    let (low, high) = p.range_hz;
    let mut partials = Vec::with_capacity(p.count);
    for n in 0..p.count {
        let share = (n as f64 + layer.chance()) / p.count as f64;
        let hz = low * (high / low).powf(share.powf(0.72));
        let octaves = (hz / p.centre_hz).log2() / p.spread_octaves;
        let gain = (-octaves * octaves).exp() * layer.chance_in(0.35, 1.0);
        let t60_s = p.t60_s * (1000.0 / hz).powf(p.damping) * layer.chance_in(0.6, 1.15);
        let phase = layer.chance();
        let aside = layer.chance_in(-0.35, 0.35);
        partials.push(Partial {
            hz,
            gain,
            t60_s,
            phase,
            aside,
        });
    }
    let power: f64 = partials.iter().map(|p| p.gain * p.gain).sum();
    for partial in &mut partials {
        partial.gain *= p.gain / power.sqrt();
    }
    layer.partials(&partials);
}

/// Adds the few clear partials of a cymbal's bell, each split in two by the
/// metal's unevenness so that it beats. `t60_s` and half of `gain` belong to
/// the first; higher ones are softer and shorter.
pub(super) fn chime(layer: &mut Layer, pitches_hz: &[f64], t60_s: f64, gain: f64) {
    let mut partials = Vec::with_capacity(2 * pitches_hz.len());
    for (n, pitch_hz) in pitches_hz.iter().enumerate() {
        let gain = gain / (2.0 + n as f64 * 0.5);
        let t60_s = t60_s * (pitches_hz[0] / pitch_hz).powf(0.4);
        for side in [-1.0, 1.0] {
            let hz = pitch_hz * (1.0 + side * layer.chance_in(0.000_4, 0.001_2));
            let phase = layer.chance_in(0.0, 0.2);
            partials.push(Partial {
                hz,
                gain,
                t60_s,
                phase,
                aside: 0.12 * side,
            });
        }
    }
    layer.partials(&partials);
}

/// A wide band of noise: gain, time constant of its rise and 60 dB of its fall
/// in seconds.
pub(super) fn wash((low_hz, high_hz): (f64, f64), gain: f64, rise_s: f64, t60_s: f64) -> Band {
    Band {
        low_hz,
        high_hz,
        gain,
        rise_s,
        t60_s,
        width: 0.6,
    }
}
