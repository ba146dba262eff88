//! Steps of a command: a heading with the time since the start, and programs
//! that must end well.

use std::ffi::OsStr;
use std::process::Command;
use std::sync::OnceLock;
use std::time::Instant;

use anyhow::{Context, Result, bail};

static START: OnceLock<Instant> = OnceLock::new();

/// Prints a heading.
pub fn heading(what: &str) {
    let seconds = START.get_or_init(Instant::now).elapsed().as_secs();
    println!("\n== [{:>2}:{:02}] {what}", seconds / 60, seconds % 60);
}

/// Cargo, the one that runs this program.
pub fn cargo<S: AsRef<OsStr>>(args: impl IntoIterator<Item = S>) -> Command {
    let mut command = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
    command.args(args);
    // What `cargo run` has set for this program is none of the next one's.
    for (name, _) in std::env::vars_os() {
        let of_package = name.to_str().is_some_and(|name| {
            name.starts_with("CARGO_PKG_") || name.starts_with("CARGO_MANIFEST_")
        });
        if of_package {
            command.env_remove(name);
        }
    }
    command
}

/// Runs a program to its end.
///
/// # Errors
/// If it cannot be run or ends with an error.
pub fn run(command: &mut Command) -> Result<()> {
    let status = command
        .status()
        .with_context(|| format!("cannot run {}", shown(command)))?;
    if status.success() {
        Ok(())
    } else {
        bail!("{} failed: {status}", shown(command))
    }
}

/// What a program prints.
///
/// # Errors
/// As [`run`].
pub fn output(command: &mut Command) -> Result<String> {
    let output = command
        .output()
        .with_context(|| format!("cannot run {}", shown(command)))?;
    if !output.status.success() {
        let wrote = String::from_utf8_lossy(&output.stderr);
        bail!("{} failed: {}\n{wrote}", shown(command), output.status);
    }
    Ok(String::from_utf8_lossy(&output.stdout).into_owned())
}

/// Whether a program can be run and ends well; its output is dropped.
pub fn succeeds(command: &mut Command) -> bool {
    command.output().is_ok_and(|output| output.status.success())
}

fn shown(command: &Command) -> String {
    let program = std::path::Path::new(command.get_program());
    let name = program.file_name().unwrap_or(program.as_os_str());
    std::iter::once(name)
        .chain(command.get_args())
        .map(|word| word.to_string_lossy())
        .collect::<Vec<_>>()
        .join(" ")
}
