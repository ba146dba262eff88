//! True peak (ITU-R BS.1770) and integrated loudness (EBU R 128) of what
//! passes.

use super::AudioError;
use ebur128::{EbuR128, Mode};
use std::io;

/// Silent frames sent after the audio, so that the interpolator of the true-peak
/// measure (12 taps a phase at 4 times the rate, 24 at twice) sees the end, too.
const FLUSH_FRAMES: usize = 64;

/// The two measures. Apart, so that flushing one does not lengthen the other.
pub(super) struct Meter {
    peak: EbuR128,
    loudness: EbuR128,
}

impl Meter {
    pub fn new(rate_hz: u32) -> Result<Meter, AudioError> {
        Ok(Meter {
            peak: EbuR128::new(2, rate_hz, Mode::TRUE_PEAK).map_err(failed)?,
            loudness: EbuR128::new(2, rate_hz, Mode::I | Mode::HISTOGRAM).map_err(failed)?,
        })
    }

    pub fn add(&mut self, left: &[f32], right: &[f32]) -> Result<(), AudioError> {
        self.peak
            .add_frames_planar_f32(&[left, right])
            .map_err(failed)?;
        self.loudness
            .add_frames_planar_f32(&[left, right])
            .map_err(failed)
    }

    /// The highest true peak of both channels, share of full scale; ends the
    /// measure.
    pub fn true_peak(&mut self) -> Result<f64, AudioError> {
        let silence = [0.0_f32; FLUSH_FRAMES];
        self.peak
            .add_frames_planar_f32(&[&silence, &silence])
            .map_err(failed)?;
        let left = self.peak.true_peak(0).map_err(failed)?;
        let right = self.peak.true_peak(1).map_err(failed)?;
        Ok(left.max(right))
    }

    /// Integrated loudness; `None` where the gate lets nothing through.
    pub fn loudness_lufs(&self) -> Result<Option<f64>, AudioError> {
        let lufs = self.loudness.loudness_global().map_err(failed)?;
        Ok(lufs.is_finite().then_some(lufs))
    }
}

fn failed(error: ebur128::Error) -> AudioError {
    AudioError::Io {
        what: "the loudness measure".to_owned(),
        source: io::Error::other(error),
    }
}
