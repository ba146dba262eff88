//! Poppler's tools: what a PDF holds, as another program sees it.

use std::path::Path;
use std::process::Command;

use anyhow::{Context, Result};

use crate::command::checked;

/// What one of the tools says of a file; `rest` follows the file's name.
///
/// # Errors
/// If the tool is not there or fails.
pub fn poppler(program: &str, options: &[&str], file: &Path, rest: &[&str]) -> Result<String> {
    let output = Command::new(program)
        .args(options)
        .arg(file)
        .args(rest)
        .output()
        .with_context(|| format!("{program} is missing; `cargo xtask test` installs it"))?;
    checked(output, program)
}
