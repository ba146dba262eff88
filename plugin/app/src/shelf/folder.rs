//! A folder of files of one kind, and the folder for what was removed from it.
//!
//! No list of contents is kept: the files are the list, so two windows have
//! nothing in common to overwrite. Changes take turns by a lock that the system
//! lets go of when a program dies.

use super::disk::Disk;
use super::error::ShelfError;
use super::item::ItemId;
use super::names::{free_name, safe_stem};
use super::{MAX_ITEMS, Stamp};
use std::collections::HashSet;
use std::ffi::OsStr;
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, Read as _};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// How long to wait for another window's change. A change takes milliseconds; a
/// slow network disk some hundred of them.
const PATIENCE: Duration = Duration::from_secs(5);

/// Pause before the next look at the lock.
const PAUSE: Duration = Duration::from_millis(3);

/// Files of one kind.
#[derive(Debug)]
pub(super) struct Folder {
    pub dir: PathBuf,
    pub ending: &'static str,
    /// Largest file that is read, in bytes.
    pub most_bytes: u64,
    pub disk: Disk,
}

/// The turn to change a folder; over when dropped.
pub(super) struct Turn {
    _file: Option<File>,
}

impl Folder {
    pub fn path(&self, id: &ItemId) -> PathBuf {
        self.dir.join(id.as_os_str())
    }

    fn removed_dir(&self) -> PathBuf {
        self.dir.join("removed")
    }

    /// The folder of what was removed.
    pub fn removed(&self) -> Folder {
        Folder {
            dir: self.removed_dir(),
            ..*self
        }
    }

    /// Waits for the turn to change the folder; makes the folder.
    pub fn turn(&self) -> Result<Turn, ShelfError> {
        let made = self.disk.make_folder(&self.dir);
        made.map_err(ShelfError::io("made", &self.dir))?;
        turn(&self.dir.join(".lock"))
    }

    /// The files in order of name, and how many more there are than are listed.
    /// A folder that is not there is empty.
    pub fn ids(&self) -> Result<(Vec<ItemId>, usize), ShelfError> {
        let entries = match fs::read_dir(&self.dir) {
            Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok((Vec::new(), 0)),
            entries => entries.map_err(ShelfError::io("read", &self.dir))?,
        };
        let mut ids = Vec::new();
        for entry in entries {
            let entry = entry.map_err(ShelfError::io("read", &self.dir))?;
            ids.extend(ItemId::new(&entry.file_name(), self.ending));
        }
        ids.sort();
        let left_out = ids.len().saturating_sub(MAX_ITEMS);
        ids.truncate(MAX_ITEMS);
        Ok((ids, left_out))
    }

    /// The text of a file.
    pub fn read(&self, id: &ItemId) -> Result<String, ShelfError> {
        read_text(&self.path(id), self.most_bytes).map_err(|error| self.named(id, error))
    }

    /// Writes a new file, named after `name`. Needs the turn.
    pub fn add(&self, _: &Turn, name: &str, text: &str) -> Result<ItemId, ShelfError> {
        if self.ids()?.0.len() >= MAX_ITEMS {
            return Err(ShelfError::Full {
                path: self.dir.clone(),
                most: MAX_ITEMS,
            });
        }
        self.fits(text)?;
        self.with_free_name(&safe_stem(name), |path| self.disk.place_new(path, text))
    }

    /// Writes a file anew. Needs the turn.
    pub fn replace(&self, _: &Turn, id: &ItemId, text: &str) -> Result<(), ShelfError> {
        self.fits(text)?;
        let path = self.path(id);
        let written = self.disk.replace(&path, text);
        written.map_err(ShelfError::io("written", &path))
    }

    /// Names a file after `name`, where it is not. Needs the turn.
    pub fn rename(&self, _: &Turn, id: &ItemId, name: &str) -> Result<ItemId, ShelfError> {
        let (stem, path) = (safe_stem(name), self.path(id));
        // Its own name counts as free: `A 2` stays so while there is an `A`.
        let own = id.as_os_str().to_string_lossy().to_lowercase();
        let mut taken = self.taken()?;
        taken.remove(&own);
        let wanted = free_name(&stem, self.ending, &taken);
        if id.as_os_str() == OsStr::new(&wanted) {
            return Ok(id.clone());
        }
        if own == wanted.to_lowercase() {
            // Only the case differs: some systems take both for one file.
            let to = self.dir.join(&wanted);
            let moved = fs::rename(&path, &to);
            moved.map_err(ShelfError::io("renamed", &path))?;
            return Ok(ItemId::of(wanted));
        }
        self.with_free_name(&stem, |to| self.disk.move_to(&path, to))
    }

