//! Writing: whole files or none, standard output without noise.

use crate::failure::Failure;
use crate::input::is_dash;
use clap::Args;
use std::fs::{self, OpenOptions};
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

/// Whether a path is there and is neither a file nor a folder: a device, a
/// pipe. Such a thing is written to, never replaced.
pub fn is_special(path: &Path) -> bool {
    fs::metadata(path).is_ok_and(|m| !m.is_file() && !m.is_dir())
}

/// Writes a whole file: it appears under its name complete or not at all.
pub fn write_file(path: &Path, bytes: &[u8], force: bool) -> Result<(), Failure> {
    if is_dash(path) {
        return print_bytes(bytes);
    }
    let failed = |e: io::Error| Failure::file(path, "written", &e);
    if is_special(path) {
        let opened = OpenOptions::new().write(true).open(path);
        return match opened.and_then(|mut file| file.write_all(bytes)) {
            Err(e) if e.kind() == io::ErrorKind::BrokenPipe => Err(Failure::PipeClosed),
            done => done.map_err(failed),
        };
    }
    refuse_existing(path, force)?;
    // A link stays a link: what it points to is replaced.
    let target = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let folder = match target.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".barform-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // What the user's mask makes of it; a file that is replaced keeps its
        // own.
        let kept = fs::metadata(&target).map(|m| m.permissions());
        builder.permissions(kept.unwrap_or_else(|_| fs::Permissions::from_mode(0o666)));
    }
    let mut draft = builder.tempfile_in(folder).map_err(failed)?;
    draft.write_all(bytes).map_err(failed)?;
    draft.as_file().sync_all().map_err(failed)?;
    let published = if force {
        draft.persist(&target)
    } else {
        draft.persist_noclobber(&target)
    };
    match published {
        Ok(_) => Ok(()),
        Err(e) if e.error.kind() == io::ErrorKind::AlreadyExists => Err(exists(path)),
        Err(e) => Err(failed(e.error)),
    }
}

/// The message for a file that is in the way.
pub fn exists(path: &Path) -> Failure {
    Failure::File(format!("{} exists; --force replaces it", path.display()))
}
