//! When each item was last used: a small file for each, beside the items, so that
//! use does not write to a user's work and two windows share no list.

use super::disk::Disk;
use super::error::ShelfError;
use super::folder::read_text;
use super::item::ItemId;
use super::stamp::Stamp;
use std::fs;
use std::path::PathBuf;

/// The folder of those files.
pub(super) struct Used {
    pub dir: PathBuf,
    pub disk: Disk,
}

impl Used {
    fn path(&self, id: &ItemId) -> PathBuf {
        let mut name = id.as_os_str().to_owned();
        // Not the ending of a score: it is none.
        name.push(".used");
        self.dir.join(name)
    }

    /// When an item was last used; a date that cannot be read is none.
    pub fn of(&self, id: &ItemId) -> Option<Stamp> {
        const MOST_BYTES: u64 = 64;
        let text = read_text(&self.path(id), MOST_BYTES).ok()?;
        Stamp::parse(text.trim())
    }

    /// Notes that an item is used now.
    pub fn mark(&self, id: &ItemId) -> Result<(), ShelfError> {
        let made = self.disk.make_folder(&self.dir);
        made.map_err(ShelfError::io("made", &self.dir))?;
        let path = self.path(id);
        let written = self.disk.replace(&path, &format!("{}\n", Stamp::now()));
        written.map_err(ShelfError::io("written", &path))
    }

    /// An item is called otherwise. If the date stays behind, the item counts as
    /// never used; there is nothing to report.
    pub fn rename(&self, from: &ItemId, to: &ItemId) {
        let _ = fs::rename(self.path(from), self.path(to));
    }

    /// An item is gone: one of the same name that comes later is not yet used.
    pub fn forget(&self, id: &ItemId) {
        let _ = fs::remove_file(self.path(id));
    }
}
