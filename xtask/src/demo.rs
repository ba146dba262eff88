//! The product at work, without a screen or a sound card.

use std::process::Command;

use anyhow::Result;

use crate::{bundle, setup, step};

/// What the demo runs, and nothing else: the plugin with its check for
/// allocations, the command, and the host that plays it.
const PACKAGES: [&str; 9] = [
    "-p",
    "barform-clap",
    "-p",
    "barform-cli",
    "-p",
    "barform-tests",
    "--lib",
    "--bins",
    "--features=barform/assert_process_allocs",
];

/// Builds and bundles the plugin, and runs the demo driver of the tests crate.
///
/// # Errors
/// If something is missing or wrong.
pub fn run() -> Result<()> {
    setup::system()?;
    step::heading("Build, with the check for allocations while processing");
    step::run(step::cargo(["build"]).args(PACKAGES))?;
    bundle::clap()?;
    step::heading("Demo");
    let target = bundle::target_dir()?;
    let driver = target.join(format!("debug/demo{}", std::env::consts::EXE_SUFFIX));
    step::run(Command::new(driver).env("NICE_LOG", target.join("demo.log")))
}
