//! The steps by which a file comes to be, so ordered that a machine that stops
//! between two of them leaves the old file or the new one, whole.
//!
//! A text grows in a hidden draft in the same folder, is forced to the disk,
//! and takes its name in one step of the file system.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::Duration;

#[cfg(test)]
pub(super) mod test;

/// What every draft's name begins with.
const DRAFT: &str = ".barform-draft-";

/// Drafts older than this were left by a crash: no text takes so long to write.
const STALE: Duration = Duration::from_secs(24 * 60 * 60);

/// Tells apart drafts of one process.
static COUNT: AtomicU32 = AtomicU32::new(0);

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
    /// The draft is forced to the disk.
    Sync,
    /// The draft takes its name.
    Name,
    /// The draft's own name goes.
    Clean,
    /// A file moves.
    Move,
    /// The folder is forced to the disk.
    SyncFolder,
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
        let draft = Draft::write(self, path, text, None)?;
        self.before(Step::Name)?;
        // A hard link, unlike a rename, fails if the name has been taken since.
        // Where a file system has none, look once more.
        match fs::hard_link(&draft.path, path) {
            Err(e) if e.kind() != io::ErrorKind::AlreadyExists => {
                absent(path)?;
                fs::rename(&draft.path, path)?;
            }
            linked => linked?,
        }
        drop(draft);
        self.sync_folder(path);
        Ok(())
    }

    /// Writes a file in place of the one that is there, if any.
    pub fn replace(self, path: &Path, text: &str) -> io::Result<()> {
        let old = match fs::metadata(path) {
            Ok(meta) => Some(meta.permissions()),
            Err(e) if e.kind() == io::ErrorKind::NotFound => None,
            Err(e) => return Err(e),
        };
        // A rename would pass over the file's own protection.
        if old.as_ref().is_some_and(fs::Permissions::readonly) {
            return Err(io::ErrorKind::PermissionDenied.into());
        }
        let draft = Draft::write(self, path, text, old)?;
        self.before(Step::Name)?;
        fs::rename(&draft.path, path)?;
        drop(draft);
        self.sync_folder(path);
        Ok(())
    }

    /// Gives a file another name, perhaps in another folder of the same disk; a
    /// file that is there already stays, and is an error. The caller holds the
    /// folder's lock, so that nobody takes the name in between.
    pub fn move_to(self, from: &Path, to: &Path) -> io::Result<()> {
        absent(to)?;
        self.before(Step::Move)?;
        fs::rename(from, to)?;
        self.sync_folder(to);
        self.sync_folder(from);
        Ok(())
    }

    /// Removes drafts that a crash left in a folder long ago.
    pub fn sweep(self, folder: &Path) {
        let Ok(entries) = fs::read_dir(folder) else {
            return;
        };
        let drafts = entries
            .flatten()
            .filter(|e| e.file_name().to_string_lossy().starts_with(DRAFT));
        for entry in drafts {
            let age = entry.metadata().and_then(|meta| meta.modified());
            let stale = age.is_ok_and(|t| t.elapsed().is_ok_and(|age| age > STALE));
            if stale && self.before(Step::Clean).is_ok() {
                // If it cannot go now, it can the next time.
                let _ = fs::remove_file(entry.path());
            }
        }
    }

    /// Forces a folder's names to the disk, where a system can. The file is in
    /// place whether or not this succeeds, so there is nothing to report.
    fn sync_folder(self, file: &Path) {
        if self.before(Step::SyncFolder).is_err() || !cfg!(unix) {
            return;
        }
        if let Some(folder) = file.parent() {
            let _ = File::open(folder).and_then(|folder| folder.sync_all());
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

/// A whole text under a hidden name; that name goes when dropped.
struct Draft {
    disk: Disk,
    path: PathBuf,
}

impl Draft {
    fn write(
        disk: Disk,
        beside: &Path,
        text: &str,
        permissions: Option<fs::Permissions>,
    ) -> io::Result<Draft> {
        disk.before(Step::Create)?;
        let (mut file, path) = open_draft(beside)?;
        let draft = Draft { disk, path };
        let (first, rest) = text.as_bytes().split_at(text.len() / 2);
        disk.before(Step::Half)?;
        file.write_all(first)?;
        disk.before(Step::Write)?;
        file.write_all(rest)?;
        if let Some(permissions) = permissions {
            file.set_permissions(permissions)?;
        }
        disk.before(Step::Sync)?;
        file.sync_all()?;
        Ok(draft)
    }
}

impl Drop for Draft {
    fn drop(&mut self) {
        if self.disk.before(Step::Clean).is_ok() {
            // After a rename there is nothing left to remove; what cannot go
            // now is swept up later.
            let _ = fs::remove_file(&self.path);
        }
    }
}

/// Most drafts of another process with the same number that are passed over.
const MOST_TAKEN: u32 = 1_000;

fn open_draft(beside: &Path) -> io::Result<(File, PathBuf)> {
    for _ in 0..MOST_TAKEN {
        let count = COUNT.fetch_add(1, Ordering::Relaxed);
        let path = beside.with_file_name(format!("{DRAFT}{}-{count}", std::process::id()));
        match OpenOptions::new().write(true).create_new(true).open(&path) {
            // A machine that shares the folder may have a process of this number.
            Err(e) if e.kind() == io::ErrorKind::AlreadyExists => {}
            opened => return opened.map(|file| (file, path)),
        }
    }
    Err(io::ErrorKind::AlreadyExists.into())
}
