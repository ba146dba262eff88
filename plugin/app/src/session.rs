//! What is open: a score text, read and compiled once for each change of it.

mod alone;
mod compiled;
mod problem;

pub use alone::{alone, alone_timeline};
pub use compiled::{CompiledScore, check};
pub use problem::Problem;
