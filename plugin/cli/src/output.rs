//! Writing: whole files or none, standard output without noise.

use crate::failure::Failure;
use crate::input::is_dash;
use barform_app::save::{self, Overwrite, is_special};
use clap::Args;
use std::fs;
use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// Where the result goes.
#[derive(Debug, Args)]
pub struct Target {
    /// Where to write; - is standard output
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Replace the file if it exists
    #[arg(short, long)]
    pub force: bool,
}

/// Prints to standard output.
pub fn say(text: &str) -> Result<(), Failure> {
    print_bytes(text.as_bytes())
}

/// Writes bytes to standard output.
pub fn print_bytes(bytes: &[u8]) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    out.write_all(bytes)
        .and_then(|()| out.flush())
        .map_err(|e| stdout_failure(&e))
}

/// What went wrong with standard output.
pub fn stdout_failure(error: &io::Error) -> Failure {
    match error.kind() {
        io::ErrorKind::BrokenPipe => Failure::PipeClosed,
        _ => Failure::File(format!("standard output cannot be written: {error}")),
    }
}

/// Refuses to throw bytes at a screen.
pub fn refuse_terminal(what: &str) -> Result<(), Failure> {
    if io::stdout().is_terminal() {
        return Err(Failure::Usage(format!(
            "{what} does not go on a screen; name a file with --output, or pipe it somewhere"
        )));
    }
    Ok(())
}

/// Refuses what exists already, before any work is done.
pub fn refuse_existing(path: &Path, force: bool) -> Result<(), Failure> {
    if !force && !is_dash(path) && fs::symlink_metadata(path).is_ok() && !is_special(path) {
        return Err(exists(path));
    }
    Ok(())
}

/// Writes a whole file: it appears under its name complete or not at all.
pub fn write_file(path: &Path, bytes: &[u8], force: bool) -> Result<(), Failure> {
    if is_dash(path) {
        return print_bytes(bytes);
    }
    let written = save::write(path, bytes, Overwrite::if_asked(force));
    written.map_err(|e| match e.kind() {
        io::ErrorKind::AlreadyExists => exists(path),
        io::ErrorKind::BrokenPipe => Failure::PipeClosed,
        _ => Failure::file(path, "written", &e),
    })
}

/// The message for a file that is in the way.
pub fn exists(path: &Path) -> Failure {
    Failure::File(format!("{} exists; --force replaces it", path.display()))
}
