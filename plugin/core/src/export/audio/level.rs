//! By how much a file is made louder or softer.

use super::quantise::peak_error;
use super::{AudioError, SampleFormat, TRUE_PEAK_LIMIT_DBTP};
use crate::export::OptionError;

/// Loudness that may be asked for, LUFS.
const TARGET_LUFS: std::ops::RangeInclusive<f64> = -60.0..=-5.0;

/// The level of a file. Whatever it is, the true peak stays at -1 dB or below.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Level {
    /// Integrated loudness wanted, LUFS (EBU R 128), -60 to -5; EBU R 128 itself
    /// asks for -23. `None` leaves the level, unless the true peak is too high.
    pub target_lufs: Option<f64>,
}

/// What is done to every sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Gain {
    /// Factor.
    pub factor: f64,
    /// By how much more it would have had to be to reach the loudness wanted,
    /// dB; 0 if it was reached or none was wanted.
    pub held_back_db: f64,
}

impl Level {
    /// Refuses what is out of range.
    pub(super) fn check(self) -> Result<(), AudioError> {
        match self.target_lufs {
            Some(lufs) if !TARGET_LUFS.contains(&lufs) => Err(OptionError {
                name: "loudness",
                read: lufs.to_string(),
                allowed: "-60 to -5 LUFS",
            }
            .into()),
            _ => Ok(()),
        }
    }

    /// The gain of audio with a true peak (share of full scale) and a loudness,
    /// stored in `files` files that are added up again.
    pub(super) fn gain(
        self,
        true_peak: f64,
        loudness_lufs: Option<f64>,
        sample: SampleFormat,
        files: usize,
    ) -> Gain {
        let limit = 10_f64.powf(TRUE_PEAK_LIMIT_DBTP / 20.0) - files as f64 * peak_error(sample);
        let wanted = self
            .target_lufs
            .zip(loudness_lufs)
            .map(|(target, is)| 10_f64.powf((target - is) / 20.0));
        let factor = wanted.unwrap_or(1.0);
        let factor = if factor * true_peak > limit {
            limit / true_peak
        } else {
            factor
        };
        Gain {
            factor,
            held_back_db: wanted.map_or(0.0, |wanted| 20.0 * (wanted / factor).log10()),
        }
    }
}
