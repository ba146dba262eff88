//! The one crate that both shells know, the `barform` command and the plugin with
//! its window: everything below under one name, and what the two have in common.
//!
//! A [`session`] is what is open; [`answers`] are what the craft says about it;
//! [`orders`] make files of it; [`words`] are how both shells put things. All is
//! plain data: shells draw or print it.

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
