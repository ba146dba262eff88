//! From notes to strokes: what belongs to one stroke becomes one.
//!
//! In: notes of one track or of all, in order of time. Out: main strokes with
//! the number of their grace notes and bounces. Never here: a grid, a hand.
//!
//! Grace notes are known in two ways. As this program writes them: taps of ghost
//! level, each the grace time before the next, on the nearest tick. As they are
//! played: softer than what follows on the same drum, so close before it that no
//! slot lies between. Bounces are known as this program writes them only; on a
//! pad or a module a press roll is no fixed pattern.

use super::clock::Clock;
use crate::export;
use barform_play::player::BOUNCE_FADE;
use barform_score::music::{Articulation, Beats, Graces, Kit, Velocity, Voice};
use barform_score::timeline::BOUNCES;

/// Longest time from a played grace note to what it leads to, in microseconds.
/// Common practice, no source.
const GRACE_US: i64 = 42_000;

/// A note whose drum is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Hit {
    /// Ticks from the start of the file.
    pub tick: u64,
    /// The instrument.
    pub voice: Voice,
    /// How it is struck.
    pub articulation: Articulation,
    /// How loud.
    pub velocity: Velocity,
    /// Whether it is known to be a foot's.
    pub foot: bool,
}

/// A stroke.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Played {
    /// The main note.
    pub hit: Hit,
    /// Grace notes before it.
    pub graces: usize,
    /// Velocity of the last of them.
    pub tap: Option<Velocity>,
    /// Bounces after it, if it is buzzed.
    pub bounces: Option<usize>,
}

/// How the writer sets ornaments, and whether only that counts.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ornaments<'k> {
    /// Ticks and time.
    pub clock: Clock,
    /// The kit, for ghost levels.
    pub kit: &'k Kit,
    /// Whether the file is one of ours: then nothing else is an ornament.
    pub ours: bool,
    /// Whether main strokes were rounded to their ticks, so that the distance
    /// of an ornament may be one tick more or less.
    pub slack: bool,
}

