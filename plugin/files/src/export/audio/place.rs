//! Where a file grows before it gets its name.

use super::AudioError;
use std::ffi::OsString;
use std::fs::{self, File, OpenOptions};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

/// Whether an existing file may be replaced.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Overwrite {
    /// Refuse.
    #[default]
    Refuse,
    /// Replace it, once the new file is complete.
    Replace,
}

/// Tells apart drafts of one process that go to the same place.
static COUNT: AtomicU32 = AtomicU32::new(0);

/// A hidden file beside the one asked for. Unless published, it is removed when
/// dropped.
pub(super) struct Draft {
    file: File,
    draft: PathBuf,
    path: PathBuf,
}

impl Draft {
    /// Opens a draft for `path`.
    pub fn beside(path: &Path, overwrite: Overwrite, suffix: &str) -> Result<Draft, AudioError> {
        let name = path
            .file_name()
            .ok_or_else(|| AudioError::NotAFile(path.to_owned()))?;
        if path.is_dir() {
            return Err(AudioError::NotAFile(path.to_owned()));
        }
        refuse_existing(path, overwrite)?;
        let count = COUNT.fetch_add(1, Ordering::Relaxed);
        let mut hidden = OsString::from(".");
        hidden.push(name);
        hidden.push(format!(".{}-{count}.{suffix}", std::process::id()));
        let draft = path.with_file_name(hidden);
        let file = OpenOptions::new()
            .read(true)
            .write(true)
            .create_new(true)
            .open(&draft)
            .map_err(|source| failed(path, source))?;
        Ok(Draft {
            file,
            draft,
            path: path.to_owned(),
        })
    }

    /// The open file.
    pub fn file(&self) -> &File {
        &self.file
    }

    /// Gives the complete file its name.
    pub fn publish(self, overwrite: Overwrite) -> Result<(), AudioError> {
        let done = || -> io::Result<()> {
            self.file.sync_all()?;
            match overwrite {
                Overwrite::Replace => fs::rename(&self.draft, &self.path),
                // A hard link, unlike a rename, fails if the name has been taken
                // since. Where a file system has none, look once more.
                Overwrite::Refuse => match fs::hard_link(&self.draft, &self.path) {
                    Err(e) if e.kind() != io::ErrorKind::AlreadyExists => {
                        if fs::symlink_metadata(&self.path).is_ok() {
                            return Err(io::ErrorKind::AlreadyExists.into());
                        }
                        fs::rename(&self.draft, &self.path)
                    }
                    linked => linked,
                },
            }
        };
        done().map_err(|source| match source.kind() {
            io::ErrorKind::AlreadyExists => AudioError::Exists(self.path.clone()),
            _ => failed(&self.path, source),
        })
    }
}

impl Drop for Draft {
    fn drop(&mut self) {
        // After a rename there is nothing left to remove, and otherwise nobody
        // is left to tell.
        let _ = fs::remove_file(&self.draft);
    }
}

fn refuse_existing(path: &Path, overwrite: Overwrite) -> Result<(), AudioError> {
    let exists = fs::symlink_metadata(path).is_ok();
    if exists && overwrite == Overwrite::Refuse {
        return Err(AudioError::Exists(path.to_owned()));
    }
    Ok(())
}

fn failed(path: &Path, source: io::Error) -> AudioError {
    AudioError::Io {
        what: path.display().to_string(),
        source,
    }
}
