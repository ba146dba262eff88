//! The form, or one letter of it, as often as it is wanted.

use super::RenderError;
use crate::export::MAX_EVENTS;
use crate::export::lead::first_meter;
use barform_score::music::{Beats, Letter};
use barform_score::timeline::{Bar, Lane, LaneRole, MAX_BARS, Timeline, Track};
use std::sync::Arc;

/// What is rendered.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Part {
    /// The whole form.
    #[default]
    Form,
    /// One letter, round and round. Bar lines are those of the form's first
    /// meter, counted from the letter's first start; ostinatos and the click
    /// run under it, as they do under the form.
    Letter(Letter),
}

/// A timeline whose form is what is to be played.
pub(super) fn played(
    timeline: &Arc<Timeline>,
    part: &Part,
    passes: u32,
) -> Result<Arc<Timeline>, RenderError> {
    match part {
        Part::Form => written_out(timeline, passes),
        Part::Letter(letter) => looped(timeline, letter, passes),
    }
}

/// A letter so many times in a row as one form.
fn looped(timeline: &Timeline, letter: &Letter, times: u32) -> Result<Arc<Timeline>, RenderError> {
    let number = timeline.letters.iter().position(|l| l == letter);
    let lane = number.and_then(|n| timeline.letter_lane(n));
    let Some(lane) = lane.and_then(|n| timeline.lanes.get(n)) else {
        return Err(RenderError::NoLetter {
            wanted: letter.clone(),
            letters: timeline.letters.clone(),
        });
    };
    let length = lane.cycle.checked_mul(Beats::whole(i64::from(times)))?;
    let mut form = lane_times(lane, length, times)?;
    form.role = LaneRole::Form;
    let meter = first_meter(timeline);
    let mut bars = Vec::new();
    let mut clicks = Lane::new(LaneRole::Click, length);
    let mut line = Beats::ZERO;
    while line < length {
        if bars.len() >= MAX_BARS {
            return Err(RenderError::TooLong);
        }
        let bar = Bar {
            start: line,
            meter,
            number: bars.len() as u32 + 1,
        };
        let next = line.checked_add(meter.bar())?;
        for (at, kind) in bar.clicks(next.min(length), None)? {
            if let Some(note) = kind.note(&timeline.kit) {
                clicks.main.push(at.to_f64(), note);
                clicks.place.push(0);
                clicks.slot.push(0);
            }
        }
        bars.push(bar);
        line = next;
    }
    let ostinatos = timeline.lanes.iter();
    let ostinatos = ostinatos.filter(|l| matches!(l.role, LaneRole::Ostinato(_)));
    Ok(Arc::new(Timeline {
        length,
        pickup: Beats::ZERO,
        bars,
        sections: Vec::new(),
        places: Vec::new(),
        letters: Vec::new(),
        lanes: std::iter::once(form)
            .chain(ostinatos.cloned())
            .chain([clicks])
            .collect(),
        ..timeline.clone()
    }))
}

/// The form `passes` times in a row as one form, so that the last pass ends
/// like any form: a grace note of a next one does not sound.
fn written_out(timeline: &Arc<Timeline>, passes: u32) -> Result<Arc<Timeline>, RenderError> {
    if passes == 1 {
        return Ok(timeline.clone());
    }
    let length = timeline
        .length
        .checked_mul(Beats::whole(i64::from(passes)))?;
    let mut written = Timeline {
        length,
        lanes: Vec::new(),
        letters: Vec::new(),
        places: Vec::new(),
        ..Timeline::clone(timeline)
    };
    for lane in &timeline.lanes {
        match lane.role {
            LaneRole::Form | LaneRole::Click => {
                written.lanes.push(lane_times(lane, length, passes)?);
            }
            LaneRole::Ostinato(_) => written.lanes.push(lane.clone()),
            LaneRole::Letter(_) => {}
        }
    }
    Ok(Arc::new(written))
}

/// A lane so many times in a row.
fn lane_times(lane: &Lane, length: Beats, passes: u32) -> Result<Lane, RenderError> {
    let most = MAX_EVENTS / (passes as usize).max(1);
    let notes = |tracks: &[Track]| tracks.iter().map(Track::len).sum::<usize>();
    if lane.main.len() + notes(&lane.graces) + notes(&lane.bounces) > most {
        return Err(RenderError::TooLong);
    }
    let cycle = lane.cycle_beats();
    let times = passes as usize;
    let track = |from: &Track| Track {
        at: (0..passes)
            .flat_map(|pass| from.at.iter().map(move |at| f64::from(pass) * cycle + at))
            .collect(),
        notes: from.notes.repeat(times),
        room: from.room.repeat(times),
    };
    let mut long = Lane::new(lane.role, length);
    long.main = track(&lane.main);
    long.place = lane.place.repeat(times);
    long.slot = lane.slot.repeat(times);
    long.graces = std::array::from_fn(|n| track(&lane.graces[n]));
    long.bounces = std::array::from_fn(|n| track(&lane.bounces[n]));
    Ok(long)
}
