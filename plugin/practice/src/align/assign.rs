//! The likeliest way to give notes to strokes.

use super::{Course, Played};
use crate::expect::Expected;
use barform_score::music::Limb;
use std::collections::BTreeMap;

/// Notes a second that nobody asked for, before anything is known.
const EXTRA_PER_SECOND: f64 = 1.0;

/// Share of strokes that are not played, before anything is known.
const MISSED: f64 = 0.1;

/// Share of strokes that land on another drum, on each of the others.
const WRONG_DRUM: f64 = 0.01;

/// How far loudness lies around what is written, in velocities, and the most that
/// it may count for.
const LOUDNESS: (f64, f64) = (30.0, 2.0);

/// Grace notes lie this much more freely, in seconds: flams are played open or
/// closed.
const GRACE_SPREAD: f64 = 0.012;

/// Most ways kept at once. What is ever left out is the least likely of a place
/// where more than a dozen strokes are due within a tenth of a second.
const MOST_WAYS: usize = 4_096;

/// Strokes within reach of one note; bits of a set.
const MOST_IN_REACH: usize = 64;

/// What is known of the player.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gains {
    /// How far notes lie around their strokes, in seconds.
    pub spread: f64,
    /// Played velocities are this many times the written ones.
    pub louder: f64,
    /// Seconds that each limb is late by itself, in the order `R L K H`.
    pub limbs: [f64; 4],
}

impl Gains {
    /// Seconds that the limb of a stroke is late by itself.
    pub fn limb(&self, stroke: &Expected) -> f64 {
        Limb::ALL
            .iter()
            .zip(self.limbs)
            .find_map(|(limb, late)| (*limb == stroke.limb).then_some(late))
            .unwrap_or(0.0)
    }
}

/// How much likelier it is that a note, `off` seconds late for its limb, was meant as a stroke
/// than that the one is extra and the other missed, as a logarithm; `None` where
/// it is not likelier.
pub fn gain_of(stroke: &Expected, note: &Played, off: f64, gains: &Gains) -> Option<f64> {
    let spread = match stroke.grace_of {
        Some(_) => gains.spread.hypot(GRACE_SPREAD),
        None => gains.spread,
    };
    let onset = (off / spread).powi(2) / 2.0 + (spread * std::f64::consts::TAU.sqrt()).ln();
    let drum = if stroke.voice == note.voice {
        0.0
    } else {
        -WRONG_DRUM.ln()
    };
    let louder = f64::from(note.velocity) - gains.louder * f64::from(stroke.velocity);
    let loudness = ((louder / LOUDNESS.0).powi(2) / 2.0).min(LOUDNESS.1);
    let apart = -MISSED.ln() - EXTRA_PER_SECOND.ln();
    let gain = apart - onset - drum - loudness;
    (gain > 0.0).then_some(gain)
}

/// One way to give the notes so far.
struct Way {
    gain: f64,
    /// Index of the last step that gave one, plus one.
    last: usize,
}

/// Pairs of a stroke and a note, in order of the strokes, whose gains add up to
/// the most; each stroke and each note at most once. Both lists are in order of
/// time.
pub fn assign(
    expected: &[Expected],
    notes: &[Played],
    course: &Course,
    gains: &Gains,
) -> Vec<(usize, usize)> {
    // No stroke further from a note can have a gain: the bracket is where the
    // gain of the right drum at the right loudness is spent.
    let spread = gains.spread.hypot(GRACE_SPREAD);
    let apart = -MISSED.ln() - EXTRA_PER_SECOND.ln();
    let reach = spread
        * (2.0 * (apart - (gains.spread * std::f64::consts::TAU.sqrt()).ln()).max(0.0)).sqrt();
    // A limb of its own may come earlier or later than the place in the list.
    let reach = gains
        .limbs
        .iter()
        .fold(0.0_f64, |most, l| most.max(l.abs()))
        + reach;
    let due: Vec<f64> = expected.iter().map(|e| course.played(e.seconds)).collect();
    // Steps: the one before, stroke, note.
    let mut steps: Vec<(usize, usize, usize)> = Vec::new();
    // Ways by the set of strokes from `base` on that are given.
    let mut ways = BTreeMap::from([(0_u64, Way { gain: 0.0, last: 0 })]);
    let mut base = 0;
    for (number, note) in notes.iter().enumerate() {
        let first = due.partition_point(|at| *at < note.seconds - reach);
        let to = due.partition_point(|at| *at <= note.seconds + reach);
        if first > base {
            ways = moved(ways, first - base);
            base = first;
        }
        let to = to.min(base + MOST_IN_REACH);
        let likely: Vec<(usize, f64)> = (base..to)
            .filter_map(|e| {
                let off = note.seconds - due[e] - gains.limb(&expected[e]);
                let gain = gain_of(&expected[e], note, off, gains)?;
                Some((e, gain))
            })
            .collect();
        if likely.is_empty() {
            continue;
        }
        let mut next: BTreeMap<u64, Way> = BTreeMap::new();
        // The step that leads to a way is written once the best is known.
        let mut steps_of: BTreeMap<u64, (usize, usize)> = BTreeMap::new();
        for (set, way) in &ways {
            let mut offer = |set: u64, gain: f64, step: Option<(usize, usize)>| {
                let better = next.get(&set).is_none_or(|known| gain > known.gain);
                if better {
                    let last = way.last;
                    next.insert(set, Way { gain, last });
                    match step {
                        Some(step) => steps_of.insert(set, step),
                        None => steps_of.remove(&set),
                    };
                }
            };
            offer(*set, way.gain, None);
            for (e, gain) in &likely {
                let bit = 1 << (e - base);
                if set & bit == 0 {
                    offer(set | bit, way.gain + gain, Some((*e, number)));
                }
            }
        }
        for (set, (e, p)) in steps_of {
            if let Some(way) = next.get_mut(&set) {
                steps.push((way.last, e, p));
                way.last = steps.len();
            }
        }
        ways = fewest(next);
    }
    let best = ways.into_values().max_by(|a, b| a.gain.total_cmp(&b.gain));
    let mut pairs = Vec::new();
    let mut at = best.map_or(0, |way| way.last);
    while let Some((before, e, p)) = at.checked_sub(1).map(|i| steps[i]) {
        pairs.push((e, p));
        at = before;
    }
    pairs.sort_unstable();
    pairs
}

/// Ways as seen from a later stroke on: those that now are alike become one.
fn moved(ways: BTreeMap<u64, Way>, by: usize) -> BTreeMap<u64, Way> {
    let mut moved: BTreeMap<u64, Way> = BTreeMap::new();
    for (set, way) in ways {
        let set = u32::try_from(by).ok().and_then(|by| set.checked_shr(by));
        let set = set.unwrap_or(0);
        let better = moved.get(&set).is_none_or(|known| way.gain > known.gain);
        if better {
            moved.insert(set, way);
        }
    }
    moved
}

fn fewest(ways: BTreeMap<u64, Way>) -> BTreeMap<u64, Way> {
    if ways.len() <= MOST_WAYS {
        return ways;
    }
    let mut all: Vec<(u64, Way)> = ways.into_iter().collect();
    all.sort_by(|a, b| b.1.gain.total_cmp(&a.1.gain).then(a.0.cmp(&b.0)));
    all.truncate(MOST_WAYS);
    all.into_iter().collect()
}
