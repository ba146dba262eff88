//! The real-time part: a timeline played to the sample, and the embedded kit that
//! makes it heard. Nothing here allocates, locks or waits once it plays.

pub mod player;
pub mod sound;
