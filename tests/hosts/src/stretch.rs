//! The strokes of one stretch of time, each with the samples that it is allowed.

use num_traits::{One, Zero};

use crate::buffer::Buffer;
use crate::form::{Cycle, Exact, Sound, ratio};
use crate::session::{Moved, Steady, Want, float};
use crate::slack::Slack;
use crate::time::{Leg, run_on};

/// What is known of one block.
pub(super) struct Known {
    pub slack: Slack,
    pub steady: Option<Steady>,
}

/// Blocks from a start or a jump to the next or to the end.
pub(super) struct Stretch<'a> {
    pub buffers: &'a [Buffer],
    pub known: Vec<Known>,
    /// The first position as it was told.
    pub first_told: Exact,
    /// How much too early all of it may be, in beats: the block that was told
    /// twice.
    pub early_beats: f64,
    /// Five milliseconds, in samples: what lies further off is another stroke.
    pub near: i64,
}

impl Stretch<'_> {
    /// All strokes that may sound in it.
    pub fn want(&self, cycles: &[Cycle], resolution_beats: f64, wants: &mut Vec<Want>) {
        let steps = self.buffers.iter().map(|b| float(&b.slope.step));
        // Tempo may change before time has gone so far.
        let all_early = self.early_beats / steps.fold(f64::INFINITY, f64::min);
        let most = Slack {
            early: all_early,
            late: 0.0,
        };
        let slacks = self.known.iter().map(|known| known.slack);
        let most = slacks.fold(Slack::default(), Slack::or).and(most);
        let (first, last) = (&self.buffers[0], &self.buffers[self.buffers.len() - 1]);
        let (start, end) = (first.start, last.start + i64::from(last.frames()));
        for leg in self.line(most) {
            let step = float(&leg.step);
            let at = float(&leg.at);
            let hair = resolution_beats / step + 1e-4;
            for (beats, sound) in strokes_between(cycles, &leg.from, &leg.to) {
                // The difference is exact; what rounding adds is far below a sample.
                let time = at + float(&(&beats - &leg.from)) / step;
                let number = self.number_at(time);
                let near = number.saturating_sub(1)..(number + 2).min(self.known.len());
                let slack = self.known[near]
                    .iter()
                    .map(|known| known.slack)
                    .fold(Slack::default(), Slack::or);
                let early = all_early + slack.early;
                let earliest = (time - 0.5 - early - hair).ceil() as i64;
                let latest = (time + 0.5 + slack.late + hair).floor() as i64;
                if latest < start || earliest >= end {
                    continue;
                }
                // From its own report the first block knows what it begins with.
                let begins = time >= start as f64 - 0.5 + hair && beats >= self.first_told;
                wants.push(Want {
                    time,
                    first: earliest.max(start),
                    last: latest.min(end - 1),
                    optional: latest >= end || earliest < start && !begins,
                    moved: {
                        let (first, last) = (earliest - self.near, latest + self.near);
                        Moved {
                            first,
                            last,
                            optional: first < start || last >= end,
                        }
                    },
                    sound,
                    steady: self.known[number].steady,
                });
            }
        }
    }

    /// The whole line, and a little more at both ends.
    fn line(&self, most: Slack) -> Vec<Leg> {
        let mut legs: Vec<Leg> = Vec::new();
        let (first, last) = (&self.buffers[0], &self.buffers[self.buffers.len() - 1]);
        let (mut line, mut slope) = (last.end.clone(), last.slope.clone());
        slope.frames = most.early as u32 + 2;
        let end = last.start + i64::from(last.frames());
        let (beyond, _) = run_on(&mut line, end, &[slope], last.follows.as_ref());
        let within = self.buffers.iter().flat_map(|buffer| &buffer.legs);
        for leg in within.chain(&beyond) {
            match legs.last_mut() {
                Some(before) if before.goes_on_with(leg) => before.to.clone_from(&leg.to),
                _ => legs.push(leg.clone()),
            }
        }
        if let Some(leg) = legs.first_mut() {
            let more = ratio(most.late as i64 + 2, 1);
            leg.from -= &more * &first.slope.step;
            leg.at -= more;
        }
        legs
    }

    /// Number of the block at hand.
    fn number_at(&self, time: f64) -> usize {
        let after = self.buffers.partition_point(|b| b.start as f64 <= time);
        after.saturating_sub(1)
    }
}

/// All strokes in `from .. to`. Nothing sounds before beat 0, where all cycles
/// start.
fn strokes_between(cycles: &[Cycle], from: &Exact, to: &Exact) -> Vec<(Exact, Sound)> {
    let mut found = Vec::new();
    for (length, strokes) in cycles {
        let mut pass = (from / length).floor().max(Exact::zero());
        loop {
            let start = &pass * length;
            if start >= *to {
                break;
            }
            let inside = from - &start;
            let first = strokes.partition_point(|(at, _)| *at < inside);
            for (at, sound) in &strokes[first..] {
                let beats = &start + at;
                if beats >= *to {
                    break;
                }
                found.push((beats, *sound));
            }
            pass += Exact::one();
        }
    }
    found
}
