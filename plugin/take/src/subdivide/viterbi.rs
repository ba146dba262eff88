//! The cheapest reading of all beats together: each beat's subdivision, and to
//! which beat a stroke near the line between two belongs. Exact, by dynamic
//! programming over beats.

use super::fit::{Onset, Scale, fit};
use super::shapes::Shape;
use crate::job::Job;
use crate::{TakeError, beat::BeatMap};

/// What a change of kind costs from beat to beat, in nats: within a kind, and
/// between kinds.
const CHANGE: [f64; 2] = [0.15, 1.2];

/// Most places a beat line may fall between the strokes around it.
const MOST_CUTS: usize = 7;

/// One beat, or two under one grid, read.
#[derive(Debug, Clone, PartialEq)]
pub struct BeatRead {
    /// Number of the pulse.
    pub pulse: i64,
    /// Index of its shape.
    pub shape: usize,
    /// Its onsets, from .. to.
    pub onsets: (usize, usize),
    /// Slot of each of them.
    pub slots: Vec<usize>,
    /// How much dearer the next best shape is, in nats.
    pub margin: f64,
}

/// Costs of one beat: by shape and first cut, for each cut at the end.
type Costs = Vec<Vec<Vec<f64>>>;

fn cuts(onsets: &[Onset], line: f64, reach: f64) -> Vec<usize> {
    let low = onsets.partition_point(|o| o.at < line - reach);
    let high = onsets.partition_point(|o| o.at <= line + reach);
    let nominal = onsets.partition_point(|o| o.at < line);
    let half = MOST_CUTS / 2;
    (low.max(nominal.saturating_sub(half))..=high.min(nominal + half)).collect()
}

/// Reads the pulses `first .. last` of onsets in order of time. With what the
/// reading costs, in nats.
///
/// # Errors
/// [`TakeError::Cancelled`].
pub fn read(
    onsets: &[Onset],
    (first, last): (i64, i64),
    map: &BeatMap,
    spread_seconds: f64,
    shapes: &[Shape],
    job: &mut Job<'_>,
) -> Result<(Vec<BeatRead>, f64), TakeError> {
    let count = usize::try_from(last - first).unwrap_or(0);
    let scale = |pulse: f64| {
        let length = map.length(pulse + 0.5);
        Scale {
            spread: spread_seconds / length,
            grace: (crate::strokes::GRACE / length).min(0.1),
        }
    };
    let lines: Vec<Vec<usize>> = (0..=count)
        .map(|k| match k {
            0 => vec![0],
            _ if k == count => vec![onsets.len()],
            _ => {
                let line = (first + k as i64) as f64;
                let reach = (4.0 * scale(line).spread).clamp(0.02, 0.24);
                cuts(onsets, line, reach)
            }
        })
        .collect();
    // best[k][cut][shape]: cost of all before pulse k, the beat that ends there
    // on that shape.
    let wide = shapes.len();
    let inf = f64::INFINITY;
    let mut best: Vec<Vec<f64>> = lines.iter().map(|l| vec![inf; l.len() * wide]).collect();
    // Where each came from: start pulse, cut there, shape there.
    let mut from: Vec<Vec<(u8, u8, u8)>> = lines
        .iter()
        .map(|l| vec![(0, 0, 0); l.len() * wide])
        .collect();
    for k in 0..count {
        job.step(k, count)?;
        let pulse = (first + k as i64) as f64;
        let beat = costs(onsets, &lines, k, pulse, scale(pulse), shapes);
        for (a, _) in lines[k].iter().enumerate() {
            // The cheapest way here, by the kind it arrives from.
            let mut arrive = [(inf, 0_u8); 3];
            let mut same = vec![inf; wide];
            if k == 0 {
                arrive = [(0.0, 0); 3];
            } else {
                for (s, shape) in shapes.iter().enumerate() {
                    let cost = best[k][a * wide + s];
                    same[s] = cost;
                    let kind = &mut arrive[usize::from(shape.kind)];
                    if cost < kind.0 {
                        *kind = (cost, s as u8);
                    }
                }
            }
            for (s, shape) in shapes.iter().enumerate() {
                if k + shape.pulses > count || beat[s].is_empty() {
                    continue;
                }
                let mut enter = (same[s], s as u8);
                for (kind, (cost, by)) in arrive.iter().enumerate() {
                    let change = CHANGE[usize::from(kind != usize::from(shape.kind))];
                    let change = if k == 0 { 0.0 } else { change };
                    if cost + change < enter.0 {
                        enter = (cost + change, *by);
                    }
                }
                if enter.0.is_infinite() {
                    continue;
                }
                let end = k + shape.pulses;
                for (b, cost) in beat[s][a].iter().enumerate() {
                    let sum = enter.0 + cost;
                    let at = b * wide + s;
                    if sum < best[end][at] {
                        best[end][at] = sum;
                        from[end][at] = (shape.pulses as u8, a as u8, enter.1);
                    }
                }
            }
        }
    }
    let cost = best
        .last()
        .map_or(0.0, |ends| ends.iter().copied().fold(inf, f64::min));
    let found = Found { lines, best, from };
    Ok((trace(onsets, first, &found, scale, shapes), cost))
}

