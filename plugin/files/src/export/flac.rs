//! FLAC files (RFC 9639), block by block: lossless, about half the size of WAV.
//!
//! The frames are the encoder library's; the head of the file is written here,
//! with the MD5 sum of the samples that a decoder checks itself against.

use super::audio::{Format, Stored};
use flacenc::bitsink::MemSink;
use flacenc::component::{BitRepr, StreamInfo};
use flacenc::config;
use flacenc::error::{Verified, Verify};
use flacenc::source::{Context, Fill, FrameBuf};
use std::io::{self, Seek, SeekFrom, Write};

/// Frames in a block: what most encoders take.
const BLOCK: u16 = 4096;

/// Bytes of the STREAMINFO block (RFC 9639, section 8.2).
const INFO_BYTES: u8 = 34;

/// Highest sample rate the encoder library spells itself.
const LIBRARY_RATE_HZ: u32 = 96_000;

/// A stereo file being written.
pub(super) struct FlacWriter<W: Write + Seek> {
    out: W,
    /// Where the STREAMINFO block begins.
    info_at: u64,
    format: Format,
    config: Verified<config::Encoder>,
    /// For blocks that the encoder would make longer than they are.
    plain: Verified<config::Encoder>,
    info: StreamInfo,
    buffer: FrameBuf,
    sum: Context,
    /// Samples of the block being filled, left and right in turn.
    block: Vec<i32>,
    blocks: usize,
    frames: u64,
    shortest: u32,
    longest: u32,
}

impl<W: Write + Seek> FlacWriter<W> {
    /// Makes room for the head of the file.
    pub fn new(mut out: W, format: Format) -> io::Result<FlacWriter<W>> {
        let bits = usize::from(format.sample.bits());
        let rate_hz = format.rate_hz.min(LIBRARY_RATE_HZ) as usize;
        out.write_all(b"fLaC")?;
        // The last metadata block, of type 0.
        out.write_all(&[0x80, 0, 0, INFO_BYTES])?;
        let info_at = out.stream_position()?;
        out.write_all(&[0; INFO_BYTES as usize])?;
        Ok(FlacWriter {
            out,
            info_at,
            format,
            config: verified(config::Encoder::default())?,
            plain: verified(plain())?,
            info: StreamInfo::new(rate_hz, 2, bits).map_err(failed)?,
            buffer: FrameBuf::with_size(2, usize::from(BLOCK)).map_err(failed)?,
            sum: Context::new(bits, 2),
            block: Vec::with_capacity(2 * usize::from(BLOCK)),
            blocks: 0,
            frames: 0,
            shortest: u32::MAX,
            longest: 0,
        })
    }

    /// Adds one frame.
    pub fn frame(&mut self, frame: [Stored; 2]) -> io::Result<()> {
        for sample in frame {
            match sample {
                Stored::Int(steps) => self.block.push(steps),
                Stored::Float(_) => return Err(failed("FLAC holds whole numbers only")),
            }
        }
        if self.block.len() == 2 * usize::from(BLOCK) {
            self.encode()?;
        }
        Ok(())
    }

    /// Completes head and file.
    pub fn finish(mut self) -> io::Result<()> {
        if !self.block.is_empty() {
            self.encode()?;
        }
        let mut info = Vec::with_capacity(usize::from(INFO_BYTES));
        // Shortest and longest block; the last one does not count.
        info.extend_from_slice(&BLOCK.to_be_bytes());
        info.extend_from_slice(&BLOCK.to_be_bytes());
        // Sizes of 0 are "not known": a file without a frame has none.
        let shortest = if self.blocks == 0 { 0 } else { self.shortest };
        info.extend_from_slice(&shortest.to_be_bytes()[1..]);
        info.extend_from_slice(&self.longest.to_be_bytes()[1..]);
        // 20 bits of sample rate, 3 of channels less one, 5 of bits less one,
        // 36 of frames.
        let bits = u64::from(self.format.sample.bits()) - 1;
        let packed = u64::from(self.format.rate_hz) << 44 | 1 << 41 | bits << 36 | self.frames;
        info.extend_from_slice(&packed.to_be_bytes());
        info.extend_from_slice(&self.sum.md5_digest());
        self.out.seek(SeekFrom::Start(self.info_at))?;
        self.out.write_all(&info)?;
        self.out.seek(SeekFrom::End(0))?;
        self.out.flush()
    }

