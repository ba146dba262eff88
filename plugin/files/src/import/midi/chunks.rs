//! The outer shape of a Standard MIDI File: a header and tracks.
//!
//! In: bytes. Out: the bodies of the tracks, or the byte where the shape breaks.

use crate::import::{ImportError, RemarkKind, Remarks};
use midly::{Fps, Timing};

/// A damage, told.
pub(super) fn damaged(what: impl Into<String>) -> ImportError {
    ImportError::Damaged {
        format: "MIDI",
        what: what.into(),
    }
}

/// Four bytes as a number, most significant first.
fn number(bytes: &[u8], at: usize) -> Option<u32> {
    let four = bytes.get(at..at.checked_add(4)?)?;
    Some(u32::from_be_bytes(four.try_into().ok()?))
}

/// The header: type, and what a tick is.
pub(super) fn header(bytes: &[u8]) -> Result<(u16, u16, Timing, usize), ImportError> {
    if bytes.get(..4) != Some(b"MThd") {
        return Err(damaged("it does not begin with 'MThd' (byte 0)"));
    }
    let length = number(bytes, 4).ok_or_else(|| damaged("it ends in its header (byte 4)"))?;
    let body = (8_usize.checked_add(length as usize)).and_then(|end| bytes.get(8..end));
    let (Some(body), true) = (body, length >= 6) else {
        return Err(damaged(format!("a header of {length} bytes (byte 4)")));
    };
    let two = |at: usize| u16::from_be_bytes([body[at], body[at + 1]]);
    let (format, tracks, division) = (two(0), two(2), two(4));
    let timing = if division & 0x8000 == 0 {
        Timing::Metrical(division.into())
    } else {
        let frames = ((division >> 8) as u8 as i8).unsigned_abs();
        let fps = Fps::from_int(frames).ok_or_else(|| {
            damaged(format!(
                "{frames} frames a second; allowed is 24, 25, 29 or 30 (byte 12)"
            ))
        })?;
        Timing::Timecode(fps, (division & 0xff) as u8)
    };
    if format > 2 {
        return Err(damaged(format!(
            "type {format}; there are 0, 1 and 2 (byte 8)"
        )));
    }
    if format == 2 {
        let what = "a file of type 2 holds patterns without a common time; save it as type 0 or 1";
        return Err(ImportError::Nothing(what.into()));
    }
    if matches!(timing, Timing::Metrical(d) if d.as_int() == 0)
        || matches!(timing, Timing::Timecode(_, 0))
    {
        return Err(damaged("no ticks in a beat (byte 12)"));
    }
    Ok((format, tracks, timing, 8 + length as usize))
}

/// The bodies of the tracks with the byte each starts at.
pub(super) fn chunks<'b>(
    bytes: &'b [u8],
    mut at: usize,
    told: u16,
    remarks: &mut Remarks,
) -> Result<Vec<(usize, &'b [u8])>, ImportError> {
    let mut tracks = Vec::new();
    while at < bytes.len() {
        let name = bytes.get(at..at + 4);
        let (Some(name), Some(length)) = (name, number(bytes, at + 4)) else {
            // Bytes after the last track that are no chunk.
            if tracks.len() >= usize::from(told) {
                let what = "bytes after the last track were passed over";
                remarks.add(RemarkKind::NotUnderstood, None, what);
                break;
            }
            return Err(damaged(format!(
                "it ends inside a chunk's head (byte {at})"
            )));
        };
        let start = at + 8;
        let body = start
            .checked_add(length as usize)
            .and_then(|end| bytes.get(start..end));
        let Some(body) = body else {
            let left = bytes.len() - start;
            let track = tracks.len() + 1;
            return Err(damaged(format!(
                "track {track} should be {length} bytes long, but only {left} are left (byte {at})"
            )));
        };
        match name {
            b"MTrk" => tracks.push((start, body)),
            other => {
                let name = String::from_utf8_lossy(other).escape_debug().to_string();
                let what = format!("a chunk '{name}' was passed over");
                remarks.add(RemarkKind::NotUnderstood, None, what);
            }
        }
        at = start + body.len();
    }
    if tracks.len() != usize::from(told) {
        let what = format!(
            "the header tells of {told} tracks, there are {}",
            tracks.len()
        );
        remarks.add(RemarkKind::NotUnderstood, None, what);
    }
    Ok(tracks)
}
