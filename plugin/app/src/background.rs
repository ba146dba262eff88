//! Work on threads of their own, so that neither audio nor a window waits for it.
//!
//! A [`Job`] is one thing at a time whose result is asked for now and then; a
//! [`Worker`] keeps something, as a folder, and does one thing after the other
//! with it. No thread outlives what started it: a host may unload this library
//! as soon as the window is gone.

mod job;
mod worker;

pub use job::{Job, Lost};
pub use worker::Worker;
