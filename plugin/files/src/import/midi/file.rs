//! The bytes of a Standard MIDI File as plain values in ticks.
//!
//! In: bytes. Out: notes, marks, signatures, tempo, all tracks together in
//! order of time, or an error with the track and the byte where reading ended.
//! Never here: what a key or a mark means, beats, a grid.

use super::chunks::{chunks, damaged, header};
use crate::import::{ImportError, RemarkKind, Remarks};
use barform_score::music::{Beats, Channel, Key, Meter, Velocity};
use midly::{EventIter, Fps, MetaMessage, MidiMessage, Timing, TrackEventKind};
use std::collections::BTreeMap;

/// Largest file that is read, in bytes.
pub const MAX_BYTES: usize = 16 << 20;

/// Most notes of a file. A hundred thousand bars of four sixteenths a beat do
/// not fit one score either.
pub const MAX_NOTES: usize = 400_000;

/// Most markers, signatures and tempos of a file.
pub const MAX_MARKS: usize = 200_000;

/// Tempo of a file that states none: 120 beats per minute (*Standard MIDI Files
/// 1.0*, from memory).
const USUAL_US: u32 = 500_000;

/// A note-on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct RawNote {
    /// Ticks from the start of the file.
    pub tick: u64,
    /// Its channel.
    pub channel: Channel,
    /// Its key.
    pub key: Key,
    /// Its velocity.
    pub velocity: Velocity,
    /// Index into [`File::tracks`].
    pub track: usize,
}

/// What a track is called and how much it plays.
#[derive(Debug, Clone, Default)]
pub(super) struct Track {
    /// Its name; may be empty.
    pub name: String,
    /// Note-ons.
    pub notes: usize,
}

/// A file, all tracks together.
#[derive(Debug)]
pub(super) struct File {
    /// Length of a tick in beats.
    pub per_tick: Beats,
    /// First tempo, microseconds per quarter note.
    pub us_per_quarter: u32,
    /// Name of the first track where no note is in it, else empty.
    pub title: String,
    /// Tracks in order.
    pub tracks: Vec<Track>,
    /// Notes in order of time; of one time in order of tracks.
    pub notes: Vec<RawNote>,
    /// Time signatures in order, at most one per tick.
    pub signatures: Vec<(u64, Meter)>,
    /// Markers, cue points and lyrics in order.
    pub marks: Vec<(u64, String)>,
    /// Tempos in order: tick, microseconds per quarter note.
    pub tempos: Vec<(u64, u32)>,
    /// Tick of the first track's last event.
    pub end: u64,
}

/// Longest text of a mark that is kept, in bytes.
const MAX_TEXT_BYTES: usize = 800;

/// Text as it stands in the file, UTF-8 or, where it is not, Latin-1; one line.
fn text(bytes: &[u8]) -> String {
    let bytes = &bytes[..bytes.len().min(MAX_TEXT_BYTES)];
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(e) if e.error_len().is_none() => {
            String::from_utf8_lossy(&bytes[..e.valid_up_to()]).into_owned()
        }
        Err(_) => bytes.iter().map(|b| char::from(*b)).collect(),
    };
    let one_line = text.chars().filter(|c| !c.is_control());
    one_line
        .take(barform_score::score::MAX_NAME_CHARS)
        .collect()
}

impl File {
    /// Reads all of it.
    pub fn read(bytes: &[u8], remarks: &mut Remarks) -> Result<File, ImportError> {
        if bytes.len() > MAX_BYTES {
            return Err(ImportError::TooLarge {
                what: "the file".into(),
                limit: MAX_BYTES as u64,
            });
        }
        let (format, told, timing, first) = header(bytes)?;
        let chunks = chunks(bytes, first, told, remarks)?;
        if format == 0 && chunks.len() > 1 {
            let what = "a file of type 0 with more than one track was read as type 1";
            remarks.add(RemarkKind::NotUnderstood, None, what);
        }
        let mut file = File {
            per_tick: Beats::ZERO,
            us_per_quarter: USUAL_US,
            title: String::new(),
            tracks: Vec::new(),
            notes: Vec::new(),
            signatures: Vec::new(),
            marks: Vec::new(),
            tempos: Vec::new(),
            end: 0,
        };
        let mut other = BTreeMap::new();
        for (number, (start, body)) in chunks.into_iter().enumerate() {
            file.track(number, start, body, &mut other, remarks)?;
        }
        for (what, times) in other {
            for _ in 0..times {
                remarks.add(RemarkKind::NotKept, None, what);
            }
        }
        file.settle(timing, remarks)?;
        Ok(file)
    }

