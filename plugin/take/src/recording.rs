//! The bytes of a Standard MIDI File as what was played: notes in seconds.

use crate::TakeError;
use barform_score::music::{Channel, Key, Meter, Velocity};
use midly::{Fps, MetaMessage, MidiMessage, Timing, TrackEventKind};

/// Largest file that is read, in bytes.
pub const MAX_BYTES: usize = 16 << 20;

/// Most notes of a take: more than a day of sixteenths would be no take.
pub const MAX_NOTES: usize = 400_000;

/// Most tempos, signatures, pedal and aftertouch messages.
const MAX_OTHER: usize = 2_000_000;

/// Longest take, in seconds: a day.
const MAX_SECONDS: f64 = 86_400.0;

/// Microseconds per quarter note where a file states no tempo (*Standard MIDI
/// Files 1.0*, from memory).
const USUAL_US: u32 = 500_000;

/// A note-on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Note {
    /// Seconds from the start of the file.
    pub seconds: f64,
    /// Ticks from the start of the file.
    pub tick: u64,
    /// Its channel.
    pub channel: Channel,
    /// Its key.
    pub key: Key,
    /// Its velocity.
    pub velocity: Velocity,
    /// Position of the hi-hat pedal at that moment (controller 4), if any came
    /// before.
    pub pedal: Option<u8>,
    /// Whether pressure on the key (aftertouch) followed within a second: a
    /// cymbal held with the hand.
    pub choked: bool,
}

/// What is in a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Recording {
    /// Notes in order of time.
    pub notes: Vec<Note>,
    /// Ticks per quarter note; `None` for files that count in film frames.
    pub ticks_per_quarter: Option<u16>,
    /// Tempos: tick, seconds, microseconds per quarter note. At least one, the
    /// first at tick 0.
    pub tempos: Vec<(u64, f64, u32)>,
    /// Whether the file itself states a tempo.
    pub tempo_stated: bool,
    /// Time signatures: tick, meter.
    pub meters: Vec<(u64, Meter)>,
    /// Name of the first track; may be empty.
    pub title: String,
    /// Notes on channels that were not read.
    pub other_channels: usize,
    /// How the file counts time.
    timing: Timing,
}

enum Other {
    Tempo(u32),
    Meter(Meter),
    Pedal(u8, u8),
    Pressure(u8, u8),
}

fn damaged(error: impl std::fmt::Display) -> TakeError {
    TakeError::Damaged(error.to_string())
}

impl Recording {
    /// Reads a file of type 0 or 1.
    ///
    /// # Errors
    /// [`TakeError::Damaged`], [`TakeError::TooMuch`], or
    /// [`TakeError::Nothing`] if no note is in it.
    pub fn read(bytes: &[u8]) -> Result<Recording, TakeError> {
        if bytes.len() > MAX_BYTES {
            return Err(TakeError::TooMuch(format!("more than {MAX_BYTES} bytes")));
        }
        let (header, tracks) = midly::parse(bytes).map_err(damaged)?;
        if header.format == midly::Format::Sequential {
            let what = "a file of type 2 has no common time; save it as type 0 or 1";
            return Err(TakeError::Nothing(what.into()));
        }
        let mut notes: Vec<(u64, u8, u8, u8)> = Vec::new();
        let mut others: Vec<(u64, Other)> = Vec::new();
        let mut title = None;
        for track in tracks {
            let mut tick = 0_u64;
            for event in track.map_err(damaged)? {
                let event = event.map_err(damaged)?;
                tick += u64::from(event.delta.as_int());
                match event.kind {
                    TrackEventKind::Midi { channel, message } => match message {
                        MidiMessage::NoteOn { key, vel } if vel.as_int() > 0 => {
                            notes.push((tick, channel.as_int(), key.as_int(), vel.as_int()));
                        }
                        MidiMessage::Controller { controller, value }
                            if controller.as_int() == 4 =>
                        {
                            others.push((tick, Other::Pedal(channel.as_int(), value.as_int())));
                        }
                        MidiMessage::Aftertouch { key, vel } if vel.as_int() >= 64 => {
                            others.push((tick, Other::Pressure(channel.as_int(), key.as_int())));
                        }
                        _ => {}
                    },
                    TrackEventKind::Meta(MetaMessage::Tempo(us)) if us.as_int() > 0 => {
                        others.push((tick, Other::Tempo(us.as_int())));
                    }
                    TrackEventKind::Meta(MetaMessage::TimeSignature(count, unit, ..)) => {
                        let unit = 1_u8.checked_shl(u32::from(unit));
                        let meter = unit.and_then(|unit| Meter::new(count, unit));
                        others.extend(meter.map(|m| (tick, Other::Meter(m))));
                    }
                    TrackEventKind::Meta(MetaMessage::TrackName(name)) if title.is_none() => {
                        title = Some(one_line(name));
                    }
                    _ => {}
                }
                if notes.len() > MAX_NOTES || others.len() > MAX_OTHER {
                    return Err(TakeError::TooMuch(format!("more than {MAX_NOTES} notes")));
                }
            }
        }
        // Stable: what is at one time stays in the order of the tracks.
        notes.sort_by_key(|n| n.0);
        others.sort_by_key(|o| o.0);
        let ticks_per_quarter = match header.timing {
            Timing::Metrical(ticks) if ticks.as_int() > 0 => Some(ticks.as_int()),
            Timing::Timecode(_, 0) | Timing::Metrical(_) => {
                return Err(damaged("no ticks in a beat"));
            }
            Timing::Timecode(..) => None,
        };
        let tempo_stated = others.iter().any(|(_, o)| matches!(o, Other::Tempo(_)));
        let tempos = tempos(&others, ticks_per_quarter, header.timing);
        let mut recording = Recording {
            notes: Vec::new(),
            ticks_per_quarter,
            tempos,
            tempo_stated,
            meters: Vec::new(),
            title: title.unwrap_or_default(),
            other_channels: 0,
            timing: header.timing,
        };
        for (tick, other) in &others {
            if let Other::Meter(meter) = other {
                recording.meters.push((*tick, *meter));
            }
        }
        recording.fill(&notes, &others)?;
        Ok(recording)
    }

