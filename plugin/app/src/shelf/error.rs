//! Why the shelf could not do as asked, in words for the user.

use crate::score::{Place, ScoreError};
use std::io;
use std::path::{Path, PathBuf};

/// Why something on the shelf was not read, kept or changed. What was on disk
/// before is still there.
#[derive(Debug, thiserror::Error)]
pub enum ShelfError {
    /// The system refused.
    #[error("{} was not {done}: {}", path.display(), words(source))]
    Io {
        /// What should have been done: `read`, `written`, …
        done: &'static str,
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The file holds more than is read.
    #[error("{} is larger than the {most} bytes that are read", path.display())]
    TooLarge {
        /// The file.
        path: PathBuf,
        /// The limit in bytes.
        most: u64,
    },
    /// The file is not text.
    #[error("{} is not text in UTF-8", path.display())]
    NotText {
        /// The file.
        path: PathBuf,
    },
    /// Not a file that can be read: a folder, a device.
    #[error("{} is not a file", path.display())]
    NotAFile {
        /// What it is called.
        path: PathBuf,
    },
    /// The score in the file cannot be read, or does not go together.
    #[error(transparent)]
    Score(#[from] ScoreError),
    /// The lines above the score that hold name, tags and note cannot be read,
    /// or a file of the editor's cannot.
    #[error("{place}: {problem}")]
    Text {
        /// Where.
        place: Place,
        /// What was read and what is allowed.
        problem: String,
    },
    /// The item is not on the shelf.
    #[error("'{name}' is no longer there; it may have been renamed or removed in another window")]
    NotThere {
        /// Its file name.
        name: String,
    },
    /// A name, tag or note that cannot be kept.
    #[error("{what} {read}; allowed is {allowed}")]
    OutOfRange {
        /// Which.
        what: &'static str,
        /// What was read.
        read: String,
        /// What is allowed.
        allowed: String,
    },
    /// The folder is full.
    #[error("{} holds {most} files, the most that are listed; remove some first", path.display())]
    Full {
        /// The folder.
        path: PathBuf,
        /// The limit.
        most: usize,
    },
    /// Another window holds the folder for longer than any change takes.
    #[error("{} is in use by another window; try again", path.display())]
    Busy {
        /// The folder.
        path: PathBuf,
    },
    /// The file was written by a newer Barform.
    #[error("{} is of version {read}; this Barform reads version {known}", path.display())]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its version.
        read: i64,
        /// The version known here.
        known: i64,
    },
    /// The letters do not fit into the other score.
    #[error("{problem}")]
    DoesNotFit {
        /// Why.
        problem: String,
    },
    /// The system names no home folder.
    #[error("the system names no home folder; give Barform a folder of its own")]
    NoHome,
}

impl ShelfError {
    /// What the system refused.
    pub(super) fn io(done: &'static str, path: &Path) -> impl FnOnce(io::Error) -> ShelfError {
        let path = path.to_owned();
        move |source| ShelfError::Io { done, path, source }
    }

    /// Whether a file by that name is already there.
    pub(super) fn is_taken(&self) -> bool {
        matches!(self, ShelfError::Io { source, .. } if source.kind() == io::ErrorKind::AlreadyExists)
    }
}

/// What a system's refusal means to a user.
fn words(error: &io::Error) -> String {
    let known = match error.kind() {
        io::ErrorKind::PermissionDenied => "you have no permission for it",
        io::ErrorKind::ReadOnlyFilesystem => "the disk is read-only",
        io::ErrorKind::StorageFull => "the disk is full",
        io::ErrorKind::QuotaExceeded => "your share of the disk is full",
        io::ErrorKind::NotFound => "it is not there",
        io::ErrorKind::NotADirectory => "its folder is a file",
        io::ErrorKind::AlreadyExists => "a file of that name is already there",
        _ => return error.to_string(),
    };
    known.to_owned()
}
