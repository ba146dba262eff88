//! Practice: plans, the tracks made from them, and how a take was played to one.
//!
//! A [`Plan`](plan::Plan) over a score becomes one exact
//! [`Schedule`](schedule::Schedule). [Tracks](track) in sound and MIDI are written
//! from it, a take is matched to it ([align]) and judged ([report]), and the
//! [history] keeps what came of it.

pub mod align;
pub mod expect;
pub mod history;
pub mod latency;
mod line;
pub mod passage;
pub mod plan;
pub mod report;
pub mod schedule;
pub mod track;
