//! Stretches cut out of the form: bars, and the join of two letters.

use super::{Passage, PassageError, pairs};
use crate::plan::{Plan, Play};
use barform_score::music::{Beats, BeatsError, Letter};
use barform_score::score::Score;
use barform_score::timeline::{Bar, Timeline};

/// A stretch of the form from one bar to another, by printed numbers.
pub(super) fn bars(
    score: &Score,
    timeline: &Timeline,
    from: u32,
    to: u32,
) -> Result<Passage, PassageError> {
    let index = |number: u32| timeline.bars.iter().position(|b| b.number == number);
    let (Some(first), Some(last)) = (index(from), index(to)) else {
        let number = |bar: Option<&Bar>| bar.map_or(0, |b| b.number);
        return Err(PassageError::NoBars {
            first: number(timeline.bars.first()),
            last: number(timeline.bars.last()),
            wanted: Play::Bars(from, to).to_string(),
        });
    };
    let form = Passage::form(score, timeline)?;
    let (start, end) = (timeline.bars[first].start, timeline.bar_end(last));
    let mut cut = between(&form, start, end)?;
    cut.name = Play::Bars(from, to).to_string();
    Ok(cut)
}

/// The last beats of a letter into the first of the next, where the form first
/// has them in a row.
pub(super) fn join(
    plan: &Plan,
    score: &Score,
    timeline: &Timeline,
    from: &Letter,
    to: &Letter,
) -> Result<Passage, PassageError> {
    let places = &timeline.places;
    let is = |i: usize, letter: &Letter| {
        timeline.letters[places[i % places.len()].letter as usize] == *letter
    };
    let Some(place) = (0..places.len()).find(|i| is(*i, from) && is(i + 1, to)) else {
        let joins = pairs(timeline);
        let joins: Vec<String> = joins.iter().map(|(a, b)| format!("{a} {b}")).collect();
        return Err(PassageError::NoJoin {
            from: from.clone(),
            to: to.clone(),
            joins: joins.join(", "),
        });
    };
    let beats = plan.join.beats.0;
    let next = &places[(place + 1) % places.len()];
    let ahead = beats.min(places[place].length);
    let after = beats.min(next.length);
    let mut form = Passage::form(score, timeline)?;
    if place + 1 == places.len() {
        form = twice(&form)?;
    }
    let middle = places[place].start.checked_add(places[place].length)?;
    let (start, end) = (middle.checked_sub(ahead)?, middle.checked_add(after)?);
    let mut cut = between(&form, start, end)?;
    cut.name = Play::Join(from.clone(), to.clone()).to_string();
    cut.rate = plan.join.rate.factor();
    Ok(cut)
}

/// The form twice in a row, to cut across its end.
fn twice(form: &Passage) -> Result<Passage, BeatsError> {
    let mut long = form.clone();
    let later = |at: Beats| at.checked_add(form.length);
    for stroke in &form.strokes {
        let mut again = *stroke;
        again.at = later(stroke.at)?;
        again.letter += form.letters.len();
        long.strokes.push(again);
    }
    for bar in &form.bars {
        let start = later(bar.start)?;
        long.bars.push(Bar { start, ..*bar });
    }
    for (at, letter) in &form.letters {
        long.letters.push((later(*at)?, letter.clone()));
    }
    long.length = later(form.length)?;
    Ok(long)
}

/// What lies between two beats of a form.
fn between(form: &Passage, start: Beats, end: Beats) -> Result<Passage, BeatsError> {
    let mut cut = form.clone();
    let inside = |at: Beats| at >= start && at < end;
    cut.strokes.retain(|s| inside(s.at));
    let first = form.letter_at(start).unwrap_or(0);
    for stroke in &mut cut.strokes {
        stroke.at = stroke.at.checked_sub(start)?;
        stroke.letter -= first;
    }
    cut.letters.clear();
    for (n, (at, letter)) in form.letters.iter().enumerate().skip(first) {
        if *at < end || n == first {
            let at = (*at).max(start).checked_sub(start)?;
            cut.letters.push((at, letter.clone()));
        }
    }
    // From the bar that the cut begins in to the one behind its end: a pickup is
    // counted back from the bar line that it leads to.
    let before = form.bars.partition_point(|b| b.start <= start).max(1) - 1;
    cut.bars.clear();
    let behind = form.bars.partition_point(|b| b.start < end);
    for bar in form.bars.iter().take(behind + 1).skip(before) {
        let start = bar.start.checked_sub(start)?;
        cut.bars.push(Bar { start, ..*bar });
    }
    cut.length = end.checked_sub(start)?;
    let line = |bar: &Bar| bar.number > 0 && bar.start >= Beats::ZERO && bar.start < cut.length;
    if !cut.bars.iter().any(line) {
        // Without a bar line to lead to, the cut is a bar of its own.
        cut.bars = vec![Bar {
            start: Beats::ZERO,
            meter: form.bars.get(before).map_or(form.meter(), |b| b.meter),
            number: 1,
        }];
    }
    cut.ostinato_from = Some(start);
    Ok(cut)
}
