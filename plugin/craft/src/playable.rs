//! Playability: how fast each limb is asked to be, and up to which tempo a
//! form stays within a level.
//!
//! In: strokes at exact times (a cell, a form, ostinatos and form together),
//! where the voices stand, limits (data). Out: rates, runs, travel, crossings
//! and collisions of the four limbs; the top tempo, with the strokes that limit
//! it and a sentence that says why. Never here: whether it sounds well, and
//! rounding: a top tempo is the greatest whole number of beats per minute that
//! keeps every limit.
//!
//! **These figures are no advice to play that fast.** Fast repetition can injure
//! wrists, forearms and ankles. Warm up, raise the tempo in small steps, rest,
//! and stop at pain or numbness. A teacher who sees you play, and a physician
//! where something hurts, know better than any table; where they say less, less
//! it is.

mod bounds;
mod collide;
mod levels;
mod limbs;
mod motion;
mod say;

pub use bounds::{Bound, MAX_BPM, Measure, Top};
pub use collide::{Collision, Meeting};
pub use levels::{Ability, Levels};
pub use limbs::{Crossing, LimbReport, Repeat};
pub use motion::Playable;
