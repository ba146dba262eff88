//! The files opened last.

use super::error::ShelfError;
use super::memo::Memo;
use super::stamp::Stamp;
use serde::{Deserialize, Serialize};
use std::fs;
use std::path::{Path, PathBuf};

/// Most files remembered: as many as a menu shows without scrolling.
pub const MAX_RECENT: usize = 12;

/// The list of files opened last, shared by all windows.
#[derive(Debug, Clone)]
pub struct Recent {
    memo: Memo,
}

/// A file opened some time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecentFile {
    /// Where it is, or was.
    pub path: PathBuf,
    /// When it was last opened; `None` if the list does not say so readably.
    pub opened: Option<Stamp>,
    /// Whether it cannot be found now. It stays on the list: the disk it is on
    /// may come back.
    pub missing: bool,
}

#[derive(Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Content {
    #[serde(default)]
    files: Vec<Entry>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Entry {
    path: String,
    #[serde(default)]
    opened: String,
}

impl Recent {
    /// The list kept in a file, which need not be there yet.
    pub fn at(path: impl Into<PathBuf>) -> Recent {
        Recent {
            memo: Memo::at(path),
        }
    }

    /// The files, last opened first, at most [`MAX_RECENT`]. Looks whether each
    /// is there.
    ///
    /// # Errors
    /// If the list is there but cannot be read, or is of a newer version.
    pub fn list(&self) -> Result<Vec<RecentFile>, ShelfError> {
        Ok(self.memo.read::<Content>()?.shown())
    }

    /// Puts a file first. One that falls off the end is forgotten. A list that
    /// cannot be read is set aside as `recent.damaged` and a new one begun.
    ///
    /// # Errors
    /// A path that is not text, a list of a newer version, or what the system
    /// refuses.
    pub fn opened(&self, path: &Path) -> Result<Vec<RecentFile>, ShelfError> {
        let path = std::path::absolute(path).map_err(ShelfError::io("found", path))?;
        let text = path.to_str().ok_or_else(|| ShelfError::OutOfRange {
            what: "the path",
            read: format!("is '{}'", path.display()),
            allowed: "text".into(),
        })?;
        let first = Entry {
            path: text.to_owned(),
            opened: Stamp::now().to_string(),
        };
        let content = self.memo.update(|content: &mut Content| {
            content.files.retain(|e| !same(Path::new(&e.path), &path));
            content.files.insert(0, first);
            content.files.truncate(MAX_RECENT);
            Ok(())
        })?;
        Ok(content.shown())
    }

    /// Takes a file off the list; the file itself stays.
    ///
    /// # Errors
    /// As [`Recent::opened`].
    pub fn forget(&self, path: &Path) -> Result<(), ShelfError> {
        let change = |content: &mut Content| {
            content.files.retain(|e| !same(Path::new(&e.path), path));
            Ok(())
        };
        self.memo.update(change).map(|_| ())
    }

    /// Empties the list.
    ///
    /// # Errors
    /// As [`Recent::opened`].
    pub fn clear(&self) -> Result<(), ShelfError> {
        let change = |content: &mut Content| {
            content.files.clear();
            Ok(())
        };
        self.memo.update(change).map(|_| ())
    }
}

impl Content {
    fn shown(self) -> Vec<RecentFile> {
        let mut shown: Vec<RecentFile> = Vec::new();
        for entry in self.files {
            let path = PathBuf::from(entry.path);
            // A list written by hand may hold more, and some twice.
            if shown.len() < MAX_RECENT && !shown.iter().any(|s| same(&s.path, &path)) {
                shown.push(RecentFile {
                    opened: Stamp::parse(&entry.opened),
                    missing: fs::metadata(&path).is_err(),
                    path,
                });
            }
        }
        shown
    }
}

/// Whether two paths lead to one file.
fn same(a: &Path, b: &Path) -> bool {
    a == b || fs::canonicalize(a).is_ok_and(|a| fs::canonicalize(b).is_ok_and(|b| a == b))
}
