//! What kind of file, and how samples are stored in it.

use super::AudioError;
use crate::export::wav::MAX_DATA_BYTES;
use std::path::Path;

/// Kind of an audio file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum FileKind {
    /// RIFF WAVE: read by everything, less than 4 GiB.
    #[default]
    Wav,
    /// FLAC: lossless and about half the size; 16 or 24 bits.
    Flac,
}

/// How a sample is stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SampleFormat {
    /// 16-bit integer, dithered.
    Int16,
    /// 24-bit integer, dithered.
    #[default]
    Int24,
    /// 32-bit floating point; WAV only.
    Float32,
}

/// What to write.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Format {
    /// Kind of file.
    pub kind: FileKind,
    /// Frames per second, 8000 to 384000 Hz.
    pub rate_hz: u32,
    /// How a sample is stored.
    pub sample: SampleFormat,
}

impl FileKind {
    /// The kind that a file name's ending stands for, in any case of letters.
    pub fn of(path: &Path) -> Option<FileKind> {
        let ending = path.extension()?;
        [FileKind::Wav, FileKind::Flac]
            .into_iter()
            .find(|kind| ending.eq_ignore_ascii_case(kind.ending()))
    }

    /// The usual ending of file names, without a dot.
    pub const fn ending(self) -> &'static str {
        match self {
            FileKind::Wav => "wav",
            FileKind::Flac => "flac",
        }
    }
}

impl SampleFormat {
    /// Bits per sample.
    pub const fn bits(self) -> u16 {
        match self {
            SampleFormat::Int16 => 16,
            SampleFormat::Int24 => 24,
            SampleFormat::Float32 => 32,
        }
    }
}

impl Format {
    /// Refuses what no such file can hold.
    pub(super) fn check(self, frames: u64) -> Result<(), AudioError> {
        if !(8_000..=384_000).contains(&self.rate_hz) {
            return Err(AudioError::Rate(self.rate_hz));
        }
        let frame_bytes = 2 * u64::from(self.sample.bits() / 8);
        let bytes = frames.saturating_mul(frame_bytes);
        match self.kind {
            FileKind::Flac if self.sample == SampleFormat::Float32 => Err(AudioError::FlacFloat),
            // The 36 bits of a FLAC file's head hold days; its frames are
            // counted as well, so the same limit is kept for the samples in it.
            _ if bytes > MAX_DATA_BYTES => Err(AudioError::TooLong { frames, bytes }),
            _ => Ok(()),
        }
    }
}