    /// The block as a frame.
    fn coded(&self, config: &Verified<config::Encoder>) -> io::Result<Vec<u8>> {
        let frame = flacenc::encode_fixed_size_frame(config, &self.buffer, self.blocks, &self.info)
            .map_err(failed)?;
        let mut bits = MemSink::<u8>::new();
        frame.write(&mut bits).map_err(failed)?;
        Ok(bits.into_inner())
    }

    fn encode(&mut self) -> io::Result<()> {
        self.buffer.fill_interleaved(&self.block).map_err(failed)?;
        self.sum.fill_interleaved(&self.block).map_err(failed)?;
        let mut bytes = self.coded(&self.config)?;
        // On full-scale noise the library's prediction may run away to a
        // thousand times the samples' own length.
        let whole = self.block.len() * usize::from(self.format.sample.bits()) / 8;
        if bytes.len() > whole {
            bytes = self.coded(&self.plain)?;
        }
        if self.format.rate_hz > LIBRARY_RATE_HZ {
            respell_rate(&mut bytes, self.format.rate_hz)
                .ok_or_else(|| failed("a frame without a head"))?;
        }
        self.out.write_all(&bytes)?;
        let size = u32::try_from(bytes.len()).map_err(failed)?;
        self.shortest = self.shortest.min(size);
        self.longest = self.longest.max(size);
        self.frames += self.block.len() as u64 / 2;
        self.blocks += 1;
        self.block.clear();
        Ok(())
    }
}

/// Samples as they are.
fn plain() -> config::Encoder {
    let mut plain = config::Encoder::default();
    plain.subframe_coding.use_fixed = false;
    plain.subframe_coding.use_lpc = false;
    plain
}

fn verified(config: config::Encoder) -> io::Result<Verified<config::Encoder>> {
    config.into_verified().map_err(|(_, e)| failed(e))
}

/// Puts a high sample rate into the head of a frame that was encoded as 96 kHz,
/// whose code has no bytes of its own either (RFC 9639, section 9.1.2), and
/// renews both check sums. `None` if that is no frame.
fn respell_rate(frame: &mut [u8], rate_hz: u32) -> Option<()> {
    let code = match rate_hz {
        176_400 => 0b0010,
        192_000 => 0b0011,
        // As in STREAMINFO.
        _ => 0b0000,
    };
    let sizes = frame.get_mut(2)?;
    let block = *sizes >> 4;
    *sizes = block << 4 | code;
    // The block's number is written like a character in UTF-8.
    let number = match frame.get(4)?.leading_ones() as usize {
        0 => 1,
        ones => ones,
    };
    let size = match block {
        0b0110 => 1,
        0b0111 => 2,
        _ => 0,
    };
    let head = 4 + number + size;
    let sum = check_sum(frame.get(..head)?, 8, 0x07) as u8;
    *frame.get_mut(head)? = sum;
    let (body, last) = frame.split_last_chunk_mut::<2>()?;
    *last = check_sum(body, 16, 0x8005).to_be_bytes();
    Some(())
}

/// A cyclic redundancy check that starts from 0, high bit first.
fn check_sum(bytes: &[u8], width: u32, polynomial: u16) -> u16 {
    let top = 1_u16 << (width - 1);
    let mask = u16::MAX >> (16 - width);
    let mut sum = 0_u16;
    for byte in bytes {
        sum ^= u16::from(*byte) << (width - 8);
        for _ in 0..8 {
            let carry = sum & top != 0;
            sum = sum << 1 & mask;
            if carry {
                sum ^= polynomial;
            }
        }
    }
    sum
}

fn failed(error: impl ToString) -> io::Error {
    io::Error::other(error.to_string())
}
