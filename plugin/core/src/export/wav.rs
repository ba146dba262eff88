//! Stereo WAV files whose true peak is measured and held.
//!
//! In: a source that fills blocks of left and right samples, how many frames to
//! take from it, a format. Out: a WAV file or its bytes, and a report of what
//! was written, measured on the very samples in the file.
//!
//! The level is lowered where the true peak (ITU-R BS.1770) would exceed -1 dB,
//! and never raised. Never here: playing a score, resampling, raising a level;
//! a half-written file under the name asked for.

mod meter;
mod place;
mod quantise;

pub use crate::sound::TRUE_PEAK_LIMIT_DBTP;
use meter::Meter;
use place::Draft;
use quantise::Quantiser;
use std::fs::File;
use std::io::{self, BufReader, BufWriter, Cursor, Read, Seek, SeekFrom, Write};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

/// Frames asked of a source at a time.
pub const BLOCK_FRAMES: usize = 1024;

/// Bytes a WAV file may have: its header counts them in 32 bits. A little is
/// left for the header itself.
const MAX_DATA_BYTES: u64 = u32::MAX as u64 - 1024;

/// How a sample is stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SampleFormat {
    /// 16-bit integer, dithered.
    Int16,
    /// 24-bit integer, dithered.
    #[default]
    Int24,
    /// 32-bit floating point.
    Float32,
}

/// What to write.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WavFormat {
    /// Frames per second, 8000 to 384000 Hz.
    pub rate_hz: u32,
    /// How a sample is stored.
    pub sample: SampleFormat,
}

/// What was written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WavReport {
    /// Frames in the file.
    pub frames: u64,
    /// Length in seconds.
    pub seconds: f64,
    /// By how much the level was lowered, dB; 0 if it was not, never positive.
    pub gain_db: f64,
    /// True peak in the file, dB (ITU-R BS.1770); `None` for silence.
    pub true_peak_dbtp: Option<f64>,
    /// Integrated loudness, LUFS (EBU R 128); `None` for silence and for what
    /// is shorter than the 0.4 s that the measure needs.
    pub loudness_lufs: Option<f64>,
}

/// How far a file has come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Progress {
    /// Steps done: each frame is rendered once and written once.
    pub done: u64,
    /// Steps in all.
    pub total: u64,
}

impl Progress {
    /// Share done, 0 to 1.
    pub fn share(self) -> f64 {
        if self.total == 0 {
            1.0
        } else {
            self.done as f64 / self.total as f64
        }
    }
}

/// Whether an existing file may be replaced.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Overwrite {
    /// Refuse.
    #[default]
    Refuse,
    /// Replace it, once the new file is complete.
    Replace,
}

/// Why no file was written.
#[derive(Debug, thiserror::Error)]
pub enum WavError {
    /// The file is there already.
    #[error("{} exists; nothing was written", .0.display())]
    Exists(PathBuf),
    /// The path names no file.
    #[error("'{}' is not a file name", .0.display())]
    NotAFile(PathBuf),
    /// The sample rate is out of range.
    #[error("sample rate {0} Hz; 8000 to 384000 Hz are allowed")]
    Rate(u32),
    /// More than a WAV file holds.
    #[error("{frames} frames need {bytes} bytes; a WAV file holds less than 4 GiB")]
    TooLong {
        /// Frames asked for.
        frames: u64,
        /// Bytes they need.
        bytes: u64,
    },
    /// The source gave something that is not a number, or infinite.
    #[error("the audio is not finite at frame {0}")]
    NotFinite(u64),
    /// The progress callback asked to stop.
    #[error("cancelled; nothing was written")]
    Cancelled,
    /// The system failed.
    #[error("cannot write {what}: {source}")]
    Io {
        /// What was being written.
        what: String,
        /// What the system said.
        source: io::Error,
    },
}

