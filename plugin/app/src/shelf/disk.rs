//! The steps by which a file comes to be, so ordered that a machine that stops
//! between two of them leaves the old file or the new one, whole.
//!
//! How a text is written whole is `save`'s business; here are the steps around
//! it, and where a test's machine stops.

use barform_files::save::{DRAFT_PREFIX, Draft, Overwrite, sync_folder_of};
use std::fs::{self, File};
use std::io::{self, Write as _};
use std::path::Path;
use std::time::Duration;

#[cfg(test)]
pub(super) mod test;

/// Drafts older than this were left by a crash: no text takes so long to write.
const STALE: Duration = Duration::from_secs(24 * 60 * 60);

/// A step that a crash may come before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Step {
    /// A folder is made.
    Folder,
    /// The draft is opened.
    Create,
    /// Half of the text is written.
    Half,
    /// The rest is written.
    Write,
    /// The draft is forced to the disk and takes its name.
    Publish,
    /// A draft goes.
    Clean,
    /// A file moves.
    Move,
}

/// Asked before each step; a refusal is a crash.
type Gate = fn(Step) -> io::Result<()>;

/// The disk, or in tests one that fails.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Disk {
    gate: Option<Gate>,
}

impl Disk {
    fn before(self, step: Step) -> io::Result<()> {
        self.gate.map_or(Ok(()), |gate| gate(step))
    }

    /// Makes a folder and those above it.
    pub fn make_folder(self, folder: &Path) -> io::Result<()> {
        if folder.is_dir() {
            return Ok(());
        }
        self.before(Step::Folder)?;
        fs::create_dir_all(folder)
    }

    /// Writes a new file; one that is there already stays, and is an error.
    pub fn place_new(self, path: &Path, text: &str) -> io::Result<()> {
        self.write(path, text, Overwrite::Refuse)
    }

    /// Writes a file in place of the one that is there, if any.
    pub fn replace(self, path: &Path, text: &str) -> io::Result<()> {
        self.write(path, text, Overwrite::Replace)
    }

    fn write(self, path: &Path, text: &str, overwrite: Overwrite) -> io::Result<()> {
        self.before(Step::Create)?;
        let draft = Draft::beside(path, overwrite)?;
        if let Err(error) = self.fill(draft.file(), text) {
            if self.before(Step::Clean).is_err() {
                // A machine that has stopped tidies nothing up.
                std::mem::forget(draft);
            }
            return Err(error);
        }
        draft.publish()
    }

    fn fill(self, mut file: &File, text: &str) -> io::Result<()> {
        let (first, rest) = text.as_bytes().split_at(text.len() / 2);
        self.before(Step::Half)?;
        file.write_all(first)?;
        self.before(Step::Write)?;
        file.write_all(rest)?;
        self.before(Step::Publish)
    }

    /// Gives a file another name, perhaps in another folder of the same disk; a
    /// file that is there already stays, and is an error. The caller holds the
    /// folder's lock, so that nobody takes the name in between.
    pub fn move_to(self, from: &Path, to: &Path) -> io::Result<()> {
        absent(to)?;
        self.before(Step::Move)?;
        fs::rename(from, to)?;
        sync_folder_of(to);
        sync_folder_of(from);
        Ok(())
    }

    /// Removes drafts that a crash left in a folder long ago.
    pub fn sweep(self, folder: &Path) {
        let Ok(entries) = fs::read_dir(folder) else {
            return;
        };
        let drafts = entries
            .flatten()
            .filter(|e| e.file_name().to_string_lossy().starts_with(DRAFT_PREFIX));
        for entry in drafts {
            let age = entry.metadata().and_then(|meta| meta.modified());
            let stale = age.is_ok_and(|t| t.elapsed().is_ok_and(|age| age > STALE));
            if stale && self.before(Step::Clean).is_ok() {
                // If it cannot go now, it can the next time.
                let _ = fs::remove_file(entry.path());
            }
        }
    }
}

fn absent(path: &Path) -> io::Result<()> {
    match fs::symlink_metadata(path) {
        Ok(_) => Err(io::ErrorKind::AlreadyExists.into()),
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(()),
        Err(e) => Err(e),
    }
}
