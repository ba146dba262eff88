//! The product at work, without a screen or a sound card.

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
    let driver = bundle::target_dir()?.join(format!("debug/demo{}", std::env::consts::EXE_SUFFIX));
    step::run(&mut std::process::Command::new(driver))
}
