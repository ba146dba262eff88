//! WAV files (RIFF, PCM or IEEE floating point), sample by sample.

use super::audio::{Format, SampleFormat, Stored};
use std::io::{self, Seek, Write};

/// Most bytes of samples in a WAV file: its header counts them in 32 bits. A
/// little is left for the header itself.
pub(super) const MAX_DATA_BYTES: u64 = u32::MAX as u64 - 1024;

/// A stereo file being written.
pub(super) struct WavWriter<W: Write + Seek>(hound::WavWriter<W>);

impl<W: Write + Seek> WavWriter<W> {
    /// Writes the header.
    pub fn new(out: W, format: Format) -> io::Result<WavWriter<W>> {
        let spec = hound::WavSpec {
            channels: 2,
            sample_rate: format.rate_hz,
            bits_per_sample: format.sample.bits(),
            sample_format: match format.sample {
                SampleFormat::Float32 => hound::SampleFormat::Float,
                SampleFormat::Int16 | SampleFormat::Int24 => hound::SampleFormat::Int,
            },
        };
        hound::WavWriter::new(out, spec)
            .map(WavWriter)
            .map_err(failed)
    }

    /// Adds one frame.
    pub fn frame(&mut self, frame: [Stored; 2]) -> io::Result<()> {
        for sample in frame {
            match sample {
                Stored::Int(steps) => self.0.write_sample(steps),
                Stored::Float(value) => self.0.write_sample(value),
            }
            .map_err(failed)?;
        }
        Ok(())
    }

    /// Completes header and file.
    pub fn finish(self) -> io::Result<()> {
        self.0.finalize().map_err(failed)
    }
}

fn failed(error: hound::Error) -> io::Error {
    match error {
        hound::Error::IoError(source) => source,
        other => io::Error::other(other),
    }
}
