//! Why no audio file was written.

use crate::export::OptionError;
use crate::export::render::RenderError;
use std::io;
use std::path::PathBuf;

/// Why no file was written.
#[derive(Debug, thiserror::Error)]
pub enum AudioError {
    /// The file is there already.
    #[error("{} exists; nothing was written", .0.display())]
    Exists(PathBuf),
    /// The path names no file.
    #[error("'{}' is not a file name", .0.display())]
    NotAFile(PathBuf),
    /// The sample rate is out of range.
    #[error("sample rate {0} Hz; 8000 to 384000 Hz are allowed")]
    Rate(u32),
    /// FLAC has no floating point.
    #[error(
        "a FLAC file holds 16 or 24 bits, not 32-bit floating point; ask for 24 bits, or for a \
         WAV file"
    )]
    FlacFloat,
    /// More than a file holds.
    #[error("{frames} frames need {bytes} bytes; a file holds less than 4 GiB")]
    TooLong {
        /// Frames asked for.
        frames: u64,
        /// Bytes they need.
        bytes: u64,
    },
    /// The source gave something that is not a number, or infinite.
    #[error("the audio is not finite at frame {0}")]
    NotFinite(u64),
    /// No stroke is left to sound.
    #[error("nothing would be heard: every stroke is a rest or left out")]
    Silent,
    /// An option out of its range.
    #[error(transparent)]
    Option(#[from] OptionError),
    /// The score cannot be rendered as asked.
    #[error(transparent)]
    Render(#[from] RenderError),
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
