//! Lettered drum forms, from text to sound, with nothing of a window, an audio
//! device or a plugin framework in it.
//!
//! Data flows one way, and the folders are named in that order:
//!
//! text → [`score`] → [`timeline`] → [`player`] → host, with [`music`] below
//! them all; [`sound`] turns the player's notes into audio, [`export`] writes files.
//!
//! ```
//! use barform_core::{score::Score, timeline::Timeline};
//!
//! let score = Score::parse(barform_core::DEMO_SCORE, "demo.barform").unwrap();
//! let timeline = Timeline::compile(&score).unwrap();
//! assert!(timeline.length > barform_core::music::Beats::ZERO);
//! ```

pub mod craft;
pub mod export;
pub mod import;
pub mod music;
pub mod player;
pub mod score;
pub mod sheet;
pub mod shelf;
pub mod sound;
pub mod take;
pub mod timeline;

/// The embedded default score: a solo spot for a school big band, invented for
/// this project.
pub const DEMO_SCORE: &str = include_str!("../demo/lantern-street.barform");
