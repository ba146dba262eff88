//! Beats without a click: candidates for the tempo, and a line of beats through
//! the strokes for each.

use crate::strokes::Stroke;
use barform_score::music::Voice;

/// Slowest and fastest pulse that is looked for, a minute. Common practice.
pub const RANGE: (f64, f64) = (40.0, 240.0);

/// Strokes within this many seconds are one moment.
const CHORD: f64 = 0.03;

/// Bins of the intervals between moments: 100 to an octave.
const PER_OCTAVE: f64 = 100.0;

/// Shortest and longest interval that counts, in seconds.
const SHORTEST: f64 = 0.06;
const LONGEST: f64 = 4.0;

/// A moment at which something is struck.
#[derive(Debug, Clone, Copy)]
pub struct Moment {
    /// Seconds.
    pub at: f64,
    /// How much it weighs as a beat.
    pub weight: f64,
}

/// How much a stroke weighs as a beat: low drums and crashes most. Common
/// practice.
fn weight(stroke: &Stroke) -> f64 {
    let drum = match stroke.voice {
        Voice::Kick => 1.5,
        Voice::Crash | Voice::Crash2 | Voice::Splash | Voice::China => 1.5,
        Voice::Snare => 1.1,
        Voice::HatFoot => 0.8,
        _ => 0.7,
    };
    drum * (0.3 + f64::from(stroke.velocity.value()) / 127.0)
}

/// Moments of strokes in order of time.
pub fn moments(strokes: &[Stroke]) -> Vec<Moment> {
    let mut moments: Vec<Moment> = Vec::new();
    for stroke in strokes {
        let weight = weight(stroke);
        match moments.last_mut() {
            Some(last) if stroke.seconds - last.at < CHORD => {
                let sum = last.weight + weight;
                last.at += (stroke.seconds - last.at) * weight / sum;
                last.weight = sum;
            }
            _ => moments.push(Moment {
                at: stroke.seconds,
                weight,
            }),
        }
    }
    moments
}

/// Lengths of a pulse in seconds that the intervals speak for, best first.
pub fn candidates(moments: &[Moment], most: usize) -> Vec<f64> {
    let bins = ((LONGEST / SHORTEST).log2() * PER_OCTAVE) as usize + 1;
    let bin = |seconds: f64| ((seconds / SHORTEST).log2() * PER_OCTAVE).round();
    let mut counts = vec![0.0; bins];
    // A take's first minutes tell its tempo.
    let some = &moments[..moments.len().min(1500)];
    for (i, a) in some.iter().enumerate() {
        for b in some[i + 1..].iter().take(48) {
            let gap = b.at - a.at;
            if gap > LONGEST {
                break;
            }
            if gap >= SHORTEST {
                counts[(bin(gap) as usize).min(bins - 1)] += a.weight.min(b.weight);
            }
        }
    }
    // Two in a hundred either way: the spread of people.
    let smooth: Vec<f64> = (0..bins)
        .map(|i| {
            let near = i.saturating_sub(4)..(i + 5).min(bins);
            near.map(|j| counts[j] * (1.0 - (i.abs_diff(j) as f64) / 5.0))
                .sum()
        })
        .collect();
    let at = |seconds: f64| {
        let i = bin(seconds);
        if i < 0.0 || i >= bins as f64 {
            0.0
        } else {
            smooth[i as usize]
        }
    };
    let (low, high) = (60.0 / RANGE.1, 60.0 / RANGE.0);
    let peaks: Vec<f64> = (2..bins - 2)
        .filter(|i| (1..3).all(|d| smooth[*i] >= smooth[i - d] && smooth[*i] >= smooth[i + d]))
        .filter(|i| smooth[*i] > 0.0)
        .map(|i| SHORTEST * 2_f64.powf(i as f64 / PER_OCTAVE))
        .collect();
    let mut scored: Vec<(f64, f64)> = Vec::new();
    for peak in peaks {
        for ratio in [1.0, 2.0, 0.5, 3.0, 1.0 / 3.0, 1.5, 2.0 / 3.0, 4.0, 0.25] {
            let period = peak * ratio;
            if !(low..=high).contains(&period) {
                continue;
            }
            let sum: f64 = [
                (1.0, 1.0),
                (2.0, 0.8),
                (3.0, 0.3),
                (4.0, 0.6),
                (0.5, 0.5),
                (0.25, 0.3),
            ]
            .iter()
            .map(|(m, w)| w * at(period * m))
            .sum();
            scored.push((sum * usual(period), period));
        }
    }
    scored.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut found: Vec<f64> = Vec::new();
    for (_, period) in scored {
        if found.iter().all(|f| (f / period - 1.0).abs() > 0.035) {
            found.push(period);
        }
        if found.len() == most {
            break;
        }
    }
    found
}

