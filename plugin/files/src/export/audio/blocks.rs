//! From blocks of samples to a file, in two passes: one measures and puts the
//! samples aside, one sets the level and writes.

use super::encode::Encoder;
use super::meter::{Loudness, Meter};
use super::place;
use super::quantise::Quantiser;
use super::{AudioError, Format, Level, Overwrite};
use crate::save::folder_of;
use std::fs::File;
use std::io::{self, BufReader, BufWriter, Cursor, Read, Seek, SeekFrom, Write};
use std::ops::ControlFlow;
use std::path::Path;

/// Frames asked of a source at a time.
pub const BLOCK_FRAMES: usize = 1024;

/// Bytes of a frame put aside.
const FRAME_BYTES: usize = 8;

/// What was written, measured on the very samples in the file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Report {
    /// Frames in the file.
    pub frames: u64,
    /// Length in seconds.
    pub seconds: f64,
    /// By how much the level was changed, dB: below 0 softer, above 0 louder.
    pub gain_db: f64,
    /// By how much the loudness falls short of the one asked for, dB, because the
    /// true peak stays at -1 dB; 0 if it does not.
    pub held_back_db: f64,
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

/// Writes `frames` frames of `source` to a file.
///
/// `source` is called with pairs of equally long blocks of at most
/// [`BLOCK_FRAMES`] and must fill both. `progress` is called about once per
/// block; [`ControlFlow::Break`] cancels. The file appears under its name
/// complete or not at all; while it grows, hidden files beside it hold the
/// audio.
///
/// # Errors
/// See [`AudioError`]. The path is checked before the first block is asked for.
pub fn write_file(
    path: &Path,
    overwrite: Overwrite,
    format: Format,
    level: Level,
    frames: u64,
    source: impl FnMut(&mut [f32], &mut [f32]),
    mut progress: impl FnMut(Progress) -> ControlFlow<()>,
) -> Result<Report, AudioError> {
    format.check(frames)?;
    level.check()?;
    let draft = place::draft(path, overwrite)?;
    let mut spool = Spool::beside(path)?;
    let take = take_in(&mut spool.raw, format, frames, source, &mut progress)?;
    let report = put_out(
        &mut spool.rewound()?,
        BufWriter::new(draft.file()),
        format,
        level,
        take,
        &mut progress,
    )?;
    place::publish(draft, path)?;
    Ok(report)
}

/// Writes `frames` frames of `source` to any stream, for example standard
/// output. The head of a file states what is known only at the end, so the
/// whole file is held in memory until then; for long takes use [`write_file`].
///
/// # Errors
/// See [`AudioError`].
pub fn write_stream(
    mut out: impl Write,
    format: Format,
    level: Level,
    frames: u64,
    source: impl FnMut(&mut [f32], &mut [f32]),
    mut progress: impl FnMut(Progress) -> ControlFlow<()>,
) -> Result<Report, AudioError> {
    format.check(frames)?;
    level.check()?;
    let mut raw = Vec::new();
    let take = take_in(&mut raw, format, frames, source, &mut progress)?;
    let mut file = Cursor::new(Vec::new());
    let mut raw_out = raw.as_slice();
    let report = put_out(&mut raw_out, &mut file, format, level, take, &mut progress)?;
    drop(raw);
    let failed = |source| AudioError::Io {
        what: "the stream".to_owned(),
        source,
    };
    out.write_all(file.get_ref()).map_err(failed)?;
    out.flush().map_err(failed)?;
    Ok(report)
}

/// Samples put aside in a file that has no name and is gone when dropped.
pub(super) struct Spool {
    pub raw: BufWriter<File>,
}

impl Spool {
    pub fn beside(path: &Path) -> Result<Spool, AudioError> {
        let file = tempfile::tempfile_in(folder_of(path)).map_err(aside)?;
        Ok(Spool {
            raw: BufWriter::new(file),
        })
    }

    /// What was written, from the start.
    pub fn rewound(&mut self) -> Result<BufReader<&File>, AudioError> {
        self.raw.flush().map_err(aside)?;
        let mut file = self.raw.get_ref();
        file.seek(SeekFrom::Start(0)).map_err(aside)?;
        Ok(BufReader::new(file))
    }
}

/// What the first pass learnt.
#[derive(Debug)]
struct Take {
    frames: u64,
    true_peak: f64,
    loudness: Loudness,
}

