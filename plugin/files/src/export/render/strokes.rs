//! Which strokes fall on which frame.

use super::RenderError;
use crate::export::{Options, count_in, lead_in};
use barform_play::player::{EventKind, OwnClock, Player, Settings};
use barform_score::music::{Articulation, Beats, Key, Velocity, Voice};
use barform_score::score::Rate;
use barform_score::timeline::{BOUNCES, Note, Timeline};
use std::collections::{BTreeMap, VecDeque};
use std::ops::Range;
use std::sync::Arc;

/// Frames at a time while strokes are only counted.
const COUNTED_FRAMES: u32 = 1 << 16;

/// What makes two strokes sound alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Stroke {
    pub voice: Voice,
    pub articulation: Articulation,
    pub key: Key,
    pub velocity: Velocity,
}

/// Every kind of stroke that is played, with the frame of its last.
pub(super) type Census = BTreeMap<Stroke, u64>;

/// All that is needed to play, as often as wanted.
pub(super) struct Plan {
    /// What the player plays, if it plays anything.
    played: Option<Played>,
    /// Notes on frames of their own, in order: clicks before the form, or all
    /// there is.
    listed: VecDeque<(u64, Note)>,
    /// Where form, letter or list end.
    pub end_frame: f64,
    /// The last note may bounce on for so many frames.
    buzz_frames: f64,
}

/// What the player is given.
#[derive(Clone)]
struct Played {
    timeline: Arc<Timeline>,
    settings: Settings,
    tempo_bpm: f64,
    rate_hz: f64,
}

/// Strokes in order of frames.
pub(super) struct Strokes {
    playing: Option<(Player, OwnClock, Played)>,
    listed: VecDeque<(u64, Note)>,
    /// Frames so far.
    done: u64,
    struck: Vec<(u32, Note)>,
}

impl Plan {
    /// A plan for `played`, which was cut from `timeline`.
    pub fn new(
        timeline: &Timeline,
        played: Arc<Timeline>,
        options: &Options,
        rate_hz: f64,
    ) -> Result<Plan, RenderError> {
        let tempo_bpm = options.tempo_or(timeline.tempo)?.to_f64();
        let lead = lead_in(&played, options.empty_bars)?;
        let frames_per_beat = 60.0 * rate_hz / tempo_bpm;
        // Nearest frame, ties up, as the player does.
        let frame = |beats: Beats| (beats.to_f64() * frames_per_beat + 0.5).floor();
        let count_in = if options.mute.click {
            VecDeque::new()
        } else {
            let clicks = count_in(&played, options.empty_bars)?.into_iter();
            clicks.map(|(at, note)| (frame(at) as u64, note)).collect()
        };
        let settings = Settings {
            gate_ms: options.gate_ms,
            grace_ms: options.grace_ms,
            buzz_ms: options.buzz_ms,
            rate: Rate::Normal,
            start_beats: lead.checked_add(played.pickup)?.to_f64(),
            repeat: false,
            mute: options.mute,
        };
        let end_frame = frame(lead.checked_add(played.length)?);
        Ok(Plan {
            played: Some(Played {
                timeline: played,
                settings,
                tempo_bpm,
                rate_hz,
            }),
            listed: count_in,
            end_frame,
            buzz_frames: (BOUNCES + 1) as f64 * settings.buzz_ms / 1000.0 * rate_hz,
        })
    }

    /// A plan of notes on frames, in order.
    pub fn of_notes(notes: Vec<(u64, Note)>, end_frame: u64) -> Plan {
        // A note on the last frame is still to be counted.
        let last = notes.last().map_or(0, |(at, _)| at + 1);
        Plan {
            played: None,
            buzz_frames: last.saturating_sub(end_frame) as f64,
            listed: notes.into(),
            end_frame: end_frame as f64,
        }
    }

    /// From the first stroke.
    pub fn strokes(&self) -> Strokes {
        let playing = self.played.clone().map(|played| {
            let mut player = Player::new();
            player.set_sample_rate(played.rate_hz);
            player.set_timeline(Some(played.timeline.clone()));
            let mut clock = OwnClock::default();
            clock.start_at(0.0);
            (player, clock, played)
        });
        Strokes {
            playing,
            listed: self.listed.clone(),
            done: 0,
            struck: Vec::new(),
        }
    }

    /// Plays all without a sound, the last buzz included.
    pub fn census(&self) -> Census {
        let mut census = Census::new();
        let mut strokes = self.strokes();
        let end = (self.end_frame + self.buzz_frames) as u64;
        while strokes.done < end {
            let from = strokes.done;
            let rest = u32::try_from(end - from).unwrap_or(u32::MAX);
            for (offset, note) in strokes.block(rest.min(COUNTED_FRAMES)) {
                let at = from + u64::from(*offset);
                let last = census.entry(Stroke::of(note)).or_default();
                *last = at.max(*last);
            }
        }
        census
    }
}

impl Stroke {
    pub fn of(note: &Note) -> Stroke {
        Stroke {
            voice: note.voice,
            articulation: note.articulation,
            key: note.key,
            velocity: note.velocity,
        }
    }
}

impl Strokes {
    /// The strokes of the next frames, by offset.
    fn block(&mut self, frames: u32) -> &[(u32, Note)] {
        self.struck.clear();
        let block_end = self.done + u64::from(frames);
        while let Some((at, note)) = self.listed.pop_front_if(|(at, _)| *at < block_end) {
            self.struck
                .push((at.saturating_sub(self.done) as u32, note));
        }
        if let Some((player, clock, played)) = &mut self.playing {
            let transport = clock.advance(frames, played.tempo_bpm, played.rate_hz);
            let struck = &mut self.struck;
            player.process(&transport, &played.settings, frames, &mut |event| {
                if let EventKind::On(note) = event.kind {
                    struck.push((event.offset, note));
                }
            });
        }
        self.struck.sort_by_key(|(offset, _)| *offset);
        self.done = block_end;
        &self.struck
    }

    /// Goes on by `frames` frames: `sound` gets every stretch up to a stroke
    /// with that stroke, then the last stretch alone.
    pub fn step(&mut self, frames: usize, mut sound: impl FnMut(Range<usize>, Option<&Note>)) {
        // A block of the player is counted in 32 bits.
        let counted = u32::try_from(frames).unwrap_or(u32::MAX);
        let mut from = 0;
        for (offset, note) in self.block(counted) {
            let to = (*offset as usize).min(frames);
            sound(from..to.max(from), Some(note));
            from = to.max(from);
        }
        sound(from..frames, None);
    }
}
