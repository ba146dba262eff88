//! True peak (ITU-R BS.1770) and integrated loudness (EBU R 128) of what
//! passes.

use super::AudioError;
use ebur128::{EbuR128, Mode};
use std::io;

/// Silent frames sent after the audio, so that the interpolator of the true-peak
/// measure (12 taps a phase at 4 times the rate, 24 at twice) sees the end, too.
const FLUSH_FRAMES: usize = 64;

/// Gates of ITU-R BS.1770: below this a block does not count, LUFS ...
const ABSOLUTE_GATE_LUFS: f64 = -70.0;
/// ... nor so far below the mean of those that do, LU.
const RELATIVE_GATE_LU: f64 = -10.0;

/// Blocks of 0.4 s begin every 0.1 s.
const STEPS_OF_BLOCK: usize = 4;

/// The two measures. Apart, so that flushing one does not lengthen the other.
pub(super) struct Meter {
    peak: EbuR128,
    momentary: EbuR128,
    loudness: Loudness,
    /// Frames of a step.
    step: usize,
    /// Frames until the next step is full.
    rest: usize,
    steps: usize,
}

/// The loudness of every block, from which the integrated loudness follows at
/// any gain: the gates do not move with it, so it is not the sum of both.
#[derive(Debug, Clone, Default)]
pub(super) struct Loudness {
    blocks_lufs: Vec<f64>,
}

impl Meter {
    pub fn new(rate_hz: u32) -> Result<Meter, AudioError> {
        let step = (rate_hz as usize + 5) / 10;
        Ok(Meter {
            peak: EbuR128::new(2, rate_hz, Mode::TRUE_PEAK).map_err(failed)?,
            momentary: EbuR128::new(2, rate_hz, Mode::M).map_err(failed)?,
            loudness: Loudness::default(),
            step,
            rest: step,
            steps: 0,
        })
    }

    pub fn add(&mut self, left: &[f32], right: &[f32]) -> Result<(), AudioError> {
        self.peak
            .add_frames_planar_f32(&[left, right])
            .map_err(failed)?;
        let (mut left, mut right) = (left, right);
        while !left.is_empty() {
            let count = self.rest.min(left.len());
            let (now_l, later_l) = left.split_at(count);
            let (now_r, later_r) = right.split_at(count);
            (left, right) = (later_l, later_r);
            self.momentary
                .add_frames_planar_f32(&[now_l, now_r])
                .map_err(failed)?;
            self.rest -= count;
            if self.rest == 0 {
                self.rest = self.step;
                self.steps += 1;
                if self.steps >= STEPS_OF_BLOCK {
                    let block = self.momentary.loudness_momentary().map_err(failed)?;
                    self.loudness.blocks_lufs.push(block);
                }
            }
        }
        Ok(())
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

    /// The loudness so far.
    pub fn into_loudness(self) -> Loudness {
        self.loudness
    }
}

impl Loudness {
    /// Integrated loudness, LUFS, after a gain; `None` where the gates let
    /// nothing through.
    pub fn integrated(&self, gain_db: f64) -> Option<f64> {
        let mean = |gate: f64| {
            let loud = self.blocks_lufs.iter().map(|b| b + gain_db);
            let (mut sum, mut count) = (0.0, 0_u32);
            for block in loud.filter(|b| *b > gate) {
                sum += 10_f64.powf(block / 10.0);
                count += 1;
            }
            (count > 0).then(|| 10.0 * (sum / f64::from(count)).log10())
        };
        let ungated = mean(ABSOLUTE_GATE_LUFS)?;
        mean(ABSOLUTE_GATE_LUFS.max(ungated + RELATIVE_GATE_LU))
    }

    /// The gain in dB with which the integrated loudness is `lufs`; `None` if
    /// there is nothing to be heard.
    pub fn gain_to(&self, lufs: f64) -> Option<f64> {
        // Blocks come and go at the gates, so that one step does not do; a few
        // do unless a block sits on a gate, and then the last is as good.
        const ROUNDS: usize = 20;
        let loudest = self.blocks_lufs.iter().copied().fold(f64::MIN, f64::max);
        if !loudest.is_finite() || loudest == f64::MIN {
            return None;
        }
        let mut gain_db = lufs - self.integrated(0.0).unwrap_or(loudest);
        for _ in 0..ROUNDS {
            match self.integrated(gain_db) {
                Some(is) if (is - lufs).abs() < 1e-3 => break,
                Some(is) => gain_db += lufs - is,
                None => break,
            }
        }
        Some(gain_db)
    }
}

fn failed(error: ebur128::Error) -> AudioError {
    AudioError::Io {
        what: "the loudness measure".to_owned(),
        source: io::Error::other(error),
    }
}