fn costs(
    onsets: &[Onset],
    lines: &[Vec<usize>],
    k: usize,
    pulse: f64,
    scale: Scale,
    shapes: &[Shape],
) -> Costs {
    let by_shape = |shape: &Shape| -> Vec<Vec<f64>> {
        let Some(ends) = lines.get(k + shape.pulses) else {
            return Vec::new();
        };
        let by_cut = |start: &usize| {
            let most = ends.last().copied().unwrap_or(*start).max(*start);
            let some = &onsets[*start..most];
            let fitted = fit(shape, pulse, some, scale, false);
            let cost = |end: &usize| match end.checked_sub(*start) {
                Some(taken) => shape.rarity + fitted.costs[taken],
                None => f64::INFINITY,
            };
            ends.iter().map(cost).collect()
        };
        lines[k].iter().map(by_cut).collect()
    };
    // An empty beat is one slot, whatever is around it.
    let empty = lines
        .get(k + 1)
        .is_some_and(|ends| ends.last() == lines[k].first() && k + 2 < lines.len());
    let costs = shapes.iter().enumerate().map(|(s, shape)| {
        if empty && s > 0 && shape.pulses == 1 {
            Vec::new()
        } else {
            by_shape(shape)
        }
    });
    costs.collect()
}

/// All that was found out on the way forward.
struct Found {
    lines: Vec<Vec<usize>>,
    best: Vec<Vec<f64>>,
    from: Vec<Vec<(u8, u8, u8)>>,
}

fn trace(
    onsets: &[Onset],
    first: i64,
    found: &Found,
    scale: impl Fn(f64) -> Scale,
    shapes: &[Shape],
) -> Vec<BeatRead> {
    let Found { lines, best, from } = found;
    let wide = shapes.len();
    let mut k = lines.len() - 1;
    let Some(ends) = best.last() else {
        return Vec::new();
    };
    let cheapest = (0..ends.len()).min_by(|a, b| ends[*a].total_cmp(&ends[*b]));
    let Some(mut at) = cheapest else {
        return Vec::new();
    };
    let mut reads = Vec::new();
    while k > 0 {
        let (cut, shape) = (at / wide, at % wide);
        let (pulses, before, by) = from[k][at];
        if pulses == 0 {
            break;
        }
        let start = k - usize::from(pulses);
        let a = usize::from(before);
        let range = (lines[start][a], lines[k][cut]);
        let pulse = first + start as i64;
        let some = &onsets[range.0..range.1];
        let on = |shape: &Shape, trace| {
            let fitted = fit(shape, pulse as f64, some, scale(pulse as f64), trace);
            (shape.rarity + fitted.costs[some.len()], fitted)
        };
        let (own, fitted) = on(&shapes[shape], true);
        let others = shapes.iter().enumerate();
        let others = others.filter(|(s, o)| *s != shape && o.pulses == usize::from(pulses));
        let next = others
            .map(|(_, o)| on(o, false).0)
            .fold(f64::INFINITY, f64::min);
        reads.push(BeatRead {
            pulse,
            shape,
            onsets: range,
            slots: fitted.slots(some.len()),
            margin: next - own,
        });
        at = a * wide + usize::from(by);
        k = start;
    }
    reads.reverse();
    reads
}
