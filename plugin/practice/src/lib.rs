//! Practice: from slow to fast, alone, with a teacher, or against the clock.
//!
//! In: a score and a [`Plan`](plan::Plan); later, what somebody played. Out: one
//! exact [`Schedule`](schedule::Schedule) that live playing and rendered tracks
//! share, [tracks](track) as notes and MIDI, a [report] on the playing,
//! its [history]. Plain data throughout. Never here: a window, a terminal, an
//! audio device, a decision about the music that the score has made.

pub mod align;
pub mod expect;
pub mod history;
pub mod latency;
pub mod passage;
pub mod plan;
pub mod report;
pub mod schedule;
pub mod track;
