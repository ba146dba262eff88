//! What every beat of a take plays, first by itself, then by its letter.

use super::{Lifted, Placed};
use crate::beat::BeatMap;
use crate::letters::{self, Classes, Content, Costs, Mark, Text};
use crate::struck::Loudness;
use crate::subdivide::{BeatRead, Shape};

/// What a slip costs before anything is known, in nats.
pub(super) const FIRST_SLIP: f64 = 6.0;

/// The pulses up to the last bar in which something is struck.
pub(super) fn sounding(strokes: &[Placed], count: usize, per_bar: usize) -> usize {
    let last = strokes.iter().map(|s| s.pulse).max().unwrap_or(0);
    let until = usize::try_from(last).unwrap_or(0) / per_bar * per_bar + per_bar;
    count.min(until)
}

/// What a slip costs where so many of the strokes are slips.
pub(super) fn slip(text: &Text<'_>, meant: &[usize], strokes: usize) -> f64 {
    let pairs = text.beats.iter().zip(meant);
    let slips: u32 = pairs.map(|(a, b)| text.difference(*a, *b).strokes).sum();
    let share = (f64::from(slips) + 1.0) / (strokes as f64 + 50.0);
    2.3 - share.clamp(0.004, 0.1).ln()
}

/// Beat lines drawn anew by what the letters have on each beat.
pub(super) fn recut(
    contents: &mut [Content],
    strokes: &[Placed],
    classes: &Classes,
    meant: &[usize],
    costs: &Costs,
    shapes: &[Shape],
    spreads: &[f64],
) {
    let mut marks: Vec<Mark> = Vec::with_capacity(strokes.len());
    let mut owner: Vec<usize> = Vec::with_capacity(strokes.len());
    for (k, content) in contents.iter().enumerate() {
        let mut own = content.marks.clone();
        own.sort_by_key(|m| m.stroke);
        owner.extend(own.iter().map(|_| k));
        marks.extend(own.into_iter().map(|m| Mark {
            played: m.played + k as f64,
            ..m
        }));
    }
    // Beats of a two-beat grid may hold strokes out of order: leave those.
    if marks.windows(2).any(|w| w[0].stroke > w[1].stroke) || meant.len() < contents.len() {
        return;
    }
    let ends: Vec<usize> = (0..contents.len())
        .map(|k| owner.partition_point(|o| *o <= k))
        .collect();
    let letters: Vec<&Content> = meant.iter().map(|m| &classes.list[*m]).collect();
    let near = 5.0 * costs.spread;
    let cut = letters::recut(&marks, &ends, &letters, near, costs);
    let mut start = 0;
    for (k, end) in cut.iter().enumerate() {
        let before = k.checked_sub(1).map_or(0, |b| ends[b]);
        if (start, *end) != (before, ends[k]) && shapes[contents[k].shape].pulses == 1 {
            let own = marks[start..*end].iter().map(|m| Mark {
                played: m.played - k as f64,
                ..*m
            });
            contents[k].marks = own.collect();
            letters::read_alone(&mut contents[k], spreads[k], shapes);
        }
        start = *end;
    }
}

/// Strokes on the slots that their beats have.
pub(super) fn on_slots(
    strokes: &mut [Placed],
    contents: &[Content],
    map: &BeatMap,
    click: &BeatMap,
    late: f64,
) {
    for (pulse, content) in contents.iter().enumerate() {
        for mark in &content.marks {
            let placed = &mut strokes[mark.stroke];
            placed.slot = mark.slot;
            placed.pulse = pulse as i64;
            let (num, den) = mark.slot;
            let meant = map.seconds(pulse as f64 + num as f64 / den as f64);
            placed.late_ms = (placed.stroke.seconds - late - meant) * 1000.0;
            let meant = click.seconds(pulse as f64 + num as f64 / den as f64);
            placed.click_ms = (placed.stroke.seconds - late - meant) * 1000.0;
        }
    }
}

/// What each pulse plays.
pub(super) fn contents(
    strokes: &[Placed],
    beats: &[BeatRead],
    count: usize,
    map: &BeatMap,
    late: f64,
    shapes: &[Shape],
    lifted: &[Lifted],
) -> Vec<Content> {
    let mut contents = vec![Content::default(); count];
    for beat in beats {
        for part in 0..shapes[beat.shape].pulses {
            let pulse = usize::try_from(beat.pulse).ok().map(|p| p + part);
            if let Some(content) = pulse.and_then(|p| contents.get_mut(p)) {
                content.shape = beat.shape;
                content.part = part;
                content.times = 1;
            }
        }
    }
    let loudness = Loudness::default();
    for (index, placed) in strokes.iter().enumerate() {
        if lifted.iter().any(|l| l.has(placed)) {
            continue;
        }
        let pulse = usize::try_from(placed.pulse).ok();
        let Some(content) = pulse.and_then(|p| contents.get_mut(p)) else {
            continue;
        };
        content.marks.push(Mark {
            slot: placed.slot,
            played: map.pulse(placed.stroke.seconds - late) - placed.pulse as f64,
            voice: placed.stroke.voice,
            articulation: placed.stroke.articulation,
            level: loudness.level(placed.stroke.velocity),
            graces: placed.stroke.graces,
            buzz: placed.stroke.buzz,
            stroke: index,
        });
    }
    contents
}