/// First pass: renders, measures, and puts the raw samples aside.
fn take_in(
    raw: &mut impl Write,
    format: Format,
    frames: u64,
    mut source: impl FnMut(&mut [f32], &mut [f32]),
    progress: &mut impl FnMut(Progress) -> ControlFlow<()>,
) -> Result<Take, AudioError> {
    let (mut left, mut right) = ([0.0_f32; BLOCK_FRAMES], [0.0_f32; BLOCK_FRAMES]);
    let mut meter = Meter::new(format.rate_hz)?;
    let mut done = 0;
    while done < frames {
        let count = block(frames - done);
        let (left, right) = (&mut left[..count], &mut right[..count]);
        left.fill(0.0);
        right.fill(0.0);
        source(left, right);
        put_aside(raw, left, right, done)?;
        meter.add(left, right)?;
        done += count as u64;
        tell(progress, done, 2 * frames)?;
    }
    raw.flush().map_err(aside)?;
    Ok(Take {
        frames,
        true_peak: meter.true_peak()?,
        loudness: meter.into_loudness(),
    })
}

/// Second pass: sets the level, quantises, measures again and writes.
fn put_out(
    raw: &mut impl Read,
    out: impl Write + Seek,
    format: Format,
    level: Level,
    take: Take,
    progress: &mut impl FnMut(Progress) -> ControlFlow<()>,
) -> Result<Report, AudioError> {
    let gain = level.gain(take.true_peak, &take.loudness, format.sample, 1);
    let quantiser = Quantiser::new(format.sample, 0);
    let told = |done| tell(progress, take.frames + done, 2 * take.frames);
    let (true_peak, loudness_lufs) =
        store(raw, out, format, gain.factor, take.frames, quantiser, told)?;
    Ok(Report {
        frames: take.frames,
        seconds: take.frames as f64 / f64::from(format.rate_hz),
        gain_db: 20.0 * gain.factor.log10(),
        held_back_db: gain.held_back_db,
        true_peak_dbtp: decibels(true_peak),
        loudness_lufs,
    })
}

/// Writes what was put aside, times `factor`; tells true peak and loudness of
/// what is in the file.
pub(super) fn store(
    raw: &mut impl Read,
    out: impl Write + Seek,
    format: Format,
    factor: f64,
    frames: u64,
    mut quantiser: Quantiser,
    mut told: impl FnMut(u64) -> Result<(), AudioError>,
) -> Result<(f64, Option<f64>), AudioError> {
    let mut encoder = Encoder::new(out, format)?;
    let mut meter = Meter::new(format.rate_hz)?;
    let (mut left, mut right) = ([0.0_f32; BLOCK_FRAMES], [0.0_f32; BLOCK_FRAMES]);
    let mut bytes = [0_u8; BLOCK_FRAMES * FRAME_BYTES];
    let mut done = 0;
    while done < frames {
        let count = block(frames - done);
        let bytes = &mut bytes[..count * FRAME_BYTES];
        raw.read_exact(bytes).map_err(aside)?;
        for (n, frame) in bytes.as_chunks::<FRAME_BYTES>().0.iter().enumerate() {
            let [a, b, c, d, e, f, g, h] = *frame;
            let (l, seen_l) = quantiser.store(f64::from(f32::from_le_bytes([a, b, c, d])) * factor);
            let (r, seen_r) = quantiser.store(f64::from(f32::from_le_bytes([e, f, g, h])) * factor);
            encoder.frame([l, r])?;
            (left[n], right[n]) = (seen_l, seen_r);
        }
        meter.add(&left[..count], &right[..count])?;
        done += count as u64;
        told(done)?;
    }
    encoder.finish()?;
    Ok((meter.true_peak()?, meter.into_loudness().integrated(0.0)))
}

/// Puts a block aside, of which the first frame is number `from`.
pub(super) fn put_aside(
    raw: &mut impl Write,
    left: &[f32],
    right: &[f32],
    from: u64,
) -> Result<(), AudioError> {
    let mut bytes = [0_u8; BLOCK_FRAMES * FRAME_BYTES];
    let mut length = 0;
    for (n, (l, r)) in left.iter().zip(right).enumerate() {
        if !(l.is_finite() && r.is_finite()) {
            return Err(AudioError::NotFinite(from + n as u64));
        }
        for sample in [l, r] {
            bytes[length..length + 4].copy_from_slice(&sample.to_le_bytes());
            length += 4;
        }
    }
    raw.write_all(&bytes[..length]).map_err(aside)
}

/// The length of the next block, `rest` frames from the end.
pub(super) fn block(rest: u64) -> usize {
    usize::try_from(rest).map_or(BLOCK_FRAMES, |n| n.min(BLOCK_FRAMES))
}

/// A share of full scale in dB; `None` for silence.
pub(super) fn decibels(share: f64) -> Option<f64> {
    (share > 0.0).then(|| 20.0 * share.log10())
}

pub(super) fn tell(
    progress: &mut impl FnMut(Progress) -> ControlFlow<()>,
    done: u64,
    total: u64,
) -> Result<(), AudioError> {
    match progress(Progress { done, total }) {
        ControlFlow::Continue(()) => Ok(()),
        ControlFlow::Break(()) => Err(AudioError::Cancelled),
    }
}

fn aside(source: io::Error) -> AudioError {
    AudioError::Io {
        what: "the audio set aside".to_owned(),
        source,
    }
}
