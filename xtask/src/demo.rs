//! The product at work, without a screen or a sound card.

use std::path::Path;
use std::process::Command;

use anyhow::Result;

use crate::{bundle, setup, step};

/// Builds and bundles the plugin, runs the demo driver of the tests crate, and
/// leaves a picture of every page of the window in `target/demo/window`.
///
/// # Errors
/// If something is missing or wrong.
pub fn run() -> Result<()> {
    setup::system()?;
    bundle::checked()?;
    step::heading("Demo");
    let target = bundle::target_dir()?;
    let driver = target.join(format!("debug/demo{}", std::env::consts::EXE_SUFFIX));
    step::run(Command::new(driver).env("NICE_LOG", target.join("demo.log")))?;
    pictures(&target)
}

/// Every page at three sizes, dark and light.
fn pictures(target: &Path) -> Result<()> {
    step::heading("Pictures of every page");
    // With the features of all the rest, so that nothing is compiled twice.
    step::run(step::cargo(["build", "--examples"]).args(bundle::CHECKED))?;
    let name = format!("debug/examples/pictures{}", std::env::consts::EXE_SUFFIX);
    step::run(Command::new(target.join(name)).arg(target.join("demo/window")))
}
