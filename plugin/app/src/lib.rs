//! The one crate that both shells know, the `barform` command and the plugin with
//! its window: everything below under one name, and what the two have in common.
//!
//! text → `score` → `timeline` → `player` → host, with `music` below them all;
//! `sound` turns the player's notes into audio, `export` writes files.

pub use barform_craft as craft;
pub use barform_files::{export, import, save};
pub use barform_play::{player, sound};
pub use barform_practice as practice;
pub use barform_score::{DEMO_SCORE, music, score, timeline};
pub use barform_sheet as sheet;
pub use barform_take as take;

pub mod answers;
pub mod background;
pub mod orders;
pub mod played;
pub mod preferences;
pub mod session;
pub mod shelf;
pub mod words;
