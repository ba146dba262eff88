//! Writing: whole files or none, standard output without noise.

use crate::failure::Failure;
use crate::input::{Source, is_dash};
use barform_app::orders::{self, OrderError, Report};
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

impl Target {
    /// Where to: as asked for, else standard output for a score from standard
    /// input, else a file called as the score is, with an ending.
    pub fn path(&self, source: &Source, ending: &str) -> PathBuf {
        self.path_or(source, source.beside(ending))
    }

    fn path_or(&self, source: &Source, usual: PathBuf) -> PathBuf {
        match &self.output {
            Some(path) => path.clone(),
            None if source.is_stdin() => PathBuf::from("-"),
            None => usual,
        }
    }

    /// As [`Target::path`]; refuses what exists already, before any work is done.
    pub fn place(&self, source: &Source, ending: &str) -> Result<PathBuf, Failure> {
        self.place_or(source, source.beside(ending))
    }

    /// As [`Target::place`], for a file with a name of its own.
    pub fn place_or(&self, source: &Source, usual: PathBuf) -> Result<PathBuf, Failure> {
        let path = self.path_or(source, usual);
        refuse_existing(&path, self.force)?;
        Ok(path)
    }
}

/// Has something made and says what came of it.
pub fn make(
    path: &Path,
    force: bool,
    quiet: bool,
    make: impl FnOnce(&mut orders::Target) -> Result<Report, OrderError>,
) -> Result<(), Failure> {
    let report = if is_dash(path) {
        make(&mut orders::Target::stream(path, &mut io::stdout().lock()))?
    } else {
        make(&mut orders::Target::file(path, Overwrite::if_asked(force)))?
    };
    if quiet {
        return Ok(());
    }
    tell(path, &report.to_string())
}

/// Says something about a file that was written: on standard error if it went to
/// standard output.
pub fn tell(path: &Path, text: &str) -> Result<(), Failure> {
    if is_dash(path) {
        // Nobody to tell if it has gone.
        let _ = write!(io::stderr(), "{text}");
        Ok(())
    } else {
        say(text)
    }
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
pub fn refuse_terminal(path: &Path, what: &str) -> Result<(), Failure> {
    if is_dash(path) && io::stdout().is_terminal() {
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
