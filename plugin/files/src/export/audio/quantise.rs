//! From exact samples to the ones a file stores.

use super::SampleFormat;

/// The same file for the same audio, every time.
const DITHER_SEED: u64 = 0x9E37_79B9_7F4A_7C15;

/// Largest error of one sample, in steps: 1 from triangular dither, 1/2 from
/// rounding.
const ERROR_STEPS: f64 = 1.5;

/// How much larger errors of the samples can become between them in the
/// true-peak interpolator: the sum of the magnitudes of one phase of its
/// filter, some 1.9 for the 12 taps of BS.1770-4 Annex 2; rounded up.
const INTERPOLATOR_GAIN: f64 = 3.0;

/// A sample as a file holds it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::export) enum Stored {
    /// Steps of an integer format.
    Int(i32),
    /// Share of full scale.
    Float(f32),
}

/// Rounds, with triangular dither of two steps' width (TPDF) for integers, so
/// that the error is noise that does not depend on the music.
pub(super) struct Quantiser {
    format: SampleFormat,
    state: u64,
}

impl Quantiser {
    /// A quantiser; those of a set of files that are added up again take
    /// different numbers `part`, so that their noise does not add up as one.
    pub fn new(format: SampleFormat, part: usize) -> Quantiser {
        Quantiser {
            format,
            state: DITHER_SEED.rotate_left(part as u32 % 64),
        }
    }

    /// Stores a sample and tells what a reader of the file will see.
    pub fn store(&mut self, sample: f64) -> (Stored, f32) {
        let Some(full_scale) = full_scale(self.format) else {
            let stored = sample as f32;
            return (Stored::Float(stored), stored);
        };
        // Digital silence stays silent.
        let dither = if sample == 0.0 {
            0.0
        } else {
            self.uniform() - self.uniform()
        };
        let steps = (sample * full_scale + dither)
            .round()
            .clamp(-full_scale, full_scale - 1.0);
        (Stored::Int(steps as i32), (steps / full_scale) as f32)
    }

    /// The next number of a fixed sequence (xorshift64*, Vigna 2016), `0 .. 1`.
    fn uniform(&mut self) -> f64 {
        self.state ^= self.state >> 12;
        self.state ^= self.state << 25;
        self.state ^= self.state >> 27;
        let bits = self.state.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11;
        bits as f64 / (1_u64 << 53) as f64
    }
}

/// By how much storing may raise a true peak, share of full scale.
pub(super) fn peak_error(format: SampleFormat) -> f64 {
    match full_scale(format) {
        Some(full_scale) => INTERPOLATOR_GAIN * ERROR_STEPS / full_scale,
        // Half a unit in the last place of a number below 1.
        None => INTERPOLATOR_GAIN * f64::from(f32::EPSILON),
    }
}

/// Steps from zero to full scale; `None` for floating point.
fn full_scale(format: SampleFormat) -> Option<f64> {
    match format {
        SampleFormat::Int16 => Some(32_768.0),
        SampleFormat::Int24 => Some(8_388_608.0),
        SampleFormat::Float32 => None,
    }
}
