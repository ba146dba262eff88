//! The embedded drum kit: audio for a set-up that has no sampler.
//!
//! In: a sample rate; then strokes as voice, articulation and velocity, each
//! taking effect at the first sample of the next block. Out: stereo blocks of
//! `f32`, full scale ±1.0, as the drummer hears the kit (hi-hat left, ride
//! right).
//!
//! A [`SampleSet`] is built once per sample rate, away from the audio thread,
//! and shared by all who ask for that rate. A [`Mixer`] belongs to one audio
//! thread and plays it.
//!
//! For audio made offline there is [`soundfont`], too, with rules of its own.
//!
//! Never here: files, MIDI, musical time, a decision about what to play when;
//! on the audio thread no allocation, no lock, no system call.

mod choke;
mod cymbals;
mod drums;
mod effects;
mod gain;
mod hats;
mod limiter;
mod metal;
mod mixer;
mod recipes;
mod sample_set;
mod shot;
pub mod soundfont;
mod strike;
mod synth;

pub use limiter::{CEILING_DBFS, TRUE_PEAK_LIMIT_DBTP};
pub use mixer::{Block, MAX_STRIKES, Mixer};
pub use sample_set::{MAX_RATE_HZ, MIN_RATE_HZ, SampleSet, SoundError};
