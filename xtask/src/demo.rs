//! The product at work, without a screen or a sound card.

use std::process::Command;

use anyhow::Result;

use crate::{bundle, setup, step};

/// Builds and bundles the plugin and runs the demo driver of the tests crate.
///
/// # Errors
/// If something is missing or wrong.
pub fn run() -> Result<()> {
    setup::system()?;
    bundle::checked()?;
    step::heading("Demo");
    let target = bundle::target_dir()?;
    let driver = target.join(format!("debug/demo{}", std::env::consts::EXE_SUFFIX));
    step::run(Command::new(driver).env("NICE_LOG", target.join("demo.log")))
}
