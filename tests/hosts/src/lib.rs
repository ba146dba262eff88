//! Sessions in hosts as they really are: what time truly does, what a host with
//! habits tells of it, and what must be heard.
//!
//! A [`plan::Plan`] is what the user does: runs with starts, jumps, loops, tempo
//! steps and ramps. A [`habits::Personality`] is how the host tells of it.
//! [`session::Session`] puts the two together: the truth as an exact line of
//! beats over samples, the transport that is told for each block, and each
//! stroke with the samples that the habits allow it. [`judge`] compares that
//! with what was heard.

mod buffer;
pub mod form;
pub mod habits;
pub mod invented;
pub mod judge;
pub mod known;
pub mod plan;
pub mod session;
pub mod slack;
mod stretch;
mod telling;
mod time;
pub mod told;