impl Ornaments<'_> {
    /// Main strokes of notes in order of time.
    pub fn strokes(&self, hits: &[Hit]) -> Vec<Played> {
        let mut used = vec![false; hits.len()];
        let mut bounces = vec![None; hits.len()];
        for i in 0..hits.len() {
            if !used[i] && !hits[i].foot {
                bounces[i] = self.bounces(hits, i, &mut used);
            }
        }
        let mut graces = vec![(0, None); hits.len()];
        for i in (0..hits.len()).rev() {
            if used[i] || hits[i].foot {
                continue;
            }
            graces[i] = self.written_graces(hits, i, &mut used);
            if graces[i].0 == 0 && !self.ours {
                graces[i] = self.played_graces(hits, i, &mut used);
            }
        }
        let main = (0..hits.len()).filter(|i| !used[*i]);
        main.map(|i| Played {
            hit: hits[i],
            graces: graces[i].0,
            tap: graces[i].1,
            bounces: bounces[i],
        })
        .collect()
    }

    /// The note on the drum of `hits[i]` at a tick, if it is not used. With
    /// slack, one tick more or less is the same.
    fn at(&self, hits: &[Hit], i: usize, tick: i64, used: &[bool]) -> Option<usize> {
        let slack = i64::from(self.slack);
        let near = [0, -slack, slack];
        near.into_iter().find_map(|off| {
            let tick = u64::try_from(tick.checked_add(off)?).ok()?;
            let first = hits.partition_point(|h| h.tick < tick);
            let here = hits[first..].iter().take_while(|h| h.tick == tick);
            here.zip(first..)
                .find(|(h, j)| *j != i && !used[*j] && same_drum(h, &hits[i]))
                .map(|(_, j)| j)
        })
    }

    /// Whether a velocity is the ghost level of the drum where that of another
    /// note on it is `main`: at some loudness in percent, both come out so.
    fn is_tap(&self, tap: Velocity, main: &Hit) -> bool {
        let curve = self.kit.voice(main.voice).curve;
        let scaled = |v: Velocity, percent: i32| {
            Velocity::clamped(f64::from(v.value()) * f64::from(percent) / 100.0)
        };
        tap == curve.ghost
            || (10..=150).any(|percent| {
                scaled(curve.ghost, percent) == tap
                    && [curve.ghost, curve.normal, curve.accent]
                        .into_iter()
                        .any(|v| scaled(v, percent) == main.velocity)
            })
    }

    /// Grace notes of `hits[i]` as this program writes them.
    fn written_graces(
        &self,
        hits: &[Hit],
        i: usize,
        used: &mut [bool],
    ) -> (usize, Option<Velocity>) {
        let grace_us = (export::Options::default().grace_ms * 1000.0).round() as i64;
        let (mut count, mut tap) = (0, None);
        while count < Graces::MAX {
            let shift = -grace_us * (count as i64 + 1);
            let tick = self.clock.shifted(hits[i].tick, shift);
            let Some(j) = self.at(hits, i, tick, used) else {
                break;
            };
            // All of one stroke are as loud as each other.
            let like = tap.is_none_or(|tap| tap == hits[j].velocity);
            let is_tap = like && self.is_tap(hits[j].velocity, &hits[i]);
            if !is_tap || hits[j].tick >= hits[i].tick {
                break;
            }
            used[j] = true;
            tap = tap.or(Some(hits[j].velocity));
            count += 1;
        }
        (count, tap)
    }

    /// Grace notes of `hits[i]` as a player sets them: one after the other on
    /// one drum, each softer than the main note.
    fn played_graces(
        &self,
        hits: &[Hit],
        i: usize,
        used: &mut [bool],
    ) -> (usize, Option<Velocity>) {
        // No slot of the finest even cut lies so close.
        let twelfth = self.clock.us(Beats::new(1, 13));
        let window = GRACE_US.min(twelfth);
        let (mut count, mut next, mut tap) = (0, i, None);
        while count < Graces::MAX {
            let mut earlier = (0..next).rev().take_while(|j| {
                let gap = hits[next].tick - hits[*j].tick;
                // At once past what a file of this length can hold.
                self.clock.beats(gap).map_or(i64::MAX, |b| self.clock.us(b)) <= window
            });
            let grace = earlier.find(|j| {
                !used[*j]
                    && same_drum(&hits[*j], &hits[i])
                    && hits[*j].tick < hits[next].tick
                    && hits[*j].velocity < hits[i].velocity
            });
            let Some(j) = grace else { break };
            used[j] = true;
            tap = tap.or(Some(hits[j].velocity));
            (count, next) = (count + 1, j);
        }
        (count, tap)
    }

    /// Bounces after `hits[i]`, each softer than the one before by the writer's
    /// factor.
    fn bounces(&self, hits: &[Hit], i: usize, used: &mut [bool]) -> Option<usize> {
        let mut found = Vec::new();
        while found.len() < BOUNCES {
            let n = found.len() as i32 + 1;
            let tick = self.clock.shifted(hits[i].tick, buzz_us() * i64::from(n));
            let softer = f64::from(hits[i].velocity.value()) * BOUNCE_FADE.powi(n);
            match self.at(hits, i, tick, used) {
                Some(j) if hits[j].velocity == Velocity::clamped(softer) => found.push(j),
                _ => break,
            }
        }
        // One soft note so soon after may be anything, two are not.
        let least = if self.ours { 1 } else { 2 };
        if found.len() < least {
            return None;
        }
        found.iter().for_each(|j| used[*j] = true);
        Some(found.len())
    }
}

/// Time between bounces as this program writes them, in microseconds.
pub(super) fn buzz_us() -> i64 {
    (export::Options::default().buzz_ms * 1000.0).round() as i64
}

/// Shortest and longest slot on which so many bounces sound.
pub(super) fn room_us(bounces: usize) -> (i64, i64) {
    let most = if bounces >= BOUNCES {
        i64::MAX
    } else {
        buzz_us() * (bounces as i64 + 1)
    };
    (buzz_us() * bounces as i64, most)
}

fn same_drum(a: &Hit, b: &Hit) -> bool {
    a.voice == b.voice && a.articulation == b.articulation && a.foot == b.foot
}
