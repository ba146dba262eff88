//! Programs that the tests call: `barform` itself, and Python with the
//! reference libraries.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use anyhow::{Context, Result, bail};

use crate::host::target_dir;

/// The `barform` command under test: `BARFORM_CLI` if set, else the one that
/// was built beside this program.
///
/// # Errors
/// If there is none.
pub fn barform() -> Result<Command> {
    Ok(Command::new(built("BARFORM_CLI", "barform")?))
}

/// The window without a host: `BARFORM_STANDALONE` if set, else as built.
///
/// # Errors
/// If there is none.
pub fn standalone() -> Result<Command> {
    Ok(Command::new(built(
        "BARFORM_STANDALONE",
        "barform-standalone",
    )?))
}

fn built(variable: &str, name: &str) -> Result<PathBuf> {
    if let Some(path) = std::env::var_os(variable) {
        return Ok(PathBuf::from(path));
    }
    let program = std::env::current_exe().context("where is this program?")?;
    let name = format!("{name}{}", std::env::consts::EXE_SUFFIX);
    let found = program
        .ancestors()
        .skip(1)
        .take(2)
        .map(|dir| dir.join(&name))
        .find(|path| path.is_file());
    found.with_context(|| format!("{name} is not built; `cargo xtask test` builds it"))
}

/// Runs a Python script of `tests/python` with the reference libraries that
/// `cargo xtask test` sets up in `target/venv`, and returns what it printed.
///
/// # Errors
/// If there are no libraries, or the script ends with an error; the message
/// holds what it wrote.
pub fn python(script: &str, args: &[&Path]) -> Result<String> {
    let python = target_dir().join("venv/bin/python");
    if !python.exists() {
        bail!("target/venv is not there; `cargo xtask test` makes it");
    }
    let script = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("python")
        .join(script);
    let output = Command::new(python)
        .arg("-I")
        .arg("-B")
        .arg(&script)
        .args(args)
        .output()
        .context("cannot run Python")?;
    checked(output, &script.display().to_string())
}

/// What a program printed.
///
/// # Errors
/// If it ended with an error; the message holds what it wrote.
pub fn checked(output: Output, what: &str) -> Result<String> {
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    if output.status.success() {
        Ok(text(&output.stdout))
    } else {
        bail!(
            "{what}: {}\n{}{}",
            output.status,
            text(&output.stdout),
            text(&output.stderr)
        )
    }
}
