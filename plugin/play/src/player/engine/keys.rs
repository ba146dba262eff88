//! Letters by key: where a press and a release take effect.

use super::super::Quantise;
use super::super::live::Stretch;
use super::Player;

impl Player {
    /// The letter that a key plays now.
    pub fn live_letter(&self) -> Option<usize> {
        self.live.letter_at(self.line.as_ref()?.now())
    }

    /// A key for letter number `letter` goes down `offset` samples into the
    /// coming block: the letter takes the form's place from the next beat or
    /// bar line on. Does nothing while time stands.
    pub fn letter_down(&mut self, letter: usize, offset: u32, quantise: Quantise) {
        let Some((now, from)) = self.boundary(offset, quantise) else {
            return;
        };
        let Some(lane) = self.timeline.as_ref().and_then(|t| t.letter_lane(letter)) else {
            return;
        };
        self.live.press(
            Stretch {
                letter,
                lane,
                from,
                until: f64::INFINITY,
            },
            now,
        );
        self.rebuild_streams();
    }

    /// The key of letter number `letter` goes up: the form comes back at the
    /// next beat or bar line.
    pub fn letter_up(&mut self, letter: usize, offset: u32, quantise: Quantise) {
        let Some((now, until)) = self.boundary(offset, quantise) else {
            return;
        };
        self.live.release(letter, until, now);
        self.rebuild_streams();
    }

    /// The present position and the next beat or bar line, unwrapped.
    fn boundary(&self, offset: u32, quantise: Quantise) -> Option<(f64, f64)> {
        let (line, timeline) = (self.line.as_ref()?, self.timeline.as_ref()?);
        let layout = self.layout?;
        let now = line.at(offset);
        let map = &self.maps[0];
        let next = match quantise {
            Quantise::Beat => {
                let beat = ((now - layout.start_beats) / map.stretch).ceil();
                layout.start_beats + beat * map.stretch
            }
            Quantise::Bar => {
                let beats = (now - map.origin) / map.stretch;
                let length = timeline.form().cycle_beats();
                let pass = (beats / length).floor().max(0.0);
                let bars = &timeline.bars;
                let bar = bars.partition_point(|b| b.start.to_f64() < beats - pass * length);
                let at = bars.get(bar).map_or(length, |b| b.start.to_f64());
                map.origin + (pass * length + at) * map.stretch
            }
        };
        Some((now, next))
    }
}
