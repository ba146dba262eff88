//! Practice, held against calculations of the tests' own.

mod align;
mod history;
mod plan;
mod players;
mod random;
mod schedule;
mod track;
