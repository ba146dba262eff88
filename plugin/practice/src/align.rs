//! Which stroke was meant: what was played, matched to what is due.
//!
//! First the course of the player's time is found (`course`): how far ahead or
//! behind of the schedule it runs, moment by moment, so that a player who drifts
//! is followed. Then every note is given the stroke that it was most likely
//! meant to be, or none (`assign`): of all ways to do so the likeliest, by
//! dynamic programming over onset, drum, loudness and grace notes. The notes may
//! come in another order than the strokes that they were meant for.

mod assign;
mod course;

pub use assign::{Gains, assign, gain_of};
pub use course::Course;

use crate::expect::Expected;
use barform_score::music::{Limb, Voice};

/// A note that was played.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Played {
    /// Seconds from the start of the track.
    pub seconds: f64,
    /// What was struck.
    pub voice: Voice,
    /// MIDI velocity, `1 ..= 127`.
    pub velocity: u8,
}

/// A note with the stroke that it was meant to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Match {
    /// Index of the stroke.
    pub expected: usize,
    /// Index of the note.
    pub played: usize,
    /// Seconds after the moment due; before is negative.
    pub late: f64,
}

/// A performance matched to what is due.
#[derive(Debug, Clone, PartialEq)]
pub struct Alignment {
    /// Matches in order of the strokes.
    pub matches: Vec<Match>,
    /// Strokes that nobody played.
    pub missed: Vec<usize>,
    /// Notes that match no stroke.
    pub extra: Vec<usize>,
    /// Notes that are bounces of a buzz.
    pub bounces: Vec<usize>,
    /// The player's time against the schedule's.
    pub course: Course,
}

/// How far notes lie around their strokes before anything is known, in seconds:
/// between what players do to a click and what a beginner does.
const FIRST_SPREAD: f64 = 0.025;

/// Bounds of the spread that is learned, in seconds.
const SPREADS: (f64, f64) = (0.008, 0.045);

/// Rounds of learning spread and course.
const ROUNDS: usize = 4;

/// Matches a performance, in any order, to strokes in order of time.
pub fn align(expected: &[Expected], played: &[Played]) -> Alignment {
    let mut order: Vec<usize> = (0..played.len()).collect();
    order.sort_by(|a, b| played[*a].seconds.total_cmp(&played[*b].seconds));
    let notes: Vec<Played> = order.iter().map(|i| played[*i]).collect();
    let mut course = Course::find(expected, &notes);
    let mut spread = FIRST_SPREAD;
    let mut limbs = [0.0; 4];
    let mut pairs = Vec::new();
    for _ in 0..ROUNDS {
        let gains = Gains {
            spread,
            louder: loudness(expected, &notes, pairs.iter().copied()),
            limbs,
        };
        pairs = assign(expected, &notes, &course, &gains);
        tidy_graces(expected, &notes, &mut pairs);
        let mains = || {
            pairs
                .iter()
                .filter(|(e, _)| expected[*e].grace_of.is_none())
        };
        let lags = mains().map(|(e, p)| {
            (
                expected[*e].seconds,
                notes[*p].seconds - expected[*e].seconds,
            )
        });
        course = course.refined(&lags.collect::<Vec<_>>());
        let off = |(e, p): &(usize, usize)| course.off(expected[*e].seconds, notes[*p].seconds);
        for (limb, late) in Limb::ALL.into_iter().zip(&mut limbs) {
            let of_limb = mains().filter(|(e, _)| expected[*e].limb == limb);
            *late = middle(of_limb.map(off));
        }
        let gains = Gains { limbs, ..gains };
        let own = |pair: &(usize, usize)| off(pair) - gains.limb(&expected[pair.0]);
        spread = spread_of(mains().map(own)).clamp(SPREADS.0, SPREADS.1);
    }
    let mut taken = vec![false; notes.len()];
    let mut hit = vec![false; expected.len()];
    let mut matches = Vec::with_capacity(pairs.len());
    for (e, p) in pairs {
        (hit[e], taken[p]) = (true, true);
        matches.push(Match {
            expected: e,
            played: order[p],
            late: notes[p].seconds - expected[e].seconds,
        });
    }
    let bounces = bounces(expected, &notes, &matches, &order, &taken);
    for p in &bounces {
        taken[*p] = true;
    }
    let left = |flags: &[bool]| -> Vec<usize> {
        let open = flags.iter().enumerate().filter(|(_, done)| !**done);
        open.map(|(i, _)| i).collect()
    };
    let mut extra: Vec<usize> = left(&taken).into_iter().map(|p| order[p]).collect();
    extra.sort_unstable();
    Alignment {
        matches,
        missed: left(&hit),
        extra,
        bounces: bounces.into_iter().map(|p| order[p]).collect(),
        course,
    }
}

/// By what factor the player is louder than written, by the middle one of the
/// pairs of a stroke and a note; 1 for fewer than eight.
pub(crate) fn loudness(
    expected: &[Expected],
    notes: &[Played],
    pairs: impl Iterator<Item = (usize, usize)>,
) -> f64 {
    let mut ratios: Vec<f64> = pairs
        .map(|(e, p)| f64::from(notes[p].velocity) / f64::from(expected[e].velocity.max(1)))
        .collect();
    if ratios.len() < 8 {
        return 1.0;
    }
    ratios.sort_by(f64::total_cmp);
    ratios[ratios.len() / 2].clamp(0.4, 2.5)
}

/// The middle value; 0 for fewer than eight.
fn middle(values: impl Iterator<Item = f64>) -> f64 {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    match values.len() {
        0..8 => 0.0,
        n => values[n / 2],
    }
}

/// A spread that a few stray notes do not move: the middle half of a normal
/// distribution spans 1.349 standard deviations.
fn spread_of(off: impl Iterator<Item = f64>) -> f64 {
    let mut off: Vec<f64> = off.collect();
    if off.len() < 8 {
        return FIRST_SPREAD;
    }
    off.sort_by(f64::total_cmp);
    let quarter = off.len() / 4;
    (off[off.len() - 1 - quarter] - off[quarter]) / 1.349
}

/// Grace notes come before their stroke: where two notes were given the wrong
/// way round, they change places.
fn tidy_graces(expected: &[Expected], notes: &[Played], pairs: &mut [(usize, usize)]) {
    for i in 0..pairs.len() {
        let Some(main) = expected[pairs[i].0].grace_of else {
            continue;
        };
        let Ok(j) = pairs.binary_search_by_key(&main, |(e, _)| *e) else {
            continue;
        };
        let (grace, stroke) = (pairs[i].1, pairs[j].1);
        if notes[grace].seconds > notes[stroke].seconds && notes[grace].voice == notes[stroke].voice
        {
            pairs[i].1 = stroke;
            pairs[j].1 = grace;
        }
    }
}

/// Notes on a buzz's drum before it ends.
fn bounces(
    expected: &[Expected],
    notes: &[Played],
    matches: &[Match],
    order: &[usize],
    taken: &[bool],
) -> Vec<usize> {
    let mut found = Vec::new();
    let mut place = vec![0; order.len()];
    for (sorted, given) in order.iter().enumerate() {
        place[*given] = sorted;
    }
    for one in matches {
        let stroke = &expected[one.expected];
        let Some(buzz) = stroke.buzz else { continue };
        let first = place[one.played];
        let end = notes[first].seconds + buzz;
        for (p, note) in notes.iter().enumerate().skip(first + 1) {
            if note.seconds >= end {
                break;
            }
            if note.voice == stroke.voice && !taken[p] && !found.contains(&p) {
                found.push(p);
            }
        }
    }
    found.sort_unstable();
    found
}
