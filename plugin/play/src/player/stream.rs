//! One track of one lane, read in the host's time.

use super::Loop;
use barform_score::timeline::{Lane, Timeline, Track};

/// A stroke this close before a loop's start or end, in beats, lies on it: a
/// host rounds where its loop is, and `f64` where the stroke is.
const SEAM_BEATS: f64 = 1e-9;

/// Which of a lane's tracks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Part {
    /// Main strokes.
    Main,
    /// Grace notes `n + 1` grace times ahead.
    Grace(usize),
    /// Bounces `n + 1` buzz times behind.
    Bounce(usize),
}

/// How a lane's beats lie in the host's beats.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Mapping {
    /// Host position of the lane's first beat.
    pub origin: f64,
    /// Host beats per lane beat.
    pub stretch: f64,
    /// Host position at which the lane ends; infinite if it starts over.
    pub until: f64,
    /// The host's loop, where the lane follows it.
    pub cycle: Option<Loop>,
}

/// A reader of one track. Positions are *unwrapped*: behind a loop's end they
/// go on as if there were no loop, and `lap` counts the turns between.
#[derive(Debug, Clone)]
pub(super) struct Stream {
    /// Lane in the timeline.
    pub lane: usize,
    /// Track in the lane.
    pub part: Part,
    /// Number of the mapping it is read through.
    pub map: usize,
    /// How many beats before its main stroke it sounds; negative for after.
    pub lead: f64,
    /// Main stroke's time of the next note, unwrapped; infinite if none.
    pub next: f64,
    pass: i64,
    index: usize,
    lap: i64,
}

impl Part {
    /// All parts of a lane.
    pub fn of(lane: &Lane) -> impl Iterator<Item = (Part, &Track)> {
        std::iter::once((Part::Main, &lane.main))
            .chain(
                lane.graces
                    .iter()
                    .enumerate()
                    .map(|(n, t)| (Part::Grace(n), t)),
            )
            .chain(
                lane.bounces
                    .iter()
                    .enumerate()
                    .map(|(n, t)| (Part::Bounce(n), t)),
            )
    }

    fn track(self, lane: &Lane) -> &Track {
        match self {
            Part::Main => &lane.main,
            Part::Grace(n) => &lane.graces[n],
            Part::Bounce(n) => &lane.bounces[n],
        }
    }
}

impl Stream {
    /// A reader that has not been set to a place yet.
    pub fn new(lane: usize, part: Part, map: usize) -> Stream {
        Stream {
            lane,
            part,
            map,
            lead: 0.0,
            next: f64::INFINITY,
            pass: 0,
            index: 0,
            lap: 0,
        }
    }

    /// The track it reads.
    pub fn track<'t>(&self, timeline: &'t Timeline) -> &'t Track {
        self.part.track(&timeline.lanes[self.lane])
    }

    /// Index of the next note in its track.
    pub fn index(&self) -> usize {
        self.index
    }

    /// When the next note sounds, unwrapped.
    pub fn due(&self) -> f64 {
        self.next - self.lead
    }

    /// Goes to the first note whose main stroke is at `from` (unwrapped) or
    /// later; `laps` of the loop have gone by, which may lie before its start.
    /// O(log n).
    pub fn seek(&mut self, timeline: &Timeline, map: &Mapping, from: f64, laps: i64) {
        self.lap = 0;
        let mut host = from;
        if let Some(cycle) = map.cycle {
            let length = cycle.end_beats - cycle.start_beats;
            self.lap = (((from - cycle.start_beats) / length).floor() as i64).max(-laps);
            host = from - self.lap as f64 * length;
        }
        self.seek_host(timeline, map, host);
        self.settle(timeline, map);
    }

    /// Goes to the note after the next. O(1) but for turns of a loop.
    pub fn advance(&mut self, timeline: &Timeline, map: &Mapping) {
        self.step(self.track(timeline).len());
        self.settle(timeline, map);
    }

    /// The loop has turned `turns` times: what was laps ahead is now at hand.
    pub fn turn(&mut self, turns: i64, length: f64) {
        self.lap -= turns;
        self.next -= turns as f64 * length;
    }

    fn host(&self, timeline: &Timeline, map: &Mapping) -> f64 {
        let lane = &timeline.lanes[self.lane];
        let at = self.part.track(lane).at[self.index];
        map.origin + (self.pass as f64 * lane.cycle_beats() + at) * map.stretch
    }

    fn step(&mut self, len: usize) {
        self.index += 1;
        if self.index >= len {
            self.index = 0;
            self.pass += 1;
        }
    }

    fn step_back(&mut self, len: usize) -> bool {
        if self.index > 0 {
            self.index -= 1;
        } else if self.pass > 0 {
            self.pass -= 1;
            self.index = len - 1;
        } else {
            return false;
        }
        true
    }

    /// Membership is decided by the very value that [`Stream::next`] gets, so
    /// windows that touch neither lose nor double a stroke, whatever the
    /// division below rounds to.
    fn seek_host(&mut self, timeline: &Timeline, map: &Mapping, from: f64) {
        let lane = &timeline.lanes[self.lane];
        let track = self.part.track(lane);
        let cycle = lane.cycle_beats();
        let beats = (from - map.origin) / map.stretch;
        self.pass = if beats > 0.0 {
            (beats / cycle) as i64
        } else {
            0
        };
        let rest = beats - self.pass as f64 * cycle;
        self.index = track.at.partition_point(|at| *at < rest);
        if self.index >= track.len() {
            self.index = 0;
            self.pass += 1;
        }
        while self.host(timeline, map) < from {
            self.step(track.len());
        }
        loop {
            let (pass, index) = (self.pass, self.index);
            if !self.step_back(track.len()) || self.host(timeline, map) < from {
                (self.pass, self.index) = (pass, index);
                break;
            }
        }
    }

    /// Works out `next` for the note at hand, turning at the loop's end.
    fn settle(&mut self, timeline: &Timeline, map: &Mapping) {
        let mut host = self.host(timeline, map);
        let Some(cycle) = map.cycle else {
            self.next = if host < map.until {
                host
            } else {
                f64::INFINITY
            };
            return;
        };
        let end = (cycle.end_beats - SEAM_BEATS).min(map.until);
        if host >= end {
            self.lap += 1;
            self.seek_host(timeline, map, cycle.start_beats - SEAM_BEATS);
            host = self.host(timeline, map);
        }
        self.next = if host < end {
            host + self.lap as f64 * (cycle.end_beats - cycle.start_beats)
        } else {
            f64::INFINITY
        };
    }
}
