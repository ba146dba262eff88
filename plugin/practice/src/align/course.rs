//! The course of a player's time against the schedule's.

use super::Played;
use crate::expect::Expected;
use crate::line::Line;
use barform_score::music::Voice;

/// Seconds of the schedule that are judged at a time.
const CHUNK: f64 = 1.0;

/// Fastest drift that is followed, as a share of the tempo.
const MOST_RATE: f64 = 0.07;

/// Steps in which rates and offsets are tried.
const RATE_STEP: f64 = 0.005;
const OFFSET_STEP: f64 = 0.008;

/// How far off the first strokes may be, in seconds.
const FIRST_OFFSET: f64 = 0.25;

/// Ways that are kept from chunk to chunk.
const MOST_WAYS: usize = 300;

/// Width of the likelihood around a stroke, in seconds.
const WIDTH: f64 = 0.025;

/// Seconds between two values of the table of likelihoods.
const GRAIN: f64 = 0.002;

/// Likelihood of a note near a stroke on another drum, and of one near none,
/// against one on its stroke.
const OTHER_DRUM: f64 = 0.15;
const NONE: f64 = 0.05;

/// Seconds on either side that the course is averaged over.
const SMOOTH: f64 = 2.5;

/// How late the player runs, at moments of the schedule: straight lines between.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Course {
    /// Moments due and seconds late, in order; none for a player on time.
    pub points: Vec<(f64, f64)>,
}

impl Course {
    /// How late the player runs at a moment of the schedule, in seconds.
    pub fn late(&self, due: f64) -> f64 {
        let after = self.points.partition_point(|(at, _)| *at <= due);
        match (after.checked_sub(1), self.points.get(after)) {
            (None, None) => 0.0,
            (None, Some((_, late))) => *late,
            (Some(before), None) => self.points[before].1,
            (Some(before), Some((to, late))) => {
                let (from, was) = self.points[before];
                was + (late - was) * (due - from) / (to - from)
            }
        }
    }

    /// When a stroke due at a moment comes from this player.
    pub fn played(&self, due: f64) -> f64 {
        due + self.late(due)
    }

    /// How late a note is for this player, in seconds.
    pub fn off(&self, due: f64, seconds: f64) -> f64 {
        seconds - self.played(due)
    }

    /// The course through pairs of a moment due and seconds late, averaged over a
    /// few seconds; lines through each neighbourhood, so that a steady drift is
    /// not flattened at the ends.
    pub fn refined(&self, lags: &[(f64, f64)]) -> Course {
        if lags.len() < 8 {
            return self.clone();
        }
        let mut lags = lags.to_vec();
        lags.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (first, last) = (lags[0].0, lags[lags.len() - 1].0);
        let count = ((last - first) / (SMOOTH / 2.0)).ceil().max(1.0) as usize;
        let mut points = Vec::with_capacity(count + 1);
        for n in 0..=count {
            let at = first + (last - first) * n as f64 / count as f64;
            let from = lags.partition_point(|(t, _)| *t < at - SMOOTH);
            let to = lags.partition_point(|(t, _)| *t <= at + SMOOTH);
            if to - from < 6 {
                points.push((at, self.late(at)));
                continue;
            }
            let near = lags[from..to].iter().map(|(t, lag)| (*t - at, *lag));
            points.push((at, line_at_zero(near)));
        }
        points.dedup_by(|b, a| b.0 <= a.0);
        Course { points }
    }

    /// Follows a player from the first stroke on.
    pub fn find(expected: &[Expected], notes: &[Played]) -> Course {
        let (Some(first), Some(last)) = (expected.first(), expected.last()) else {
            return Course::default();
        };
        let table = Table::new(expected);
        let start = first.seconds;
        let chunks = ((last.seconds - start) / CHUNK).floor() as usize + 1;
        let mut ways = first_ways();
        let mut steps: Vec<(usize, f64, f64)> = Vec::new();
        for chunk in 0..chunks {
            let from = start + chunk as f64 * CHUNK;
            let mut next: Vec<Way> = Vec::with_capacity(15 * ways.len());
            for way in &ways {
                for (turn, shift) in turns(chunk) {
                    let rate = way.rate + turn;
                    if rate.abs() > MOST_RATE + 1e-9 {
                        continue;
                    }
                    let offset = way.offset + shift;
                    let mut score = way.score - (turn / 0.006).powi(2) - (shift / 0.012).powi(2);
                    score += table.score(notes, from, offset, rate);
                    next.push(Way {
                        offset: offset + rate * CHUNK,
                        rate,
                        score,
                        step: way.step,
                        line: (from, offset),
                    });
                }
            }
            next.sort_by(|a, b| b.score.total_cmp(&a.score));
            let mut seen = std::collections::HashSet::new();
            next.retain(|way| seen.insert(way.cell()));
            next.truncate(MOST_WAYS);
            for way in &mut next {
                steps.push((way.step, way.line.0, way.line.1));
                way.step = steps.len();
            }
            ways = next;
        }
        let Some(best) = ways.first() else {
            return Course::default();
        };
        let mut points = vec![(start + chunks as f64 * CHUNK, best.offset)];
        let mut at = best.step;
        while let Some((before, due, late)) = at.checked_sub(1).map(|i| steps[i]) {
            points.push((due, late));
            at = before;
        }
        points.reverse();
        Course { points }
    }
}

