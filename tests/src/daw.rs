//! Sessions in hosts as they really are, played by the built plugin.

pub mod stage;
