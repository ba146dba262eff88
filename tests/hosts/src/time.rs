//! The true line of beats over samples, exactly.

use crate::form::{Exact, ratio};

/// A stretch of even tempo without a turn.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Leg {
    /// Where it begins, in samples.
    pub at: Exact,
    /// Its beats: first, and the one it ends before.
    pub from: Exact,
    /// See `from`.
    pub to: Exact,
    /// Beats per sample.
    pub step: Exact,
}

impl Leg {
    /// When it is at `beats`, in samples.
    pub fn time_of(&self, beats: &Exact) -> Exact {
        &self.at + (beats - &self.from) / &self.step
    }

    /// Whether `next` only goes on with it.
    pub fn goes_on_with(&self, next: &Leg) -> bool {
        self.to == next.from && self.step == next.step
    }
}

/// A part of a block with one tempo.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Slope {
    /// Samples.
    pub frames: u32,
    /// Beats per sample.
    pub step: Exact,
}

/// The loop, exactly.
pub(super) type Cycle = (Exact, Exact);

/// Runs `line` on over a block that begins at sample `at`; returns the legs, and
/// by how many samples of song time its turns went back.
pub(super) fn run_on(
    line: &mut Exact,
    at: i64,
    slopes: &[Slope],
    cycle: Option<&Cycle>,
) -> (Vec<Leg>, Exact) {
    let mut legs = Vec::with_capacity(slopes.len() + 1);
    let mut back = ratio(0, 1);
    let mut start = ratio(at, 1);
    for slope in slopes {
        let end = &start + ratio(i64::from(slope.frames), 1);
        loop {
            let straight = &*line + (&end - &start) * &slope.step;
            // Behind its end a loop is not entered again.
            let turn = cycle.filter(|(_, end)| *line < *end && straight >= *end);
            let to = turn.map_or(&straight, |(_, end)| end).clone();
            let leg = Leg {
                at: start.clone(),
                from: line.clone(),
                to,
                step: slope.step.clone(),
            };
            match turn {
                Some((again, end)) => {
                    start = leg.time_of(end);
                    *line = again.clone();
                    back += (end - again) / &slope.step;
                    legs.push(leg);
                }
                None => {
                    *line = straight;
                    legs.push(leg);
                    break;
                }
            }
        }
        start = end;
    }
    (legs, back)
}

/// After how many samples of a block the line reaches `beats`, if it does.
pub(super) fn reaches(line: &Exact, slopes: &[Slope], beats: &Exact) -> Option<Exact> {
    let (mut from, mut at) = (line.clone(), 0i64);
    if from >= *beats {
        return None;
    }
    for slope in slopes {
        let to = &from + ratio(i64::from(slope.frames), 1) * &slope.step;
        if to >= *beats {
            return Some(ratio(at, 1) + (beats - &from) / &slope.step);
        }
        from = to;
        at += i64::from(slope.frames);
    }
    None
}
