//! Blocks in which nothing starts or ends, which is most of them.

use super::super::{Loop, Settings, Transport};
use super::{MAX_POSITION_BEATS, Player, half_sample};

/// What the last block was played by, if nothing else was asked for since: a
/// block under the same is a matter of the line alone.
#[derive(Debug, Clone, Copy)]
pub(super) struct Steady {
    pub tempo_bpm: f64,
    pub cycle: Option<Loop>,
    pub settings: Settings,
}

impl Player {
    /// What the block at hand was played by, unless the next needs a look all
    /// the same: with a letter by key, or where the streams were built anew.
    pub(super) fn steady_under(
        &self,
        transport: &Transport,
        settings: &Settings,
    ) -> Option<Steady> {
        let settled = self.live.is_empty() && !self.unplaced;
        settled.then_some(Steady {
            tempo_bpm: transport.tempo_bpm,
            cycle: transport.cycle,
            settings: *settings,
        })
    }

    /// Lets a block go by in which nothing is to be heard of the player, and
    /// says whether it did: time runs on under what the block before was played
    /// by, and no note starts or ends. Any other block is left to
    /// [`Player::process`], which asks this first; whoever has something to
    /// get ready for events may ask it before.
    pub fn pass(&mut self, transport: &Transport, settings: &Settings, frames: u32) -> bool {
        let (Some(steady), Some(line)) = (&self.steady, &mut self.line) else {
            return false;
        };
        let clock = self.clock + u64::from(frames);
        let end = line.at(frames);
        let done = end - half_sample(end, line.slope());
        let goes_on = frames > 0
            && transport.playing
            && transport.tempo_bpm == steady.tempo_bpm
            && transport.cycle == steady.cycle
            && steady.cycle.is_none_or(|cycle| end < cycle.end_beats)
            && *settings == steady.settings;
        if !goes_on || done > self.quiet_until || self.sounding.next_off() < clock {
            return false;
        }
        let within = |beats: f64| beats.abs() <= MAX_POSITION_BEATS;
        let stays = transport.position_beats.is_some_and(within)
            && (line.pass_exact(transport, frames)
                || line.pass(transport, frames, &mut self.habits));
        if !stays {
            return false;
        }
        self.done = self.done.max(done);
        self.clock = clock;
        true
    }
}
