//! Shared pieces of the black-box tests: the product is used here as its users
//! use it, never through its own code.
//!
//! In: the bundles that `cargo xtask bundle` left in `target/bundled`, and the
//! `barform` command. Out: notes and sound that a host gets, windows that it
//! shows, and schedules worked out independently to compare them with.
//! Never here: a line of `barform-app`; what it does is what is tested.

pub mod bench;
pub mod clap_host;
pub mod command;
pub mod daw;
pub mod display;
pub mod hands;
pub mod host;
pub mod poppler;
pub mod schedule;
pub mod session;
pub mod stored;
pub mod threads;
pub mod vst3_host;
