//! Where the beats of a take are.

mod find;
mod map;
mod meter;
mod pulse;
mod refine;

pub use find::{Beats, Wish, find};
pub use map::BeatMap;
pub use meter::{CLASSES, GROUPS, class, group, line_of_bars};
pub use pulse::RANGE;
pub use refine::refine;
