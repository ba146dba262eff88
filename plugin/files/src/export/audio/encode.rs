//! The writer of either kind of file.

use super::quantise::Stored;
use super::{AudioError, FileKind, Format};
use crate::export::flac::FlacWriter;
use crate::export::wav::WavWriter;
use std::io::{self, Seek, Write};

/// A stereo file being written.
pub(super) enum Encoder<W: Write + Seek> {
    Wav(WavWriter<W>),
    // Its buffers are large.
    Flac(Box<FlacWriter<W>>),
}

impl<W: Write + Seek> Encoder<W> {
    pub fn new(out: W, format: Format) -> Result<Encoder<W>, AudioError> {
        match format.kind {
            FileKind::Wav => WavWriter::new(out, format).map(Encoder::Wav),
            FileKind::Flac => FlacWriter::new(out, format).map(|w| Encoder::Flac(Box::new(w))),
        }
        .map_err(failed)
    }

    pub fn frame(&mut self, frame: [Stored; 2]) -> Result<(), AudioError> {
        match self {
            Encoder::Wav(writer) => writer.frame(frame),
            Encoder::Flac(writer) => writer.frame(frame),
        }
        .map_err(failed)
    }

    pub fn finish(self) -> Result<(), AudioError> {
        match self {
            Encoder::Wav(writer) => writer.finish(),
            Encoder::Flac(writer) => writer.finish(),
        }
        .map_err(failed)
    }
}

fn failed(source: io::Error) -> AudioError {
    AudioError::Io {
        what: "the audio data".to_owned(),
        source,
    }
}
