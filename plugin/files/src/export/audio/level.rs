//! By how much a file is made louder or softer.

use super::meter::Loudness;
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
    /// By how much the loudness falls short of the one wanted, dB; 0 if it was
    /// reached or none was wanted.
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
        loudness: &Loudness,
        sample: SampleFormat,
        files: usize,
    ) -> Gain {
        let limit = 10_f64.powf(TRUE_PEAK_LIMIT_DBTP / 20.0) - files as f64 * peak_error(sample);
        let wanted_db = self.target_lufs.and_then(|lufs| loudness.gain_to(lufs));
        let wanted = 10_f64.powf(wanted_db.unwrap_or(0.0) / 20.0);
        if wanted * true_peak <= limit {
            return Gain {
                factor: wanted,
                held_back_db: 0.0,
            };
        }
        let factor = limit / true_peak;
        let reached = loudness.integrated(20.0 * factor.log10());
        let short = self
            .target_lufs
            .zip(reached)
            .map(|(wanted, is)| wanted - is);
        Gain {
            factor,
            held_back_db: short.unwrap_or(0.0).max(0.0),
        }
    }
}
