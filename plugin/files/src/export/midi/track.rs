//! From exact time to the delta times of a track.

use super::notes::TickNote;
use barform_score::music::Beats;
use midly::num::{u4, u7, u28};
use midly::{MetaMessage, MidiMessage, Track, TrackEvent, TrackEventKind};

/// Longest delta time, 28 bits.
const MAX_DELTA: u64 = (1 << 28) - 1;

/// Note-off velocity of a device that measures none. MIDI 1.0, from memory.
const OFF_VELOCITY: u8 = 64;

/// From exact time to ticks.
pub(super) struct Clock {
    /// Ticks per quarter note.
    pub per_quarter: u16,
    /// Microseconds per quarter note.
    pub us_per_quarter: u32,
}

impl Clock {
    /// The tick nearest to `at` plus `shift_us` microseconds, ties up.
    pub fn tick(&self, at: Beats, shift_us: i64) -> i64 {
        if let Some(tick) = self.tick_in_64_bits(at, shift_us) {
            return tick;
        }
        // Fits: 63 bits of beats, 24 of tempo, 15 of division.
        let (n, d) = (i128::from(at.numer()), i128::from(at.denom()));
        let us = i128::from(self.us_per_quarter);
        let shift = i128::from(shift_us.clamp(-1_000_000_000, 1_000_000_000));
        let numer = i128::from(self.per_quarter) * (n * us + shift * d);
        let denom = d * us;
        (2 * numer + denom).div_euclid(2 * denom) as i64
    }

    /// The same where all terms fit, which is nearly always and many times
    /// faster.
    fn tick_in_64_bits(&self, at: Beats, shift_us: i64) -> Option<i64> {
        let us = i64::from(self.us_per_quarter);
        let shift = shift_us.clamp(-1_000_000_000, 1_000_000_000);
        let shifted = at.numer().checked_mul(us)?;
        let shifted = shifted.checked_add(shift.checked_mul(at.denom())?)?;
        let twice = shifted.checked_mul(2 * i64::from(self.per_quarter))?;
        let denom = at.denom().checked_mul(us)?;
        Some(twice.checked_add(denom)?.div_euclid(denom.checked_mul(2)?))
    }
}

/// The track of `notes`, in order of their ticks.
pub(super) fn note_track<'a>(name: &'a str, notes: &[TickNote], end: u64) -> Track<'a> {
    let mut events: Vec<(u64, bool, TickNote)> = notes.iter().map(|n| (n.on, true, *n)).collect();
    events.extend(notes.iter().map(|n| (n.off, false, *n)));
    // Ends before starts.
    events.sort_by_key(|(tick, starts, _)| (*tick, *starts));
    let mut builder = TrackBuilder::named(name);
    for (tick, starts, TickNote { note, .. }) in events {
        let key = u7::from(note.key.number());
        let message = if starts {
            MidiMessage::NoteOn {
                key,
                vel: u7::from(note.velocity.value()),
            }
        } else {
            MidiMessage::NoteOff {
                key,
                vel: u7::from(OFF_VELOCITY),
            }
        };
        let channel = u4::from(note.channel.index());
        builder.push(tick, TrackEventKind::Midi { channel, message });
    }
    builder.finish(end)
}

/// Turns ticks into delta times.
pub(super) struct TrackBuilder<'a> {
    events: Track<'a>,
    now: u64,
}

impl<'a> TrackBuilder<'a> {
    /// A track that begins with its name.
    pub fn named(name: &'a str) -> TrackBuilder<'a> {
        let mut builder = TrackBuilder {
            events: Vec::new(),
            now: 0,
        };
        builder.push(
            0,
            TrackEventKind::Meta(MetaMessage::TrackName(name.as_bytes())),
        );
        builder
    }

    /// Adds an event; `tick` must not fall below the last one's.
    pub fn push(&mut self, tick: u64, kind: TrackEventKind<'a>) {
        let mut delta = tick.saturating_sub(self.now);
        // A silence longer than a delta time can say is cut by empty texts.
        while delta > MAX_DELTA {
            let kind = TrackEventKind::Meta(MetaMessage::Text(b""));
            self.events.push(TrackEvent {
                delta: u28::from(MAX_DELTA as u32),
                kind,
            });
            delta -= MAX_DELTA;
        }
        self.events.push(TrackEvent {
            delta: u28::from(delta as u32),
            kind,
        });
        self.now = tick;
    }

    /// Ends the track at `end`, or at its last event if that is later.
    pub fn finish(mut self, end: u64) -> Track<'a> {
        self.push(
            end.max(self.now),
            TrackEventKind::Meta(MetaMessage::EndOfTrack),
        );
        self.events
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use num_bigint::BigInt;
    use num_rational::BigRational;
    use proptest::prelude::*;

    proptest! {
        /// Against big rationals, for terms that fit 64 bits and for those
        /// that do not.
        #[test]
        fn ticks_are_the_nearest_ties_up(
            numer in prop_oneof![0i64..100_000, 0i64..1 << 60],
            denom in prop_oneof![1i64..200, 1i64..1 << 40],
            shift_us in -200_000i64..200_000,
            per_quarter in 1u16..=0x7fff,
            us_per_quarter in 150_000u32..3_000_000,
        ) {
            let clock = Clock { per_quarter, us_per_quarter };
            let at = Beats::new(numer, denom);
            let q = |n: i64, d: i64| BigRational::new(BigInt::from(n), BigInt::from(d));
            let beats = q(numer, denom) + q(shift_us, i64::from(us_per_quarter));
            let exact = beats * q(i64::from(per_quarter), 1);
            let want = (exact + q(1, 2)).floor().to_integer();
            if let Ok(want) = i64::try_from(want) {
                prop_assert_eq!(clock.tick(at, shift_us), want);
            }
        }
    }
}
