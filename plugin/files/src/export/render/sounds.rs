//! What plays the strokes.

use super::RenderError;
use super::strokes::{Census, Stroke};
use barform_play::sound::soundfont::{FontError, FontMixer, FontShots, SoundFont};
use barform_play::sound::{Block, MAX_RATE_HZ, MIN_RATE_HZ, Mixer, SampleSet, SoundError};
use barform_score::music::{Articulation, Key, Voice};
use barform_score::timeline::Note;
use std::ops::Range;
use std::sync::Arc;

/// What a score is played on.
#[derive(Debug, Clone, Default)]
pub enum Sounds {
    /// The built-in kit.
    #[default]
    Kit,
    /// A SoundFont of the user's.
    Font {
        /// The file.
        font: Arc<SoundFont>,
        /// Bank and program; `None` for its drum kit, see [`SoundFont::drums`].
        preset: Option<(u16, u16)>,
    },
}

/// A sound that a SoundFont lacks; the built-in kit has played it instead.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Substitute {
    /// The voice.
    pub voice: Voice,
    /// How it is struck.
    pub articulation: Articulation,
    /// The key that was looked for.
    pub key: Key,
}

/// A kit being played.
pub(super) enum Engine {
    Kit(Mixer, Arc<SampleSet>),
    Font {
        mixer: FontMixer,
        shots: Arc<FontShots>,
        set: Arc<SampleSet>,
        mix: Block,
    },
}

/// Refuses a sample rate before anything else is done.
pub(super) fn check_rate(sounds: &Sounds, rate_hz: f64) -> Result<(), RenderError> {
    let whole = rate_hz as u32;
    match sounds {
        _ if !(MIN_RATE_HZ..=MAX_RATE_HZ).contains(&rate_hz) => {
            Err(SoundError::Rate(rate_hz).into())
        }
        Sounds::Font { .. } if f64::from(whole) != rate_hz => Err(FontError::Rate(whole).into()),
        _ => Ok(()),
    }
}

impl Engine {
    /// Builds what the strokes of a census need.
    pub fn build(
        sounds: &Sounds,
        rate_hz: f64,
        census: &Census,
    ) -> Result<(Engine, Vec<Substitute>), RenderError> {
        let set = SampleSet::for_rate(rate_hz)?;
        let Sounds::Font { font, preset } = sounds else {
            return Ok((Engine::Kit(Mixer::new(set.clone()), set), Vec::new()));
        };
        let preset = font.drums(*preset)?;
        let notes = census.keys().map(|stroke| (stroke.key, stroke.velocity));
        let shots = Arc::new(FontShots::build(font, preset, rate_hz as u32, notes)?);
        let mut substitutes = Vec::new();
        for stroke in census.keys() {
            let substitute = Substitute {
                voice: stroke.voice,
                articulation: stroke.articulation,
                key: stroke.key,
            };
            let missing = shots.frames(stroke.key, stroke.velocity).is_none();
            if missing && !substitutes.contains(&substitute) {
                substitutes.push(substitute);
            }
        }
        let engine = Engine::Font {
            mixer: FontMixer::new(shots.clone())?,
            shots,
            set,
            mix: Block::default(),
        };
        Ok((engine, substitutes))
    }

    /// Frames a stroke rings, if nothing stops it.
    pub fn frames(&self, stroke: &Stroke) -> usize {
        let (set, font) = match self {
            Engine::Kit(_, set) => (set, None),
            Engine::Font { set, shots, .. } => (set, shots.frames(stroke.key, stroke.velocity)),
        };
        font.unwrap_or_else(|| set.frames(stroke.voice, stroke.articulation))
    }

    /// Starts a stroke at the next frame.
    pub fn trigger(&mut self, note: &Note) {
        match self {
            Engine::Kit(mixer, _) => mixer.trigger(note.voice, note.articulation, note.velocity),
            Engine::Font { mixer, .. } => mixer.trigger(note),
        }
    }

    /// Writes the next frames of the mix.
    pub fn render(&mut self, left: &mut [f32], right: &mut [f32]) {
        match self {
            Engine::Kit(mixer, _) => mixer.render(left, right),
            Engine::Font { mixer, mix, .. } => {
                let frames = left.len().min(right.len());
                for channel in [&mut mix.left, &mut mix.right] {
                    channel.clear();
                    channel.resize(frames, 0.0);
                }
                let all = std::slice::from_mut(mix);
                mixer.render_stems(&[0; Voice::COUNT], all, 0..frames);
                left[..frames].copy_from_slice(&mix.left);
                right[..frames].copy_from_slice(&mix.right);
            }
        }
    }

    /// Adds the next frames to a range of the stems.
    pub fn render_stems(
        &mut self,
        stem_of: &[usize; Voice::COUNT],
        stems: &mut [Block],
        range: Range<usize>,
    ) {
        match self {
            Engine::Kit(mixer, _) => mixer.render_stems(stem_of, stems, range),
            Engine::Font { mixer, .. } => mixer.render_stems(stem_of, stems, range),
        }
    }
}
