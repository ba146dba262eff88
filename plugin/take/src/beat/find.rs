//! Tempo, beat and bar line of a take without a click.

use super::{BeatMap, meter, pulse, refine};
use crate::TakeError;
use crate::job::Job;
use crate::strokes::Stroke;
use crate::subdivide::{Onset, Shape, viterbi};
use barform_score::music::{Articulation, Voice};

/// What is known ahead.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Wish {
    /// Pulses a minute.
    pub tempo: Option<f64>,
    /// Moment of the first beat of a bar, in seconds.
    pub first_beat: Option<f64>,
    /// Pulses in a bar.
    pub per_bar: usize,
}

/// The beats found.
#[derive(Debug, Clone, PartialEq)]
pub struct Beats {
    /// The beats; a bar begins at pulse 0.
    pub map: BeatMap,
    /// How sure the tempo and the beat are, `0 ..= 1`.
    pub beat_certainty: f64,
    /// How sure the bar line is, `0 ..= 1`.
    pub bar_certainty: f64,
    /// Strokes of a count-in ahead of the music.
    pub count_in: usize,
    /// Other tempos that fit, pulses a minute, best first.
    pub others: Vec<f64>,
}

/// Strokes by which readings are compared.
const HEARD: usize = 500;

/// Spread while searching, in seconds.
const SPREAD: f64 = 0.018;

/// How much the places in the bar count against the subdivisions.
const BAR_WEIGHT: f64 = 0.6;

/// What it counts, in nats, that a take begins on a bar line, or on a beat.
const BEGINS: (f64, f64) = (3.0, 4.0);

/// How much the usual tempo counts, in nats an octave squared.
const USUAL: f64 = 60.0;

struct Heard {
    map: BeatMap,
    score: f64,
    /// Scores of the bar lines.
    bars: Vec<f64>,
}

/// Finds the beats of strokes in order of time.
///
/// # Errors
/// [`TakeError::Nothing`] where there are too few strokes for a beat, or
/// [`TakeError::Cancelled`].
pub fn find(
    strokes: &[Stroke],
    wish: &Wish,
    shapes: &[Shape],
    job: &mut Job<'_>,
) -> Result<Beats, TakeError> {
    let count_in = count_in(strokes);
    let music = &strokes[count_in.map_or(0, |c| c.0)..];
    let moments = pulse::moments(music);
    let few = || TakeError::Nothing("too few strokes to find a beat; state a tempo".into());
    let periods = match (wish.tempo, count_in) {
        (Some(tempo), _) => vec![60.0 / tempo],
        (None, Some((_, period, _))) => vec![period],
        (None, None) => pulse::candidates(&moments, 10),
    };
    let mut heard: Vec<Heard> = Vec::new();
    for period in &periods {
        job.step(0, 1)?;
        let line = match wish.tempo.and(wish.first_beat) {
            // Both are stated: nothing to look for but the drift.
            Some(first) => Some(vec![(0.0, first), (1.0, first + period)]),
            None => pulse::line(&moments, *period, 0.06),
        };
        let Some(map) = line.and_then(BeatMap::new) else {
            continue;
        };
        let map = map.filled();
        for shift in shifts(wish, count_in) {
            let map = map.renumbered(-shift);
            heard.push(hear(music, map, wish.per_bar, shapes, job)?);
        }
    }
    heard.sort_by(|a, b| b.score.total_cmp(&a.score));
    let best = heard.first().ok_or_else(few)?;
    let tempo_of = |h: &Heard| {
        let (first, last) = (h.map.knots()[0], h.map.knots()[h.map.knots().len() - 1]);
        60.0 * (last.0 - first.0) / (last.1 - first.1)
    };
    let tempo = tempo_of(best);
    let mut others: Vec<f64> = Vec::new();
    for h in &heard[1..] {
        let other = tempo_of(h);
        if (other / tempo - 1.0).abs() > 0.04
            && others.iter().all(|o| (o / other - 1.0).abs() > 0.04)
        {
            others.push(other);
        }
    }
    others.truncate(4);
    let weights: f64 = heard
        .iter()
        .map(|h| ((h.score - best.score) / 4.0).exp())
        .sum();
    let bar = (0..best.bars.len()).max_by(|a, b| best.bars[*a].total_cmp(&best.bars[*b]));
    let mut bar = bar.unwrap_or(0) as f64;
    let top = best.bars.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let bars: f64 = best.bars.iter().map(|b| ((b - top) / 4.0).exp()).sum();
    let mut bar_certainty = 1.0 / bars.max(1.0);
    if let Some(first) = wish.first_beat {
        bar = best.map.pulse(first).round();
        bar_certainty = 1.0;
    } else if let Some((.., start)) = count_in {
        bar = best.map.pulse(start).round();
    }
    let mut map = best.map.renumbered(-bar);
    for _ in 0..3 {
        map = smooth(music, &map, shapes, job)?;
    }
    Ok(Beats {
        map,
        beat_certainty: 1.0 / weights.max(1.0),
        bar_certainty,
        count_in: count_in.map_or(0, |c| c.0),
        others,
    })
}

/// Where else the beat could be on a line of beats: on its halves, and thirds.
fn shifts(wish: &Wish, count_in: Option<(usize, f64, f64)>) -> Vec<f64> {
    if wish.first_beat.is_some() || count_in.is_some() {
        vec![0.0]
    } else {
        vec![0.0, 0.5, 1.0 / 3.0, 2.0 / 3.0, 0.25, 0.75]
    }
}

