//! Audio files of a form or of one letter: WAV or FLAC, a mix or stems.
//!
//! In: a [`Source`] (what is played, on which sounds), a [`Format`], a
//! [`Level`], a place. Out: files and a report of their loudness (EBU R 128),
//! their true peak (ITU-R BS.1770) and the gain that was applied. If you only
//! want a file, [`write_file`] is all you need.
//!
//! The true peak never exceeds -1 dB. Files appear complete or not at all, and
//! none is replaced unasked. Never here: an audio device, a lossy format, a
//! decision about the music.

pub mod blocks;
mod encode;
mod error;
mod format;
mod level;
mod meter;
mod place;
mod quantise;
mod stems;

pub use super::render::{Part, Sounds, Source, Substitute};
pub use crate::save::Overwrite;
pub use barform_play::sound::TRUE_PEAK_LIMIT_DBTP;
pub use blocks::{Progress, Report};
pub use error::AudioError;
pub use format::{FileKind, Format, SampleFormat};
pub use level::Level;
pub use stems::{Grouping, Stem, StemSet, StemTarget, write_stems};

pub(super) use quantise::Stored;

use super::render::Rendering;
use std::io::Write;
use std::ops::ControlFlow;
use std::path::Path;

/// A file that was written.
#[derive(Debug, Clone, PartialEq)]
pub struct Written {
    /// What is in it.
    pub report: Report,
    /// Sounds that a SoundFont lacks and the built-in kit has played instead.
    pub substitutes: Vec<Substitute>,
}

/// Renders a source into a file. See [`blocks::write_file`] for what `progress`
/// may do.
///
/// # Errors
/// See [`AudioError`].
pub fn write_file(
    source: &Source,
    format: Format,
    level: Level,
    path: &Path,
    overwrite: Overwrite,
    progress: impl FnMut(Progress) -> ControlFlow<()>,
) -> Result<Written, AudioError> {
    let rendering = rendering(source, format)?;
    write_rendering(rendering, format, level, path, overwrite, progress)
}

/// Writes what is rendered into a file: see [`write_file`]. The rendering must be
/// at the format's sample rate.
///
/// # Errors
/// See [`AudioError`].
pub fn write_rendering(
    mut rendering: Rendering,
    format: Format,
    level: Level,
    path: &Path,
    overwrite: Overwrite,
    progress: impl FnMut(Progress) -> ControlFlow<()>,
) -> Result<Written, AudioError> {
    let frames = rendering.frames();
    let fill = |left: &mut [f32], right: &mut [f32]| rendering.fill(left, right);
    let report = blocks::write_file(path, overwrite, format, level, frames, fill, progress)?;
    Ok(Written {
        report,
        substitutes: rendering.substitutes().to_vec(),
    })
}

/// Renders a source into a stream; holds the file in memory until it is
/// complete.
///
/// # Errors
/// See [`AudioError`].
pub fn write_stream(
    source: &Source,
    format: Format,
    level: Level,
    out: impl Write,
    progress: impl FnMut(Progress) -> ControlFlow<()>,
) -> Result<Written, AudioError> {
    let rendering = rendering(source, format)?;
    stream_rendering(rendering, format, level, out, progress)
}

/// Writes what is rendered into a stream: see [`write_stream`]. The rendering
/// must be at the format's sample rate.
///
/// # Errors
/// See [`AudioError`].
pub fn stream_rendering(
    mut rendering: Rendering,
    format: Format,
    level: Level,
    out: impl Write,
    progress: impl FnMut(Progress) -> ControlFlow<()>,
) -> Result<Written, AudioError> {
    let frames = rendering.frames();
    let fill = |left: &mut [f32], right: &mut [f32]| rendering.fill(left, right);
    let report = blocks::write_stream(out, format, level, frames, fill, progress)?;
    Ok(Written {
        report,
        substitutes: rendering.substitutes().to_vec(),
    })
}

/// A source as it will be written: at the rate of its format.
///
/// # Errors
/// See [`AudioError`]; one of them is that nothing would be heard.
pub fn rendering(source: &Source, format: Format) -> Result<Rendering, AudioError> {
    // Before the kit is built.
    format.check(0)?;
    let rendering = Rendering::of(source, f64::from(format.rate_hz))?;
    if rendering.voices().is_empty() {
        return Err(AudioError::Silent);
    }
    Ok(rendering)
}
