//! What is open: a score text, read and compiled once for each change of it.

mod compiled;
mod problem;

pub use compiled::{CompiledScore, check};
pub use problem::Problem;