/// How usual a pulse is, `0 ..= 1`: most around 115 a minute. Common practice.
pub fn usual(seconds: f64) -> f64 {
    let octaves = (seconds / (60.0 / 115.0)).log2();
    (-0.5 * (octaves / 0.7).powi(2)).exp()
}

/// A line of beats near `period` seconds apart through the moments: (pulse,
/// seconds), pulse 0 the first moment on a beat. `None` with too few moments.
pub fn line(moments: &[Moment], period: f64, drift: f64) -> Option<Vec<(f64, f64)>> {
    if moments.len() < 3 {
        return None;
    }
    let mean = moments.iter().map(|m| m.weight).sum::<f64>() / moments.len() as f64;
    // Best sum up to each moment as a beat; where it came from and how many
    // pulses before.
    let mut best: Vec<(f64, Option<(usize, u32)>)> = Vec::with_capacity(moments.len());
    for (j, now) in moments.iter().enumerate() {
        // A beat before it all may have been silent.
        let missed = (now.at - moments[0].at) / period;
        let mut here = (now.weight / mean - 0.8 * missed.min(8.0), None);
        if missed > 8.5 {
            here.0 = f64::NEG_INFINITY;
        }
        for (i, before) in moments[..j].iter().enumerate().rev() {
            let pulses = (now.at - before.at) / period;
            if pulses > 8.5 {
                break;
            }
            let whole = pulses.round();
            if whole < 1.0 {
                continue;
            }
            let off = (pulses - whole) / whole.sqrt() / drift;
            let value = best[i].0 + now.weight / mean - 0.5 * off * off - 0.8 * (whole - 1.0);
            if value > here.0 {
                here = (value, Some((i, whole as u32)));
            }
        }
        // Longer silence than eight beats: go on at the tempo.
        if here.0 == f64::NEG_INFINITY && j > 0 {
            let pulses = ((now.at - moments[j - 1].at) / period).round().max(1.0);
            here = (best[j - 1].0 - 8.0, Some((j - 1, pulses as u32)));
        }
        best.push(here);
    }
    let end = moments[moments.len() - 1].at;
    let last = (0..moments.len())
        .rev()
        .take_while(|i| end - moments[*i].at < 4.5 * period)
        .max_by(|a, b| {
            let left = |i: usize| best[i].0 - 0.8 * (end - moments[i].at) / period;
            left(*a).total_cmp(&left(*b))
        })?;
    let mut chain = vec![(last, 0_u32)];
    let mut at = last;
    while let Some((before, pulses)) = best[at].1 {
        if let Some(top) = chain.last_mut() {
            top.1 = pulses;
        }
        chain.push((before, 0));
        at = before;
    }
    chain.reverse();
    let mut pulse = 0.0;
    let mut knots = Vec::with_capacity(chain.len());
    for (i, (moment, pulses)) in chain.iter().enumerate() {
        if i > 0 {
            pulse += f64::from(*pulses);
        }
        knots.push((pulse, moments[*moment].at));
    }
    (knots.len() >= 2).then_some(knots)
}
