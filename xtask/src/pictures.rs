//! Pictures of every page of the window, at three sizes, dark and light.

use std::process::Command;

use anyhow::Result;

use crate::{bundle, setup, step};

/// Draws them into `target/pictures`.
///
/// # Errors
/// If something is missing or a page cannot be drawn.
pub fn run() -> Result<()> {
    setup::system()?;
    step::heading("Pictures of every page");
    // With the features of the tests, so that nothing is compiled twice.
    step::run(step::cargo(["build", "--examples"]).args(bundle::CHECKED))?;
    let target = bundle::target_dir()?;
    let name = format!("debug/examples/pictures{}", std::env::consts::EXE_SUFFIX);
    step::run(Command::new(target.join(name)).arg(target.join("pictures")))
}
