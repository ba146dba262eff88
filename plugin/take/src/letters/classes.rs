//! Beats that are the same beat, played several times: read together, because
//! the mean of several is surer than any one.

use super::content::{Content, Costs, Mark};
use crate::subdivide::Shape;
use crate::subdivide::fit::{Onset, Scale, fit};
use barform_score::music::Level;
use std::collections::HashMap;

/// Most classes with the same drums that a beat is held against.
const MOST_TRIED: usize = 48;

/// Beats in classes.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Classes {
    /// One content per class, read from all its beats together.
    pub list: Vec<Content>,
    /// Class of each beat.
    pub of: Vec<usize>,
}

/// The narrowest a mean is trusted to, as a share of the spread: players lean
/// to one side of a slot, and no number of repeats averages that out.
const LEAN: f64 = 0.5;

/// What is known of beats from a reading before: the class that the letter has
/// on each, what each class plays, and what differences cost.
pub struct Known<'a> {
    /// Class that the letter has on each beat.
    pub meant: &'a [usize],
    /// What each class plays.
    pub list: &'a [Content],
    /// What differences cost.
    pub costs: &'a Costs,
}

/// A beat this little off its letter, in nats, and with no slip, is that beat.
const SAME: f64 = 6.0;

/// Classes of beats in order. `spread` of strokes in pulses, by beat.
pub fn classes(
    beats: &[Content],
    spread: &[f64],
    shapes: &[Shape],
    before: Option<&Known<'_>>,
) -> Classes {
    let mut by_letter: HashMap<usize, usize> = HashMap::new();
    let mut classes = Classes::default();
    let mut known: HashMap<Vec<u8>, Vec<usize>> = HashMap::new();
    let mut sums: Vec<Vec<f64>> = Vec::new();
    let mut members: Vec<Vec<usize>> = Vec::new();
    let mut spreads: Vec<f64> = Vec::new();
    for (number, beat) in beats.iter().enumerate() {
        let order = by_drum(beat);
        let letter = before.and_then(|b| {
            let meant = *b.meant.get(number)?;
            let off = b.list[meant].difference(beat, b.costs);
            let timing = off.cost - b.costs.shade * f64::from(off.shades);
            (off.strokes == 0 && timing < SAME).then_some(meant)
        });
        // Halves of a two-beat grid keep to themselves.
        let mut key: Vec<u8> = vec![u8::from(shapes[beat.shape].pulses > 1), beat.part as u8];
        key.extend(order.iter().map(|i| beat.marks[*i].voice.index() as u8));
        let times: Vec<f64> = order.iter().map(|i| beat.marks[*i].played).collect();
        let bucket = known.entry(key).or_default();
        let near = bucket.iter().rev().take(MOST_TRIED).copied().find(|class| {
            let n = members[*class].len() as f64;
            let width = spread[number].max(1e-4) * (1.0 + 1.0 / n).sqrt();
            let squares: f64 = (sums[*class].iter().zip(&times))
                .map(|(sum, t)| ((sum / n - t) / width).powi(2))
                .sum();
            let k = times.len() as f64;
            squares <= k + 3.0 * (2.0 * k).sqrt() + 4.0
        });
        let near = match letter {
            Some(letter) => by_letter.get(&letter).copied(),
            None => near,
        };
        let class = near.unwrap_or_else(|| {
            bucket.push(members.len());
            members.push(Vec::new());
            sums.push(vec![0.0; times.len()]);
            spreads.push(0.0);
            members.len() - 1
        });
        if let Some(letter) = letter {
            by_letter.insert(letter, class);
        }
        members[class].push(number);
        spreads[class] += spread[number];
        sums[class]
            .iter_mut()
            .zip(&times)
            .for_each(|(s, t)| *s += t);
        classes.of.push(class);
    }
    for (class, members) in members.iter().enumerate() {
        let n = members.len() as f64;
        let means: Vec<f64> = sums[class].iter().map(|s| s / n).collect();
        let some: Vec<&Content> = members.iter().map(|m| &beats[*m]).collect();
        classes
            .list
            .push(pooled(&some, &means, spreads[class] / n, shapes));
    }
    classes
}

