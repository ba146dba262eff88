//! Plays finished notes of a SoundFont.

use super::FontShots;
use super::shots::Shot;
use crate::sound::choke::{self, Choke};
use crate::sound::mixer::{Block, Mixer};
use crate::sound::strike::Fade;
use crate::sound::{SampleSet, SoundError};
use barform_score::music::{Key, Velocity, Voice};
use barform_score::timeline::Note;
use std::ops::Range;
use std::sync::Arc;

/// Notes that sound at the same time; one more ends the oldest.
const MAX_NOTES: usize = 256;

/// Seconds in which a note falls silent that another of its exclusive class
/// stops: soon, without a click.
const CLASS_FADE_S: f64 = 0.02;

/// Seconds in which the oldest of too many notes makes room.
const STEAL_FADE_S: f64 = 0.008;

/// A note under way.
#[derive(Debug)]
struct Sounding {
    note: Note,
    id: (Key, Velocity),
    class: u16,
    position: usize,
    fade: Option<Fade>,
}

/// Plays the notes of a SoundFont, each from the exact frame, and the built-in
/// kit where the SoundFont has no sound. Without a limiter: what comes out can
/// exceed full scale, and the sum of the stems is the mix.
#[derive(Debug)]
pub struct FontMixer {
    shots: Arc<FontShots>,
    sounding: Vec<Sounding>,
    kit: Mixer,
}

impl FontMixer {
    /// A silent mixer.
    ///
    /// # Errors
    /// [`SoundError`] if the built-in kit does not come in that sample rate.
    pub fn new(shots: Arc<FontShots>) -> Result<FontMixer, SoundError> {
        let set = SampleSet::for_rate(f64::from(shots.rate_hz()))?;
        Ok(FontMixer {
            shots,
            sounding: Vec::new(),
            kit: Mixer::new(set),
        })
    }

    /// Starts a note at the first frame of the next block. Notes of its
    /// exclusive class stop; so does what the same stroke stops on the built-in
    /// kit, such as an open hi-hat that closes.
    pub fn trigger(&mut self, note: &Note) {
        let id = (note.key, note.velocity);
        let rate_hz = f64::from(self.shots.rate_hz());
        let Some(shot) = self.shots.shot(note.key, note.velocity) else {
            self.kit
                .trigger(note.voice, note.articulation, note.velocity);
            return;
        };
        let struck = (note.voice, note.articulation);
        for old in &mut self.sounding {
            let rings = (old.note.voice, old.note.articulation);
            if shot.class != 0 && shot.class == old.class {
                old.stop(0.0, CLASS_FADE_S, rate_hz);
            } else if let Some(Choke { wait_s, fade_s }) = choke::of_ringing(struck, rings) {
                old.stop(wait_s, fade_s, rate_hz);
            }
        }
        let going_on = |s: &&mut Sounding| s.fade.is_none();
        if self.sounding.iter().filter(|s| s.fade.is_none()).count() >= MAX_NOTES
            && let Some(oldest) = self.sounding.iter_mut().find(going_on)
        {
            oldest.stop(0.0, STEAL_FADE_S, rate_hz);
        }
        let mut new = Sounding {
            note: *note,
            id,
            class: shot.class,
            position: 0,
            fade: None,
        };
        if let Some(Choke { wait_s, fade_s }) = choke::own(note.articulation) {
            new.stop(wait_s, fade_s, rate_hz);
        }
        self.sounding.push(new);
    }

    /// Adds the next frames to a range of each stem: a note to the stem that
    /// `stem_of` has for its voice.
    pub fn render_stems(
        &mut self,
        stem_of: &[usize; Voice::COUNT],
        stems: &mut [Block],
        range: Range<usize>,
    ) {
        self.kit.render_stems(stem_of, stems, range.clone());
        let shots = &self.shots;
        self.sounding.retain_mut(|sounding| {
            let (Some(shot), Some(stem)) = (
                shots.shot(sounding.id.0, sounding.id.1),
                stems.get_mut(stem_of[sounding.note.voice.index()]),
            ) else {
                return false;
            };
            sounding.add_to(shot, stem, range.clone())
        });
    }
}

impl Sounding {
    fn stop(&mut self, wait_s: f64, fade_s: f64, rate_hz: f64) {
        let frames = |seconds: f64| (seconds * rate_hz) as u32;
        Fade::start(&mut self.fade, frames(wait_s), frames(fade_s));
    }

    /// Whether there is more to come.
    fn add_to(&mut self, shot: &Shot, stem: &mut Block, range: Range<usize>) -> bool {
        let left = stem.left.get_mut(range.clone()).unwrap_or(&mut []);
        let right = stem.right.get_mut(range).unwrap_or(&mut []);
        let rest = shot.left.iter().zip(&shot.right).skip(self.position);
        let mut done = 0;
        for ((l, r), (from_l, from_r)) in left.iter_mut().zip(right).zip(rest) {
            let gain = self.fade.as_ref().map_or(1.0, Fade::gain);
            *l += gain * from_l;
            *r += gain * from_r;
            if let Some(fade) = &mut self.fade {
                fade.step();
            }
            done += 1;
        }
        self.position += done;
        self.position < shot.left.len() && !self.fade.as_ref().is_some_and(Fade::is_over)
    }
}