    /// Seconds of a tick.
    pub fn seconds(&self, tick: u64) -> f64 {
        let at = self.tempos.partition_point(|t| t.0 <= tick).max(1) - 1;
        let (from, seconds, us) = self.tempos[at];
        let ticks = tick.saturating_sub(from) as f64;
        match self.timing {
            Timing::Metrical(per) => {
                seconds + ticks * f64::from(us) / 1e6 / f64::from(per.as_int())
            }
            Timing::Timecode(fps, sub) => {
                let frames = match fps {
                    Fps::Fps29 => 30_000.0 / 1001.0,
                    whole => f64::from(whole.as_int()),
                };
                tick as f64 / frames / f64::from(sub)
            }
        }
    }

    fn fill(
        &mut self,
        notes: &[(u64, u8, u8, u8)],
        others: &[(u64, Other)],
    ) -> Result<(), TakeError> {
        let percussion = Channel::PERCUSSION.index();
        // Pads send on channel 10 or, out of the box, on any one.
        let on_percussion = notes.iter().any(|n| n.1 == percussion);
        let mut pedal = [None; 16];
        let mut next = others.iter().peekable();
        // The last note of a key, until pressure or a second has passed.
        let mut open: Vec<Option<usize>> = vec![None; 16 * 128];
        for (tick, channel, key, velocity) in notes {
            while let Some((at, other)) = next.next_if(|o| o.0 <= *tick) {
                self.apply(*at, other, &mut pedal, &mut open);
            }
            if on_percussion && *channel != percussion {
                self.other_channels += 1;
                continue;
            }
            let made = (
                Channel::new(channel + 1),
                Key::new(*key),
                Velocity::new(*velocity),
            );
            let (Some(channel), Some(key), Some(velocity)) = made else {
                continue;
            };
            let index = usize::from(channel.index());
            open[index * 128 + usize::from(key.number())] = Some(self.notes.len());
            self.notes.push(Note {
                seconds: self.seconds(*tick),
                tick: *tick,
                channel,
                key,
                velocity,
                pedal: pedal[index],
                choked: false,
            });
        }
        for (at, other) in next {
            self.apply(*at, other, &mut pedal, &mut open);
        }
        match (self.notes.first(), self.notes.last()) {
            (Some(first), Some(last)) if last.seconds - first.seconds > MAX_SECONDS => {
                Err(TakeError::TooMuch("a take of more than a day".into()))
            }
            (Some(_), Some(_)) => Ok(()),
            _ => Err(TakeError::Nothing("there is no note in the file".into())),
        }
    }

    fn apply(
        &mut self,
        tick: u64,
        other: &Other,
        pedal: &mut [Option<u8>; 16],
        open: &mut [Option<usize>],
    ) {
        match other {
            Other::Pedal(channel, value) => pedal[usize::from(*channel & 15)] = Some(*value),
            Other::Pressure(channel, key) => {
                let at = usize::from(*channel & 15) * 128 + usize::from(*key & 127);
                let now = self.seconds(tick);
                if let Some(note) = open[at].take().and_then(|i| self.notes.get_mut(i)) {
                    note.choked = now - note.seconds < 1.0;
                }
            }
            Other::Tempo(_) | Other::Meter(_) => {}
        }
    }

    /// Whether every note is on a tick that a simple subdivision has.
    pub fn on_ticks(&self, tick: u64) -> bool {
        let Some(per) = self.ticks_per_quarter.map(u64::from) else {
            return false;
        };
        // Halves to twelfths and thirds of them; a tick either way is rounding.
        [48_u64, 20, 28, 36].into_iter().any(|slots| {
            let slot = (tick % per * slots + per / 2) / per;
            let exact = slot as f64 * per as f64 / slots as f64;
            (exact - (tick % per) as f64).abs() <= 0.5
        })
    }
}

/// Seconds at which each tempo begins.
fn tempos(others: &[(u64, Other)], per: Option<u16>, timing: Timing) -> Vec<(u64, f64, u32)> {
    let mut tempos = vec![(0, 0.0, USUAL_US)];
    let (Some(per), Timing::Metrical(_)) = (per, timing) else {
        return tempos;
    };
    for (tick, other) in others {
        let Other::Tempo(us) = other else { continue };
        let (from, seconds, before) = tempos[tempos.len() - 1];
        let ticks = (tick - from) as f64;
        let now = seconds + ticks * f64::from(before) / 1e6 / f64::from(per);
        if *tick == from {
            tempos.pop();
        }
        tempos.push((*tick, now, *us));
    }
    tempos
}

fn one_line(bytes: &[u8]) -> String {
    let text = String::from_utf8_lossy(&bytes[..bytes.len().min(800)]);
    let kept = text.chars().filter(|c| !c.is_control());
    kept.take(barform_score::score::MAX_NAME_CHARS).collect()
}
