//! From exact time to the delta times of a track.

use super::notes::TickNote;
use barform_score::music::Beats;
use midly::num::{u4, u7, u28};
use midly::{MetaMessage, MidiMessage, Track, TrackEvent, TrackEventKind};
use num_rational::Ratio;
use num_traits::{CheckedAdd, CheckedDiv, CheckedMul, CheckedSub};

/// Longest delta time, 28 bits.
const MAX_DELTA: u64 = (1 << 28) - 1;

/// Note-off velocity of a device that measures none. MIDI 1.0, from memory.
const OFF_VELOCITY: u8 = 64;

/// From exact time to ticks.
pub(super) struct Clock<'a> {
    /// Ticks per quarter note.
    pub per_quarter: u16,
    /// Where each tempo begins, and its microseconds per quarter note; the first
    /// at the start of the file.
    pub tempos: &'a [(Beats, u32)],
}

impl Clock<'_> {
    /// The tick nearest to `at` plus `shift_us` microseconds, ties up.
    pub fn tick(&self, at: Beats, shift_us: i64) -> i64 {
        let shift_us = shift_us.clamp(-1_000_000_000, 1_000_000_000);
        let now = self.tempos.partition_point(|(from, _)| *from <= at).max(1) - 1;
        let us = self.tempos[now].1;
        if shift_us != 0 && self.tempos.len() > 1 {
            return self
                .across(now, at, shift_us)
                .unwrap_or_else(|| self.within(us, at, shift_us));
        }
        self.within(us, at, shift_us)
    }

    /// The tick at one tempo throughout.
    fn within(&self, us_per_quarter: u32, at: Beats, shift_us: i64) -> i64 {
        if let Some(tick) = self.tick_in_64_bits(us_per_quarter, at, shift_us) {
            return tick;
        }
        // Fits: 63 bits of beats, 24 of tempo, 15 of division.
        let (n, d) = (i128::from(at.numer()), i128::from(at.denom()));
        let (us, shift) = (i128::from(us_per_quarter), i128::from(shift_us));
        let numer = i128::from(self.per_quarter) * (n * us + shift * d);
        let denom = d * us;
        (2 * numer + denom).div_euclid(2 * denom) as i64
    }

    /// The same where all terms fit, which is nearly always and many times
    /// faster.
    fn tick_in_64_bits(&self, us_per_quarter: u32, at: Beats, shift_us: i64) -> Option<i64> {
        let us = i64::from(us_per_quarter);
        let shifted = at.numer().checked_mul(us)?;
        let shifted = shifted.checked_add(shift_us.checked_mul(at.denom())?)?;
        let twice = shifted.checked_mul(2 * i64::from(self.per_quarter))?;
        let denom = at.denom().checked_mul(us)?;
        Some(twice.checked_add(denom)?.div_euclid(denom.checked_mul(2)?))
    }

    /// The tick where the way from `at`, which lies in tempo `now`, may lead
    /// into other tempos.
    fn across(&self, mut now: usize, at: Beats, shift_us: i64) -> Option<i64> {
        let mut at = ratio(at);
        let mut left = Ratio::from_integer(i128::from(shift_us));
        loop {
            let (from, us) = self.tempos[now];
            let us = Ratio::from_integer(i128::from(us));
            let to = at.checked_add(&left.checked_div(&us)?)?;
            let edge = match self.tempos.get(now + 1) {
                Some((next, _)) if to > ratio(*next) => {
                    now += 1;
                    ratio(*next)
                }
                _ if to < ratio(from) && now > 0 => {
                    now -= 1;
                    ratio(from)
                }
                _ => {
                    let ticks = to.checked_mul(&Ratio::from_integer(self.per_quarter.into()))?;
                    let half = Ratio::new(1, 2);
                    return i64::try_from(ticks.checked_add(&half)?.floor().to_integer()).ok();
                }
            };
            left = left.checked_sub(&edge.checked_sub(&at)?.checked_mul(&us)?)?;
            at = edge;
        }
    }
}

fn ratio(beats: Beats) -> Ratio<i128> {
    Ratio::new_raw(i128::from(beats.numer()), i128::from(beats.denom()))
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
            let tempos = [(Beats::ZERO, us_per_quarter)];
            let clock = Clock { per_quarter, tempos: &tempos };
            let at = Beats::new(numer, denom);
            let q = |n: i64, d: i64| BigRational::new(BigInt::from(n), BigInt::from(d));
            let beats = q(numer, denom) + q(shift_us, i64::from(us_per_quarter));
            let exact = beats * q(i64::from(per_quarter), 1);
            let want = (exact + q(1, 2)).floor().to_integer();
            if let Ok(want) = i64::try_from(want) {
                prop_assert_eq!(clock.tick(at, shift_us), want);
            }
        }

        /// Through other tempos: seconds there and back by big rationals.
        #[test]
        fn ticks_are_the_nearest_in_seconds(
            lengths in prop::collection::vec((1i64..400, 1i64..24), 1..6),
            us in prop::collection::vec(150_000u32..3_000_000, 6),
            numer in 0i64..2_000,
            shift_us in -2_000_000i64..2_000_000,
            per_quarter in 1u16..=0x7fff,
        ) {
            let q = |n: i64, d: i64| BigRational::new(BigInt::from(n), BigInt::from(d));
            let mut tempos = vec![(Beats::ZERO, us[0])];
            // Seconds, in microseconds, at each change.
            let mut starts = vec![q(0, 1)];
            for ((n, d), us) in lengths.iter().zip(&us[1..]) {
                let (from, before) = tempos[tempos.len() - 1];
                tempos.push((from.checked_add(Beats::new(*n, *d)).unwrap(), *us));
                starts.push(&starts[starts.len() - 1] + q(*n, *d) * q(i64::from(before), 1));
            }
            let big = |b: Beats| q(b.numer(), b.denom());
            let at = Beats::new(numer, 7);
            let i = tempos.iter().rposition(|(from, _)| *from <= at).unwrap();
            let us_at = |i: usize| q(i64::from(tempos[i].1), 1);
            let moment = &starts[i] + (big(at) - big(tempos[i].0)) * us_at(i) + q(shift_us, 1);
            let j = starts.iter().rposition(|s| *s <= moment).unwrap_or(0);
            let beats = big(tempos[j].0) + (moment - &starts[j]) / us_at(j);
            let want = (beats * q(i64::from(per_quarter), 1) + q(1, 2)).floor().to_integer();
            let clock = Clock { per_quarter, tempos: &tempos };
            prop_assert_eq!(BigInt::from(clock.tick(at, shift_us)), want);
        }
    }
}
