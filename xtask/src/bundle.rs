//! Bundles of the plugin, as hosts load them.

use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};

use crate::{setup, step};

/// What tests and demo build. One set of packages, targets and features for
/// all of them, so that nothing is compiled twice: the allocation check is on,
/// and the libraries have the features that the tests ask for.
pub const CHECKED: [&str; 6] = [
    "--workspace",
    "--lib",
    "--bins",
    "--tests",
    "--features",
    "barform/assert_process_allocs",
];

/// Builds everything with all checks on, and bundles the plugin.
///
/// # Errors
/// If a program fails.
pub fn checked() -> Result<()> {
    step::heading("Build, with the check for allocations while processing");
    step::run(step::cargo(["build"]).args(CHECKED))?;
    bundle("debug", &[])
}

/// Bundles the CLAP plugin that has been built with all checks on.
///
/// # Errors
/// If it has not been built.
pub fn clap() -> Result<()> {
    step::heading("Bundle");
    let target = target_dir()?;
    nice_plug_xtask::bundle(&target, "barform-clap", &[], false)?;
    must_be_there(&target, "Barform.clap")
}

fn must_be_there(target: &Path, name: &str) -> Result<()> {
    if !target.join("bundled").join(name).exists() {
        bail!("the build left no {name}");
    }
    Ok(())
}

/// Builds and bundles what a user installs.
///
/// # Errors
/// If a program fails.
pub fn for_use() -> Result<()> {
    setup::system()?;
    step::heading("Build for use");
    step::run(&mut step::cargo([
        "build",
        "--release",
        "-p",
        "barform",
        "-p",
        "barform-clap",
        "-p",
        "barform-vst3",
        "-p",
        "barform-cli",
    ]))?;
    bundle("release", &["--release".to_owned()])?;
    let folder = target_dir()?.join("bundled");
    println!("\nIn {}:", folder.display());
    println!("  Barform.clap         into ~/.clap (Linux), or where the host looks for CLAP");
    println!("  Barform.vst3         into ~/.vst3 (Linux), or where the host looks for VST3");
    println!("  barform-standalone   the window without a host");
    println!("  barform              the command");
    Ok(())
}

/// The build's target directory.
///
/// # Errors
/// If the workspace cannot be read.
pub fn target_dir() -> Result<PathBuf> {
    let metadata = cargo_metadata::MetadataCommand::new().no_deps().exec()?;
    Ok(metadata.target_directory.into_std_path_buf())
}

fn bundle(profile: &str, args: &[String]) -> Result<()> {
    step::heading("Bundle");
    let target = target_dir()?;
    // Each library has the entry points of one format, and makes one bundle.
    for package in ["barform-clap", "barform-vst3"] {
        nice_plug_xtask::bundle(&target, package, args, false)?;
    }
    let folder = target.join("bundled");
    let exe = std::env::consts::EXE_SUFFIX;
    for name in ["barform-standalone", "barform"] {
        let name = format!("{name}{exe}");
        copy(&target.join(profile).join(&name), &folder.join(&name))?;
    }
    must_be_there(&target, "Barform.clap")?;
    must_be_there(&target, "Barform.vst3")
}

fn copy(from: &Path, to: &Path) -> Result<()> {
    // A program that is running cannot be written over, but replaced.
    if to.exists() {
        std::fs::remove_file(to)?;
    }
    std::fs::copy(from, to).with_context(|| format!("cannot copy {}", from.display()))?;
    Ok(())
}
