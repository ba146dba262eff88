//! Which subdivision each beat is on, and the slot of every stroke.

pub mod fit;
pub mod shapes;
pub mod spread;
pub mod viterbi;

pub use fit::Onset;
pub use shapes::{Shape, shapes};
pub use viterbi::BeatRead;
