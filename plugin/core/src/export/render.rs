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
use crate::timeline::{BOUNCES, Lane, LaneRole, Note, Timeline, Track};
use std::collections::VecDeque;
use std::sync::Arc;

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

/// A rendering in progress: ask for [`Rendering::frames`] frames, in blocks of
/// any length.
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
    frames: u64,
    struck: Vec<(u32, Note)>,
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
        let frames = match tail_s {
            Some(seconds) => form_end + (seconds * rate_hz).round(),
            None => {
                let rings = rings_out(&played, options, &set, frames_per_beat);
                form_end.max(frame(lead) + rings)
            }
        };
        if frames > MAX_SECONDS * rate_hz {
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
            frames: frames as u64,
            struck: Vec::new(),
        })
    }

    /// Frames of the whole file.
    pub fn frames(&self) -> u64 {
        self.frames
    }

    /// Fills both channels, equally long, with the next frames, full scale ±1.
    /// Behind the end there is silence, once the kit has rung out.
    pub fn fill(&mut self, left: &mut [f32], right: &mut [f32]) {
        let length = left.len().min(right.len());
        // A block of the player is counted in 32 bits.
        let frames = u32::try_from(length).unwrap_or(u32::MAX);
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
        let mut from = 0;
        for (offset, note) in &self.struck {
            let to = (*offset as usize).min(length);
            if to > from {
                self.mixer.render(&mut left[from..to], &mut right[from..to]);
                from = to;
            }
            self.mixer
                .trigger(note.voice, note.articulation, note.velocity);
        }
        self.mixer
            .render(&mut left[from..length], &mut right[from..length]);
        self.done = block_end;
    }
}

/// Frames from the start of the form until every stroke has rung out, if none
/// is choked.
fn rings_out(timeline: &Timeline, options: &Options, set: &SampleSet, frames_per_beat: f64) -> f64 {
    let total = timeline.length_beats();
    let bounces_s = (BOUNCES + 1) as f64 * options.buzz_ms / 1000.0;
    let mut end = 0.0_f64;
    for lane in &timeline.lanes {
        let plays = match lane.role {
            LaneRole::Form => true,
            LaneRole::Ostinato(_) => !options.mute.ostinato,
            LaneRole::Click => !options.mute.click,
            LaneRole::Letter(_) => false,
        };
        if !plays {
            continue;
        }
        let cycle = lane.cycle_beats();
        for (at, note) in lane.main.at.iter().zip(&lane.main.notes) {
            // The last time this stroke is played.
            let cycles = ((total - at) / cycle).ceil() - 1.0;
            if cycles < 0.0 {
                continue;
            }
            let from = (cycles * cycle + at) * frames_per_beat;
            let length = set.frames(note.voice, note.articulation) as f64;
            end = end.max(from + length);
        }
        if lane.bounces.iter().any(|track| !track.is_empty()) {
            end += bounces_s * set.rate_hz();
        }
    }
    end.ceil()
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