/// Writes `frames` frames of `source` to a file.
///
/// `source` is called with pairs of equally long blocks of at most
/// [`BLOCK_FRAMES`] and must fill both. `progress` is called about once per
/// block; [`ControlFlow::Break`] cancels. The file appears under its name
/// complete or not at all; while it grows, hidden files beside it hold the
/// audio.
///
/// # Errors
/// See [`WavError`]. The path is checked before the first block is asked for.
pub fn write_file(
    path: &Path,
    overwrite: Overwrite,
    format: WavFormat,
    frames: u64,
    source: impl FnMut(&mut [f32], &mut [f32]),
    mut progress: impl FnMut(Progress) -> ControlFlow<()>,
) -> Result<WavReport, WavError> {
    check(format, frames)?;
    let spool = Draft::beside(path, overwrite, "raw")?;
    let draft = Draft::beside(path, overwrite, "part")?;
    let failed = |source| WavError::Io {
        what: path.display().to_string(),
        source,
    };
    let mut raw = BufWriter::new(spool.file().try_clone().map_err(failed)?);
    let take = take_in(&mut raw, format, frames, source, &mut progress)?;
    let mut raw = BufReader::new(raw.into_inner().map_err(|e| failed(e.into_error()))?);
    raw.seek(SeekFrom::Start(0)).map_err(failed)?;
    let out: BufWriter<&File> = BufWriter::new(draft.file());
    let report = put_out(&mut raw, out, format, take, &mut progress)?;
    draft.publish(overwrite)?;
    Ok(report)
}