/// A straight line through points, at zero: least squares, the farthest tenth left
/// out at a second look.
fn line_at_zero(points: impl Iterator<Item = (f64, f64)>) -> f64 {
    let mut points: Vec<(f64, f64)> = points.collect();
    let fit = |points: &[(f64, f64)]| {
        let line = Line::through(points);
        // Points of one moment have no slope.
        let slope = if line.sxx > 0.1 { line.slope } else { 0.0 };
        Line { slope, ..line }
    };
    let first = fit(&points);
    let off = |p: &(f64, f64)| (p.1 - first.at(p.0)).abs();
    points.sort_by(|a, b| off(a).total_cmp(&off(b)));
    points.truncate((points.len() * 9).div_ceil(10));
    fit(&points).at(0.0)
}

/// A way through the chunks so far.
struct Way {
    /// Seconds late at the start of the next chunk.
    offset: f64,
    /// Seconds later with every second.
    rate: f64,
    score: f64,
    step: usize,
    line: (f64, f64),
}

impl Way {
    /// Ways of one cell are alike from here on.
    fn cell(&self) -> (i64, i64) {
        let steps = |value: f64, step: f64| (value / step).round() as i64;
        (
            steps(self.offset, OFFSET_STEP / 2.0),
            steps(self.rate, RATE_STEP),
        )
    }
}

fn first_ways() -> Vec<Way> {
    let offsets = (FIRST_OFFSET / OFFSET_STEP) as i64;
    let rates = (MOST_RATE / RATE_STEP) as i64;
    let mut ways = Vec::new();
    for offset in -offsets..=offsets {
        for rate in -rates..=rates {
            let (offset, rate) = (offset as f64 * OFFSET_STEP, rate as f64 * RATE_STEP);
            // Most players begin on time and keep the tempo.
            let score = -(offset / 0.05).powi(2) / 2.0 - (rate / 0.03).powi(2) / 2.0;
            let (step, line) = (0, (0.0, 0.0));
            ways.push(Way {
                offset,
                rate,
                score,
                step,
                line,
            });
        }
    }
    ways
}

/// How rate and offset may change from one chunk to the next; ahead of the first
/// they are all tried already.
fn turns(chunk: usize) -> Vec<(f64, f64)> {
    if chunk == 0 {
        return vec![(0.0, 0.0)];
    }
    let rates = [-RATE_STEP, 0.0, RATE_STEP];
    let shifts = [-OFFSET_STEP, 0.0, OFFSET_STEP];
    let all = rates
        .into_iter()
        .flat_map(|r| shifts.into_iter().map(move |s| (r, s)));
    all.collect()
}

/// Likelihoods of a note on every drum at every moment, as logarithms.
struct Table {
    start: f64,
    length: usize,
    /// By voice, then by moment.
    values: Vec<f32>,
}

impl Table {
    fn new(expected: &[Expected]) -> Table {
        let start = expected.first().map_or(0.0, |e| e.seconds) - 1.0;
        let end = expected.last().map_or(0.0, |e| e.seconds) + 1.0;
        let length = ((end - start) / GRAIN) as usize + 1;
        let mut values = vec![0.0_f32; Voice::COUNT * length];
        let half = (4.0 * WIDTH / GRAIN) as i64;
        for stroke in expected {
            let centre = ((stroke.seconds - start) / GRAIN).round() as i64;
            for step in -half..=half {
                let Some(at) = usize::try_from(centre + step)
                    .ok()
                    .filter(|at| *at < length)
                else {
                    continue;
                };
                let near = (-(step as f64 * GRAIN / WIDTH).powi(2) / 2.0).exp();
                for voice in 0..Voice::COUNT {
                    let drum = if voice == stroke.voice.index() {
                        1.0
                    } else {
                        OTHER_DRUM
                    };
                    let value = &mut values[voice * length + at];
                    *value = value.max((near * drum) as f32);
                }
            }
        }
        for value in &mut values {
            *value = (NONE as f32 + (1.0 - NONE as f32) * *value).ln();
        }
        Table {
            start,
            length,
            values,
        }
    }

    /// How well the notes of the chunk that begins at `from` fit a player who is
    /// `offset` seconds late there and `rate` seconds more with every second.
    fn score(&self, notes: &[Played], from: f64, offset: f64, rate: f64) -> f64 {
        let begins = from + offset;
        let ends = begins + CHUNK * (1.0 + rate);
        let first = notes.partition_point(|n| n.seconds < begins);
        let mut sum = 0.0;
        for note in notes[first..].iter().take_while(|n| n.seconds < ends) {
            let due = from + (note.seconds - begins) / (1.0 + rate);
            let at = ((due - self.start) / GRAIN) as usize;
            let value = self
                .values
                .get(note.voice.index() * self.length + at.min(self.length - 1));
            // Against a note near nothing: so that a way does not gain by having
            // fewer notes in its chunk.
            sum += f64::from(value.copied().unwrap_or(0.0)) - NONE.ln();
        }
        sum
    }
}
