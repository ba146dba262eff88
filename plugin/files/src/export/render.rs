//! A form or a letter as audio, faster or slower than it sounds.
//!
//! The same player and the same kit as in a host, driven by the own clock: what
//! is heard is what a host would have recorded. Or the same strokes on a
//! SoundFont. A grace note with no room before it (a flam on the first stroke of
//! a file without an empty bar ahead) sounds together with its main stroke.

mod part;
mod sounds;
mod strokes;

pub use part::Part;
pub use sounds::{Sounds, Substitute};

use super::{MAX_EVENTS, OptionError, Options};
use barform_play::sound::soundfont::FontError;
use barform_play::sound::{Block, SoundError};
use barform_score::music::{BeatsError, Letter, Voice};
use barform_score::timeline::{Note, Timeline};
use sounds::Engine;
use std::sync::Arc;
use strokes::{Plan, Strokes};

/// Longest rendering in seconds: a day.
const MAX_SECONDS: f64 = 86_400.0;

/// Why a form cannot be rendered.
#[derive(Debug, thiserror::Error)]
pub enum RenderError {
    /// An option out of its range.
    #[error(transparent)]
    Option(#[from] OptionError),
    /// More than [`MAX_EVENTS`] or than a day.
    #[error("more than {MAX_EVENTS} notes or a day of audio; ask for fewer passes")]
    TooLong,
    /// A letter that the score does not have.
    #[error("the score has no letter {wanted}; it has {}", list(.letters))]
    NoLetter {
        /// The one asked for.
        wanted: Letter,
        /// Those there are.
        letters: Vec<Letter>,
    },
    /// Lengths that do not add up exactly.
    #[error(transparent)]
    Beats(#[from] BeatsError),
    /// No kit at this sample rate.
    #[error(transparent)]
    Sound(#[from] SoundError),
    /// A SoundFont that cannot be used.
    #[error(transparent)]
    Font(#[from] FontError),
}

/// What is rendered.
#[derive(Debug, Clone)]
pub struct Source<'a> {
    /// The score, compiled.
    pub timeline: &'a Arc<Timeline>,
    /// Which part of it.
    pub part: Part,
    /// How it is played; [`Options::passes`] is how many times.
    pub options: &'a Options,
    /// Seconds that follow the end, 0 to 600: 0 cuts there, for a seamless
    /// loop; `None` lets the kit ring out.
    pub tail_s: Option<f64>,
    /// What it is played on.
    pub sounds: Sounds,
}

/// A rendering in progress: ask for [`Rendering::frames`] frames, in blocks of
/// any length, either of the mix or of stems.
pub struct Rendering {
    strokes: Strokes,
    engine: Engine,
    frames: u64,
    voices: Vec<Voice>,
    substitutes: Vec<Substitute>,
}

impl Rendering {
    /// The form on the built-in kit. See [`Rendering::of`] and
    /// [`Source::tail_s`].
    ///
    /// # Errors
    /// See [`RenderError`].
    pub fn new(
        timeline: &Arc<Timeline>,
        options: &Options,
        rate_hz: f64,
        tail_s: Option<f64>,
    ) -> Result<Rendering, RenderError> {
        let source = Source {
            timeline,
            part: Part::Form,
            options,
            tail_s,
            sounds: Sounds::Kit,
        };
        Rendering::of(&source, rate_hz)
    }

    /// Prepares a rendering at `rate_hz`, which may take a moment: the sounds
    /// are built for that rate.
    ///
    /// # Errors
    /// See [`RenderError`].
    pub fn of(source: &Source, rate_hz: f64) -> Result<Rendering, RenderError> {
        let options = source.options;
        options.check()?;
        sounds::check_rate(&source.sounds, rate_hz)?;
        let played = part::played(source.timeline, &source.part, options.passes)?;
        let plan = Plan::new(source.timeline, played, options, rate_hz)?;
        Rendering::prepare(&plan, &source.sounds, source.tail_s, rate_hz)
    }

    /// Prepares a rendering of notes on frames, in order, that ends on
    /// `end_frame`: for what is no plain form, such as a practice track. For
    /// `tail_s` see [`Source::tail_s`].
    ///
    /// # Errors
    /// See [`RenderError`].
    pub fn of_notes(
        notes: Vec<(u64, Note)>,
        end_frame: u64,
        sounds: &Sounds,
        tail_s: Option<f64>,
        rate_hz: f64,
    ) -> Result<Rendering, RenderError> {
        if notes.len() > MAX_EVENTS {
            return Err(RenderError::TooLong);
        }
        sounds::check_rate(sounds, rate_hz)?;
        Rendering::prepare(&Plan::of_notes(notes, end_frame), sounds, tail_s, rate_hz)
    }

    fn prepare(
        plan: &Plan,
        sounds: &Sounds,
        tail_s: Option<f64>,
        rate_hz: f64,
    ) -> Result<Rendering, RenderError> {
        if let Some(tail) = tail_s.filter(|t| !(0.0..=600.0).contains(t)) {
            let (read, allowed) = (tail.to_string(), "0 to 600 seconds");
            return Err(OptionError {
                name: "tail",
                read,
                allowed,
            }
            .into());
        }
        if plan.end_frame > MAX_SECONDS * rate_hz {
            return Err(RenderError::TooLong);
        }
        let census = plan.census();
        let (engine, substitutes) = Engine::build(sounds, rate_hz, &census)?;
        let frames = match tail_s {
            Some(seconds) => plan.end_frame + (seconds * rate_hz).round(),
            None => {
                let rings = |(stroke, last): (_, &u64)| last + engine.frames(stroke) as u64;
                let rung = census.iter().map(rings).max().unwrap_or(0);
                plan.end_frame.max(rung as f64)
            }
        };
        if frames > MAX_SECONDS * rate_hz {
            return Err(RenderError::TooLong);
        }
        let mut voices: Vec<Voice> = census.keys().map(|stroke| stroke.voice).collect();
        voices.sort();
        voices.dedup();
        Ok(Rendering {
            strokes: plan.strokes(),
            engine,
            frames: frames as u64,
            voices,
            substitutes,
        })
    }

    /// Frames of the whole file.
    pub fn frames(&self) -> u64 {
        self.frames
    }

    /// The voices that sound, in score order, the click last.
    pub fn voices(&self) -> Vec<Voice> {
        self.voices.clone()
    }

    /// Sounds that a SoundFont lacks and the built-in kit plays instead.
    pub fn substitutes(&self) -> &[Substitute] {
        &self.substitutes
    }

    /// Fills both channels, equally long, with the next frames of the mix, full
    /// scale ±1. The built-in kit is limited as in a host; a SoundFont is not
    /// and may go above. Behind the end there is silence, once all has rung out.
    pub fn fill(&mut self, left: &mut [f32], right: &mut [f32]) {
        let length = left.len().min(right.len());
        let engine = &mut self.engine;
        self.strokes.step(length, |range, note| {
            if !range.is_empty() {
                engine.render(&mut left[range.clone()], &mut right[range]);
            }
            if let Some(note) = note {
                engine.trigger(note);
            }
        });
    }

    /// Adds the next `frames` frames to the stems, each at least that long and
    /// silent before: a voice to the stem with the number that `stem_of` has for
    /// it, and nowhere if there is no such stem. Without a limiter.
    pub fn fill_stems(
        &mut self,
        stem_of: &[usize; Voice::COUNT],
        stems: &mut [Block],
        frames: usize,
    ) {
        let engine = &mut self.engine;
        self.strokes.step(frames, |range, note| {
            if !range.is_empty() {
                engine.render_stems(stem_of, stems, range);
            }
            if let Some(note) = note {
                engine.trigger(note);
            }
        });
    }
}

fn list(letters: &[Letter]) -> String {
    let all: Vec<String> = letters.iter().map(Letter::to_string).collect();
    all.join(", ")
}