/// How well beats fit.
fn hear(
    strokes: &[Stroke],
    map: BeatMap,
    per_bar: usize,
    shapes: &[Shape],
    job: &mut Job<'_>,
) -> Result<Heard, TakeError> {
    let (reads, cost, (first, last), some) =
        subdivided(&strokes[..strokes.len().min(HEARD)], &map, shapes, job)?;
    let placed = slots(some, &reads, shapes);
    let pulses = (last - first) as f64;
    let mut bars = meter::line_of_bars(&placed, pulses, per_bar);
    // A take begins on the bar line more often than not, and on a beat.
    let begin = placed.first().map(|(_, pulse, slot)| (*pulse, *slot));
    let mut begins = 0.0;
    if let Some((pulse, slot)) = begin {
        begins = if slot.0 == 0 { BEGINS.1 } else { 0.0 };
        let at = pulse.rem_euclid(per_bar as i64) as usize;
        if slot.0 == 0 {
            bars[at] += BEGINS.0;
        }
    }
    let top = bars.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let usual = USUAL * pulse::usual(map.length(map.pulse(strokes[0].seconds) + 1.0)).ln();
    Ok(Heard {
        score: BAR_WEIGHT * top + begins + usual - cost,
        map,
        bars,
    })
}

type Subdivided<'s> = (Vec<viterbi::BeatRead>, f64, (i64, i64), &'s [Stroke]);

/// All pulses read.
fn subdivided<'s>(
    strokes: &'s [Stroke],
    map: &BeatMap,
    shapes: &[Shape],
    job: &mut Job<'_>,
) -> Result<Subdivided<'s>, TakeError> {
    let pulse = |s: &Stroke| map.pulse(s.seconds);
    let first = strokes
        .first()
        .map_or(0, |s| (pulse(s) + 0.2).floor() as i64);
    let last = strokes
        .last()
        .map_or(first, |s| (pulse(s) + 0.2).floor() as i64)
        + 1;
    let onsets: Vec<Onset> = strokes.iter().map(|s| Onset::of(s, pulse(s))).collect();
    let (reads, cost) = viterbi::read(&onsets, (first, last), map, SPREAD, shapes, job)?;
    Ok((reads, cost, (first, last), strokes))
}

/// Strokes with pulse and slot.
fn slots<'s>(
    strokes: &'s [Stroke],
    reads: &[viterbi::BeatRead],
    shapes: &[Shape],
) -> Vec<(&'s Stroke, i64, (i64, i64))> {
    let mut placed = Vec::with_capacity(strokes.len());
    for read in reads {
        let some = strokes[read.onsets.0..read.onsets.1]
            .iter()
            .zip(&read.slots);
        for (stroke, slot) in some {
            let (num, den) = shapes[read.shape].slots[*slot];
            placed.push((
                stroke,
                read.pulse + num.div_euclid(den),
                (num.rem_euclid(den), den),
            ));
        }
    }
    placed
}

/// The beats drawn anew through all strokes.
fn smooth(
    strokes: &[Stroke],
    map: &BeatMap,
    shapes: &[Shape],
    job: &mut Job<'_>,
) -> Result<BeatMap, TakeError> {
    let (reads, ..) = subdivided(strokes, map, shapes, job)?;
    let mut meant: Vec<(f64, f64)> = slots(strokes, &reads, shapes)
        .into_iter()
        .map(|(s, pulse, (num, den))| (pulse as f64 + num as f64 / den as f64, s.seconds))
        .collect();
    meant.sort_by(|a, b| a.0.total_cmp(&b.0));
    Ok(refine(map, &meant))
}

/// Strokes of a count-in, its beat in seconds, and the moment of the beat after
/// it: three to eight even strokes of the sticks ahead of everything else.
fn count_in(strokes: &[Stroke]) -> Option<(usize, f64, f64)> {
    let first = strokes.first()?;
    let sticks = |s: &Stroke| {
        s.articulation == Articulation::Cross || matches!(s.voice, Voice::Cowbell | Voice::Click)
    };
    if !sticks(first) {
        return None;
    }
    let same = |s: &&Stroke| s.voice == first.voice && s.articulation == first.articulation;
    let count = strokes.iter().take_while(same).count();
    if !(3..=8).contains(&count) || strokes.len() < count + 4 {
        return None;
    }
    let span = strokes[count - 1].seconds - first.seconds;
    let mut period = span / (count - 1) as f64;
    let gaps = strokes[..count]
        .windows(2)
        .map(|w| w[1].seconds - w[0].seconds);
    let even = gaps.clone().all(|g| (g / period - 1.0).abs() < 0.12);
    // "One, two, one two three four": half time, then in time.
    let gaps: Vec<f64> = gaps.collect();
    let mut length = period;
    if !even {
        let [a, b, c, d, e] = gaps[..] else {
            return None;
        };
        length = (c + d + e) / 3.0;
        let near = |g: f64, want: f64| (g / want - 1.0).abs() < 0.15;
        let counted = near(a, 2.0 * length)
            && near(b, 2.0 * length)
            && [c, d, e].iter().all(|g| near(*g, length));
        if !counted {
            return None;
        }
        period = length;
    }
    let follows = strokes[count].seconds - strokes[count - 1].seconds;
    let in_time = (follows / length - (follows / length).round().max(1.0)).abs() < 0.6;
    let possible = (60.0 / pulse::RANGE.1..=60.0 / pulse::RANGE.0).contains(&period);
    let start = strokes[count - 1].seconds + length;
    (in_time && possible).then_some((count, period, start))
}