/// Marks by drum, of one drum in order of time.
fn by_drum(beat: &Content) -> Vec<usize> {
    let mut order: Vec<usize> = (0..beat.marks.len()).collect();
    let key = |i: &usize| (beat.marks[*i].voice, beat.marks[*i].played);
    order.sort_by(|a, b| {
        let (a, b) = (key(a), key(b));
        a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
    order
}

/// One content for beats whose marks, by drum, have these mean times.
fn pooled(beats: &[&Content], means: &[f64], spread: f64, shapes: &[Shape]) -> Content {
    let first = beats[0];
    let mut content = Content {
        times: beats.len(),
        ..first.clone()
    };
    let few = &beats[..beats.len().min(64)];
    let orders: Vec<Vec<usize>> = few.iter().map(|b| by_drum(b)).collect();
    for (place, i) in orders[0].iter().enumerate() {
        let mark = &mut content.marks[*i];
        mark.played = means[place];
        if beats.len() > 1 {
            let all = few.iter().zip(&orders).map(|(b, o)| b.marks[o[place]]);
            majority(mark, &all.collect::<Vec<_>>());
        }
    }
    content.marks.sort_by(|a, b| a.played.total_cmp(&b.played));
    if beats.len() > 1 && shapes[content.shape].pulses == 1 {
        settle(&mut content, beats.len() as f64, spread, shapes);
    }
    content
}

/// What most of the beats have.
fn majority(mark: &mut Mark, all: &[Mark]) {
    let most = |same: &dyn Fn(&Mark) -> usize| {
        let mut counts = [0_usize; 8];
        all.iter().for_each(|m| counts[same(m).min(7)] += 1);
        (0..8).max_by_key(|i| (counts[*i], 8 - i)).unwrap_or(0)
    };
    let levels = [Level::Ghost, Level::Normal, Level::Accent];
    mark.level = levels[most(&|m| m.level as usize).min(2)];
    let way = most(&|m| m.articulation.index());
    let found = all.iter().find(|m| m.articulation.index() == way);
    mark.articulation = found.map_or(mark.articulation, |m| m.articulation);
    mark.graces = most(&|m| usize::from(m.graces)).min(3) as u8;
    mark.buzz = most(&|m| usize::from(m.buzz)) == 1;
}

/// Reads one beat by itself, on the cheapest shape.
pub fn read_alone(content: &mut Content, spread: f64, shapes: &[Shape]) {
    content.part = 0;
    settle(content, 1.0, spread, shapes);
}

/// Reads the mean of `n` beats on the cheapest shape.
fn settle(content: &mut Content, n: f64, spread: f64, shapes: &[Shape]) {
    let onsets: Vec<Onset> = content
        .marks
        .iter()
        .map(|m| Onset {
            at: m.played,
            drum: m.voice.index() as u8,
            foot: crate::strokes::foot(m.voice).is_some(),
            velocity: 64,
        })
        .collect();
    let scale = Scale {
        spread: spread * (1.0 / n.sqrt()).max(LEAN),
        grace: 0.0,
    };
    let mut best = (f64::INFINITY, content.shape, Vec::new());
    for (index, shape) in shapes.iter().enumerate().filter(|(_, s)| s.pulses == 1) {
        let fitted = fit(shape, 0.0, &onsets, scale, true);
        let cost = shape.rarity + fitted.costs[onsets.len()];
        if cost < best.0 {
            best = (cost, index, fitted.slots(onsets.len()));
        }
    }
    content.shape = best.1;
    for (mark, slot) in content.marks.iter_mut().zip(best.2) {
        mark.slot = shapes[best.1].slots[slot];
    }
}
