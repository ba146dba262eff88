//! Where each stream stands in its track.

use super::super::stream::{Mapping, Part, Stream};
use super::super::{Loop, Settings};
use super::{MAX_STREAMS, Player};
use barform_score::score::Rate;
use barform_score::timeline::LaneRole;

/// What the reading of all streams depends on; a change means a new look-up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Layout {
    pub start_beats: f64,
    pub rate: Rate,
    pub repeat: bool,
    pub cycle: Option<Loop>,
}

impl Player {
    /// Readers for form, ostinatos and click, and for letters by key. Their
    /// places are looked up at the next block.
    pub(super) fn rebuild_streams(&mut self) {
        self.streams.clear();
        self.unplaced = true;
        self.steady = None;
        let Some(timeline) = &self.timeline else {
            self.quiet_until = f64::INFINITY;
            return;
        };
        let fixed = timeline.lanes.iter().enumerate();
        let fixed = fixed.take_while(|(_, lane)| !matches!(lane.role, LaneRole::Letter(_)));
        // A letter that is over has nothing left to play.
        let by_key = self.live.stretches().iter().enumerate();
        let by_key = by_key.filter(|(_, s)| s.until > self.done);
        let by_key = by_key.map(|(n, s)| (s.lane, n + 1));
        for (lane, map) in fixed.map(|(lane, _)| (lane, 0)).chain(by_key) {
            for (part, track) in Part::of(&timeline.lanes[lane]) {
                if !track.is_empty() && self.streams.len() < MAX_STREAMS {
                    self.streams.push(Stream::new(lane, part, map));
                }
            }
        }
        self.leads_for = (0.0, 0.0, 0.0);
    }

    /// Grace and buzz times in beats follow the tempo.
    pub(super) fn update_leads(&mut self, per_sample: f64, settings: &Settings) {
        let wanted = (per_sample, settings.grace_ms, settings.buzz_ms);
        if self.leads_for == wanted {
            return;
        }
        self.leads_for = wanted;
        let beats_per_ms = per_sample * self.sample_rate / 1000.0;
        for stream in &mut self.streams {
            stream.lead = match stream.part {
                Part::Main => 0.0,
                Part::Grace(n) => (n + 1) as f64 * settings.grace_ms * beats_per_ms,
                Part::Bounce(n) => -((n + 1) as f64) * settings.buzz_ms * beats_per_ms,
            };
        }
        self.find_quiet();
    }

    /// Looks up every stream's place anew.
    pub(super) fn lay_out(&mut self, layout: Layout) {
        let before = self.layout.replace(layout);
        if before.is_none_or(|before| before.cycle != layout.cycle) {
            self.laps = 0;
        }
        self.unplaced = false;
        let Some(timeline) = &self.timeline else {
            return;
        };
        let stretch = 1.0 / layout.rate.factor().to_f64();
        let origin = layout.start_beats - timeline.pickup.to_f64() * stretch;
        let until = if layout.repeat {
            f64::INFINITY
        } else {
            origin + timeline.form().cycle_beats() * stretch
        };
        self.maps[0] = Mapping {
            origin,
            stretch,
            until,
            cycle: layout.cycle,
        };
        for (map, s) in self.maps[1..].iter_mut().zip(self.live.stretches()) {
            *map = Mapping {
                origin: s.from,
                stretch,
                until: s.until,
                cycle: None,
            };
        }
        for stream in &mut self.streams {
            let from = self.floor.max(self.done + stream.lead);
            stream.seek(timeline, &self.maps[stream.map], from, self.laps);
        }
        self.find_quiet();
    }

    pub(super) fn find_quiet(&mut self) {
        self.quiet_until = self
            .streams
            .iter()
            .map(Stream::due)
            .fold(f64::INFINITY, f64::min);
    }

    /// The line has passed the loop's end: goes on at its start.
    pub(super) fn turn(&mut self, end: f64, cycle: Loop) {
        let length = cycle.end_beats - cycle.start_beats;
        // A block may be longer than the loop.
        let turns = (((end - cycle.end_beats) / length).floor() + 1.0) as i64;
        let back = turns as f64 * length;
        let Some(line) = &mut self.line else { return };
        line.turn(back);
        self.laps += turns;
        self.done -= back;
        self.floor -= back;
        self.live.turn(back);
        for map in &mut self.maps[1..] {
            map.origin -= back;
            map.until -= back;
        }
        for stream in &mut self.streams {
            stream.turn(turns, length);
        }
        self.find_quiet();
    }
}