/// Writes `frames` frames of `source` to any stream, for example standard
/// output. A WAV header states the length ahead of the audio and is completed
/// last, so the whole file is held in memory until then; for long takes use
/// [`write_file`].
///
/// # Errors
/// See [`WavError`].
pub fn write_stream(
    mut out: impl Write,
    format: WavFormat,
    frames: u64,
    source: impl FnMut(&mut [f32], &mut [f32]),
    mut progress: impl FnMut(Progress) -> ControlFlow<()>,
) -> Result<WavReport, WavError> {
    check(format, frames)?;
    let mut raw = Vec::new();
    let take = take_in(&mut raw, format, frames, source, &mut progress)?;
    let mut file = Cursor::new(Vec::new());
    let report = put_out(&mut raw.as_slice(), &mut file, format, take, &mut progress)?;
    drop(raw);
    let failed = |source| WavError::Io {
        what: "the stream".to_owned(),
        source,
    };
    out.write_all(file.get_ref()).map_err(failed)?;
    out.flush().map_err(failed)?;
    Ok(report)
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

/// What the first pass learnt.
#[derive(Debug, Clone, Copy)]
struct Take {
    frames: u64,
    true_peak: f64,
}

fn check(format: WavFormat, frames: u64) -> Result<(), WavError> {
    if !(8_000..=384_000).contains(&format.rate_hz) {
        return Err(WavError::Rate(format.rate_hz));
    }
    let frame_bytes = 2 * u64::from(format.sample.bits() / 8);
    let bytes = frames.saturating_mul(frame_bytes);
    if bytes > MAX_DATA_BYTES {
        Err(WavError::TooLong { frames, bytes })
    } else {
        Ok(())
    }
}

/// First pass: renders, measures, and puts the raw samples aside.
fn take_in(
    raw: &mut impl Write,
    format: WavFormat,
    frames: u64,
    mut source: impl FnMut(&mut [f32], &mut [f32]),
    progress: &mut impl FnMut(Progress) -> ControlFlow<()>,
) -> Result<Take, WavError> {
    let (mut left, mut right) = ([0.0_f32; BLOCK_FRAMES], [0.0_f32; BLOCK_FRAMES]);
    let mut bytes = Vec::with_capacity(BLOCK_FRAMES * 8);
    let mut meter = Meter::new(format.rate_hz)?;
    let mut done = 0;
    while done < frames {
        let count = usize::try_from(frames - done).map_or(BLOCK_FRAMES, |n| n.min(BLOCK_FRAMES));
        let (left, right) = (&mut left[..count], &mut right[..count]);
        left.fill(0.0);
        right.fill(0.0);
        source(left, right);
        bytes.clear();
        for (n, (l, r)) in left.iter().zip(right.iter()).enumerate() {
            if !(l.is_finite() && r.is_finite()) {
                return Err(WavError::NotFinite(done + n as u64));
            }
            bytes.extend_from_slice(&l.to_le_bytes());
            bytes.extend_from_slice(&r.to_le_bytes());
        }
        meter.add(left, right)?;
        raw.write_all(&bytes).map_err(aside)?;
        done += count as u64;
        tell(progress, done, 2 * frames)?;
    }
    raw.flush().map_err(aside)?;
    Ok(Take {
        frames,
        true_peak: meter.true_peak()?,
    })
}

/// Second pass: lowers the level if it must be, quantises, measures again and
/// writes.
fn put_out(
    raw: &mut impl Read,
    out: impl Write + Seek,
    format: WavFormat,
    take: Take,
    progress: &mut impl FnMut(Progress) -> ControlFlow<()>,
) -> Result<WavReport, WavError> {
    let mut quantiser = Quantiser::new(format.sample);
    let limit = 10_f64.powf(TRUE_PEAK_LIMIT_DBTP / 20.0) - quantiser.peak_error();
    let gain = if take.true_peak > limit {
        limit / take.true_peak
    } else {
        1.0
    };
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: format.rate_hz,
        bits_per_sample: format.sample.bits(),
        sample_format: match format.sample {
            SampleFormat::Float32 => hound::SampleFormat::Float,
            SampleFormat::Int16 | SampleFormat::Int24 => hound::SampleFormat::Int,
        },
    };
    let mut writer = hound::WavWriter::new(out, spec).map_err(encoding)?;
    let mut meter = Meter::new(format.rate_hz)?;
    let (mut left, mut right) = ([0.0_f32; BLOCK_FRAMES], [0.0_f32; BLOCK_FRAMES]);
    let mut bytes = [0_u8; BLOCK_FRAMES * 8];
    let mut done = 0;
    while done < take.frames {
        let rest = take.frames - done;
        let count = usize::try_from(rest).map_or(BLOCK_FRAMES, |n| n.min(BLOCK_FRAMES));
        let bytes = &mut bytes[..count * 8];
        raw.read_exact(bytes).map_err(aside)?;
        for (n, frame) in bytes.as_chunks::<8>().0.iter().enumerate() {
            let [a, b, c, d, e, f, g, h] = *frame;
            for (channel, sample) in [
                (&mut left, f32::from_le_bytes([a, b, c, d])),
                (&mut right, f32::from_le_bytes([e, f, g, h])),
            ] {
                channel[n] = quantiser.write(&mut writer, f64::from(sample) * gain)?;
            }
        }
        meter.add(&left[..count], &right[..count])?;
        done += count as u64;
        tell(progress, take.frames + done, 2 * take.frames)?;
    }
    writer.finalize().map_err(encoding)?;
    let true_peak = meter.true_peak()?;
    Ok(WavReport {
        frames: take.frames,
        seconds: take.frames as f64 / f64::from(format.rate_hz),
        gain_db: 20.0 * gain.log10(),
        true_peak_dbtp: (true_peak > 0.0).then(|| 20.0 * true_peak.log10()),
        loudness_lufs: meter.loudness_lufs()?,
    })
}

fn tell(
    progress: &mut impl FnMut(Progress) -> ControlFlow<()>,
    done: u64,
    total: u64,
) -> Result<(), WavError> {
    match progress(Progress { done, total }) {
        ControlFlow::Continue(()) => Ok(()),
        ControlFlow::Break(()) => Err(WavError::Cancelled),
    }
}

fn aside(source: io::Error) -> WavError {
    WavError::Io {
        what: "the audio set aside".to_owned(),
        source,
    }
}

fn encoding(error: hound::Error) -> WavError {
    let source = match error {
        hound::Error::IoError(source) => source,
        other => io::Error::other(other),
    };
    WavError::Io {
        what: "the WAV data".to_owned(),
        source,
    }
}