    /// Moves a file into another folder of the same kind. Needs this one's turn.
    pub fn move_into(&self, _: &Turn, id: &ItemId, to: &Folder) -> Result<ItemId, ShelfError> {
        let path = self.path(id);
        if fs::symlink_metadata(&path).is_err() {
            return Err(self.not_there(id));
        }
        let made = self.disk.make_folder(&to.dir);
        made.map_err(ShelfError::io("made", &to.dir))?;
        let stem = Path::new(id.as_os_str()).file_stem().unwrap_or_default();
        // Names that are not text are rare; they need not stay the same.
        let stem = stem
            .to_str()
            .map_or_else(|| "item".to_owned(), str::to_owned);
        to.with_free_name(&stem, |to| self.disk.move_to(&path, to))
    }

    /// When a file was last written.
    pub fn written(&self, id: &ItemId) -> Option<Stamp> {
        let meta = fs::metadata(self.path(id)).ok()?;
        Stamp::of_file(meta.modified().ok()?)
    }

    fn fits(&self, text: &str) -> Result<(), ShelfError> {
        if text.len() as u64 > self.most_bytes {
            return Err(ShelfError::TooLarge {
                path: self.dir.clone(),
                most: self.most_bytes,
            });
        }
        Ok(())
    }

    /// Every name in the folder, in lower case.
    fn taken(&self) -> Result<HashSet<String>, ShelfError> {
        let entries = fs::read_dir(&self.dir).map_err(ShelfError::io("read", &self.dir))?;
        let name = |e: fs::DirEntry| e.file_name().to_string_lossy().to_lowercase();
        Ok(entries.flatten().map(name).collect())
    }

    /// Does it with the first free name. A name that another program takes in
    /// between is not free either.
    fn with_free_name(
        &self,
        stem: &str,
        with: impl Fn(&Path) -> io::Result<()>,
    ) -> Result<ItemId, ShelfError> {
        let mut taken = self.taken()?;
        loop {
            let name = free_name(stem, self.ending, &taken);
            let path = self.dir.join(&name);
            match with(&path).map_err(ShelfError::io("written", &path)) {
                Err(e) if e.is_taken() && taken.insert(name.to_lowercase()) => {}
                done => return done.map(|()| ItemId::of(name)),
            }
        }
    }

    fn not_there(&self, id: &ItemId) -> ShelfError {
        ShelfError::NotThere {
            name: id.to_string(),
        }
    }

    fn named(&self, id: &ItemId, error: ShelfError) -> ShelfError {
        match error {
            ShelfError::Io { source, .. }
                if source.kind() == io::ErrorKind::NotFound
                    && fs::symlink_metadata(self.path(id)).is_err() =>
            {
                self.not_there(id)
            }
            other => other,
        }
    }
}

/// Waits for the lock of a file; on a disk without locks there is none.
pub(super) fn turn(lock: &Path) -> Result<Turn, ShelfError> {
    let opened = OpenOptions::new()
        .write(true)
        .create(true)
        .truncate(false)
        .open(lock);
    let folder = lock.parent().unwrap_or(lock);
    let file = opened.map_err(ShelfError::io("written", folder))?;
    let begin = Instant::now();
    loop {
        match file.try_lock() {
            Ok(()) => return Ok(Turn { _file: Some(file) }),
            Err(TryLockError::WouldBlock) if begin.elapsed() < PATIENCE => {
                std::thread::sleep(PAUSE);
            }
            Err(TryLockError::WouldBlock) => {
                return Err(ShelfError::Busy {
                    path: folder.to_owned(),
                });
            }
            Err(TryLockError::Error(_)) => return Ok(Turn { _file: None }),
        }
    }
}

/// The text of a file of at most `most` bytes.
pub(super) fn read_text(path: &Path, most: u64) -> Result<String, ShelfError> {
    let meta = fs::metadata(path).map_err(ShelfError::io("read", path))?;
    let path = || path.to_owned();
    // A pipe would keep the reader waiting.
    if !meta.is_file() {
        return Err(ShelfError::NotAFile { path: path() });
    }
    let mut bytes = Vec::new();
    // One byte more is enough to see that there is too much.
    File::open(path())
        .and_then(|file| file.take(most + 1).read_to_end(&mut bytes))
        .map_err(ShelfError::io("read", &path()))?;
    if bytes.len() as u64 > most {
        return Err(ShelfError::TooLarge { path: path(), most });
    }
    String::from_utf8(bytes).map_err(|_| ShelfError::NotText { path: path() })
}
