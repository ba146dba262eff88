//! All of Barform that is music, time or sound, under one name: the layers below
//! the command line and the plugin, each a crate of its own.
//!
//! text → `score` → `timeline` → `player` → host, with `music` below them all;
//! `sound` turns the player's notes into audio, `export` writes files.

pub use barform_craft as craft;
pub use barform_files::{export, import, save};
pub use barform_play::{player, sound};
pub use barform_score::{DEMO_SCORE, music, score, timeline};
pub use barform_sheet as sheet;

pub mod shelf;
pub mod take;