    /// Reads a track.
    fn track(
        &mut self,
        number: usize,
        start: usize,
        body: &[u8],
        other: &mut BTreeMap<&'static str, u32>,
        remarks: &mut Remarks,
    ) -> Result<(), ImportError> {
        let mut track = Track::default();
        let (mut tick, mut ended) = (0_u64, false);
        // Which keys sound, by channel.
        let mut sounding = [0_u128; 16];
        let mut events = EventIter::new(body);
        while !ended && !events.unread().is_empty() {
            let at = start + body.len() - events.unread().len();
            let Some(Ok(event)) = events.next() else {
                let number = number + 1;
                return Err(damaged(format!("track {number} has no event at byte {at}")));
            };
            tick += u64::from(event.delta.as_int());
            match event.kind {
                TrackEventKind::Midi { channel, message } => {
                    let held = &mut sounding[usize::from(channel.as_int())];
                    match message {
                        MidiMessage::NoteOn { key, vel } if vel > 0 => {
                            let bit = 1_u128 << key.as_int();
                            if *held & bit != 0 {
                                let what = "notes that begin while their key still sounds";
                                *other.entry(what).or_default() += 1;
                            }
                            *held |= bit;
                            let parts = (
                                Channel::new(channel.as_int() + 1),
                                Key::new(key.as_int()),
                                Velocity::new(vel.as_int()),
                            );
                            if let (Some(channel), Some(key), Some(velocity)) = parts {
                                self.notes.push(RawNote {
                                    tick,
                                    channel,
                                    key,
                                    velocity,
                                    track: number,
                                });
                                track.notes += 1;
                            }
                        }
                        MidiMessage::NoteOn { key, .. } | MidiMessage::NoteOff { key, .. } => {
                            *held &= !(1_u128 << key.as_int());
                        }
                        _ => {
                            let what = "controllers, programs and pressure";
                            *other.entry(what).or_default() += 1;
                        }
                    }
                }
                TrackEventKind::Meta(meta) => {
                    ended = self.meta(tick, meta, &mut track, remarks);
                }
                TrackEventKind::SysEx(_) | TrackEventKind::Escape(_) => {
                    *other.entry("messages to a certain instrument").or_default() += 1;
                }
            }
            for (what, many, most) in [
                ("notes", self.notes.len(), MAX_NOTES),
                ("markers", self.marks.len(), MAX_MARKS),
                ("time signatures", self.signatures.len(), MAX_MARKS),
                ("tempos", self.tempos.len(), MAX_MARKS),
            ] {
                if many > most {
                    return Err(ImportError::TooMuch(format!("more than {most} {what}")));
                }
            }
        }
        if !ended {
            let what = format!("track {} has no end mark", number + 1);
            remarks.add(RemarkKind::NotUnderstood, None, what);
        }
        let hanging: u32 = sounding.iter().map(|keys| keys.count_ones()).sum();
        if hanging > 0 {
            *other.entry("notes without an end").or_default() += hanging;
        }
        if number == 0 {
            self.end = tick;
        }
        self.tracks.push(track);
        Ok(())
    }

    /// Takes a meta event; whether it ends the track.
    fn meta(
        &mut self,
        tick: u64,
        meta: MetaMessage<'_>,
        track: &mut Track,
        remarks: &mut Remarks,
    ) -> bool {
        match meta {
            MetaMessage::EndOfTrack => return true,
            MetaMessage::TrackName(name) if track.name.is_empty() => track.name = text(name),
            MetaMessage::Tempo(us) if us.as_int() > 0 => self.tempos.push((tick, us.as_int())),
            MetaMessage::Tempo(_) => {
                remarks.add(RemarkKind::NotUnderstood, None, "a tempo without end");
            }
            MetaMessage::TimeSignature(count, power, ..) => {
                let unit = 1_u8.checked_shl(power.into()).unwrap_or(0);
                let meter = (unit > 0).then(|| Meter::new(count, unit)).flatten();
                match meter {
                    Some(meter) => self.signatures.push((tick, meter)),
                    None => {
                        let what = format!("a time signature of {count} over 2 to the {power}");
                        remarks.add(RemarkKind::NotUnderstood, None, what);
                    }
                }
            }
            MetaMessage::Marker(mark) | MetaMessage::CuePoint(mark) | MetaMessage::Lyric(mark) => {
                self.marks.push((tick, text(mark)));
            }
            MetaMessage::KeySignature(..) => {
                remarks.add(RemarkKind::NotKept, None, "a key signature");
            }
            _ => {}
        }
        false
    }

    /// Puts all tracks in one order and works out what a tick is.
    fn settle(&mut self, timing: Timing, remarks: &mut Remarks) -> Result<(), ImportError> {
        self.notes.sort_by_key(|n| (n.tick, n.track));
        self.marks.sort_by_key(|(tick, _)| *tick);
        self.tempos.sort_by_key(|(tick, _)| *tick);
        // Of several at one tick the last one holds.
        self.signatures.reverse();
        self.signatures.sort_by_key(|(tick, _)| *tick);
        self.signatures.dedup_by_key(|(tick, _)| *tick);
        match self.tempos.first() {
            Some((_, us)) => self.us_per_quarter = *us,
            None => {
                let what = "no tempo is stated: 120 beats per minute";
                remarks.add(RemarkKind::Assumed, None, what);
            }
        }
        if let Some(track) = self
            .tracks
            .first()
            .filter(|t| t.notes == 0 || self.tracks.len() == 1)
        {
            self.title = track.name.clone();
        }
        self.per_tick = match timing {
            Timing::Metrical(ticks) => Beats::new(1, i64::from(ticks.as_int())),
            // Ticks are parts of a second there; the tempo says how many of
            // them are a beat.
            Timing::Timecode(fps, parts) => {
                let (frames, seconds) = match fps {
                    Fps::Fps29 => (30_000, 1_001),
                    other => (i64::from(other.as_int()), 1),
                };
                let us = i64::from(self.us_per_quarter);
                Beats::new(1_000_000 * seconds, frames * i64::from(parts) * us)
            }
        };
        Ok(())
    }
}
