//! A form as audio of the embedded kit, faster or slower than it sounds.
//!
//! The same player and the same kit as in a host, driven by the own clock: what
//! is heard is what a host would have recorded. A grace note with no room before
//! it (a flam on the first stroke of a file without an empty bar ahead) sounds
//! together with its main stroke.

use super::{MAX_EVENTS, OptionError, Options, count_in, lead_in};
use crate::music::{Beats, BeatsError};
use crate::player::{EventKind, OwnClock, Player, Settings};
use crate::score::Rate;
use crate::sound::{Mixer, SampleSet, SoundError};
use crate::timeline::{Lane, LaneRole, Note, Timeline, Track};
use std::collections::VecDeque;
use std::sync::Arc;

/// Frames of one block, but for the last.
pub const BLOCK_FRAMES: usize = 4_096;

/// Longest rendering in seconds: a day.
const MAX_SECONDS: f64 = 86_400.0;

/// Why a form cannot be rendered.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RenderError {
    /// An option out of its range.
    #[error(transparent)]
    Option(#[from] OptionError),
    /// More than [`MAX_EVENTS`] or than a day.
    #[error("more than {MAX_EVENTS} notes or a day of audio; ask for fewer passes")]
    TooLong,
    /// Lengths that do not add up exactly.
    #[error(transparent)]
    Beats(#[from] BeatsError),
    /// No kit at this sample rate.
    #[error(transparent)]
    Sound(#[from] SoundError),
}

/// A rendering in progress. Pull blocks until there are none.
pub struct Rendering {
    player: Player,
    mixer: Mixer,
    clock: OwnClock,
    settings: Settings,
    tempo_bpm: f64,
    rate_hz: f64,
    /// Clicks before the form, by frame.
    count_in: VecDeque<(u64, Note)>,
    /// Frames rendered so far.
    done: u64,
    /// Frames from the start of the file to the end of the form.
    form_end: u64,
    /// Last frame of all; the kit may have rung out before.
    end: u64,
    /// Whether to stop once the kit has rung out.
    until_silent: bool,
    struck: Vec<(u32, Note)>,
    left: Vec<f32>,
    right: Vec<f32>,
}

impl Rendering {
    /// Prepares a rendering at `rate_hz`, which may take a moment: the kit is
    /// built for that rate. `tail_s` is what follows the end of the form, in
    /// seconds: 0 cuts there, for a seamless loop; `None` lets the kit ring
    /// out.
    ///
    /// # Errors
    /// See [`RenderError`].
    pub fn new(
        timeline: &Arc<Timeline>,
        options: &Options,
        rate_hz: f64,
        tail_s: Option<f64>,
    ) -> Result<Rendering, RenderError> {
        options.check()?;
        if let Some(tail) = tail_s.filter(|t| !(0.0..=600.0).contains(t)) {
            let (read, allowed) = (tail.to_string(), "0 to 600 seconds");
            return Err(OptionError {
                name: "tail",
                read,
                allowed,
            }
            .into());
        }
        let set = SampleSet::for_rate(rate_hz)?;
        let tempo_bpm = options.tempo_or(timeline.tempo)?.to_f64();
        let lead = lead_in(timeline, options.empty_bars)?;
        let frames_per_beat = 60.0 * rate_hz / tempo_bpm;
        // Nearest frame, ties up, as the player does.
        let frame = |beats: Beats| (beats.to_f64() * frames_per_beat + 0.5).floor();
        let played = written_out(timeline, options.passes)?;
        let form_end = frame(lead.checked_add(played.length)?);
        let tail = match tail_s {
            Some(seconds) => (seconds * rate_hz).round(),
            None => set.longest_frames() as f64,
        };
        if form_end + tail > MAX_SECONDS * rate_hz {
            return Err(RenderError::TooLong);
        }
        let count_in = if options.mute.click {
            VecDeque::new()
        } else {
            let clicks = count_in(timeline, options.empty_bars)?.into_iter();
            clicks.map(|(at, note)| (frame(at) as u64, note)).collect()
        };
        let settings = Settings {
            gate_ms: options.gate_ms,
            grace_ms: options.grace_ms,
            buzz_ms: options.buzz_ms,
            rate: Rate::Normal,
            start_beats: lead.checked_add(timeline.pickup)?.to_f64(),
            repeat: false,
            mute: options.mute,
        };
        let mut player = Player::new();
        player.set_sample_rate(rate_hz);
        player.set_timeline(Some(played));
        let mut clock = OwnClock::default();
        clock.start_at(0.0);
        Ok(Rendering {
            player,
            mixer: Mixer::new(set),
            clock,
            settings,
            tempo_bpm,
            rate_hz,
            count_in,
            done: 0,
            form_end: form_end as u64,
            end: (form_end + tail) as u64,
            until_silent: tail_s.is_none(),
            struck: Vec::new(),
            left: vec![0.0; BLOCK_FRAMES],
            right: vec![0.0; BLOCK_FRAMES],
        })
    }

    /// Gain in dB ahead of the kit's limiter.
    pub fn set_gain_db(&mut self, gain_db: f32) {
        self.mixer.set_gain_db(gain_db);
    }

    /// Frames rendered so far.
    pub fn frames_done(&self) -> u64 {
        self.done
    }

    /// Most frames there will be.
    pub fn frames_at_most(&self) -> u64 {
        self.end
    }

    /// The next block, left and right, full scale ±1; `None` at the end.
    pub fn next_block(&mut self) -> Option<(&[f32], &[f32])> {
        let over = self.until_silent && self.done >= self.form_end && !self.mixer.is_sounding();
        if over || self.done >= self.end {
            return None;
        }
        // A block ends with the form, so that silence is noticed there.
        let stop = if self.done < self.form_end {
            self.form_end
        } else {
            self.end
        };
        let frames = (stop - self.done).min(BLOCK_FRAMES as u64) as u32;
        let transport = self.clock.advance(frames, self.tempo_bpm, self.rate_hz);
        self.struck.clear();
        let block_end = self.done + u64::from(frames);
        while let Some((at, note)) = self.count_in.pop_front_if(|(at, _)| *at < block_end) {
            self.struck
                .push((at.saturating_sub(self.done) as u32, note));
        }
        let struck = &mut self.struck;
        self.player
            .process(&transport, &self.settings, frames, &mut |event| {
                if let EventKind::On(note) = event.kind {
                    struck.push((event.offset, note));
                }
            });
        struck.sort_by_key(|(offset, _)| *offset);
        let frames = frames as usize;
        let mut from = 0;
        for (offset, note) in &self.struck {
            let to = (*offset as usize).min(frames);
            if to > from {
                self.mixer
                    .render(&mut self.left[from..to], &mut self.right[from..to]);
                from = to;
            }
            self.mixer
                .trigger(note.voice, note.articulation, note.velocity);
        }
        self.mixer
            .render(&mut self.left[from..frames], &mut self.right[from..frames]);
        self.done = block_end;
        Some((&self.left[..frames], &self.right[..frames]))
    }
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
                let most = MAX_EVENTS / passes as usize;
                let notes = |tracks: &[Track]| tracks.iter().map(Track::len).sum::<usize>();
                if lane.main.len() + notes(&lane.graces) + notes(&lane.bounces) > most {
                    return Err(RenderError::TooLong);
                }
                written.lanes.push(lane_times(lane, length, passes));
            }
            LaneRole::Ostinato(_) => written.lanes.push(lane.clone()),
            LaneRole::Letter(_) => {}
        }
    }
    Ok(Arc::new(written))
}

fn lane_times(lane: &Lane, length: Beats, passes: u32) -> Lane {
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
    long
}
