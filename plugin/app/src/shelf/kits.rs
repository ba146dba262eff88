//! Key maps that a user keeps: which voice is on which MIDI key of a sampler or
//! a drum module.
//!
//! A key map's file says its `[kit]` in the words of a score file, below a label
//! with its name.

use super::disk::Disk;
use super::error::ShelfError;
use super::folder::Folder;
use super::item::{Damaged, ItemId};
use super::label::Label;
use super::names::fold;
use crate::music::Kit;
use crate::score::{kit_text, read_kit};
use std::path::{Path, PathBuf};

/// Ending of a key map's file.
const ENDING: &str = "toml";

/// Largest key map that is read, in bytes; one that states every key takes a
/// tenth of it.
const MOST_BYTES: u64 = 1 << 16;

/// A user's key maps. Waits for the disk, as [`super::Shelf`] does.
#[derive(Debug)]
pub struct Kits {
    folder: Folder,
}

/// A key map in the list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KitEntry {
    /// Its file.
    pub id: ItemId,
    /// Its name; that of its file where it states none.
    pub name: String,
    /// The key map.
    pub kit: Kit,
}

/// The key maps there are.
#[derive(Debug, Default)]
pub struct KitListing {
    /// In order of name.
    pub kits: Vec<KitEntry>,
    /// Files that cannot be read.
    pub damaged: Vec<Damaged>,
    /// How many files there are beyond [`super::MAX_ITEMS`].
    pub left_out: usize,
}

impl Kits {
    /// The key maps in a folder, which need not be there yet.
    pub fn open(dir: impl Into<PathBuf>) -> Kits {
        let folder = Folder {
            dir: dir.into(),
            ending: ENDING,
            most_bytes: MOST_BYTES,
            disk: Disk::default(),
        };
        folder.disk.sweep(&folder.dir);
        Kits { folder }
    }

    /// The folder.
    pub fn dir(&self) -> &Path {
        &self.folder.dir
    }

    /// All key maps, and the files that cannot be read.
    ///
    /// # Errors
    /// If the folder itself cannot be read.
    pub fn list(&self) -> Result<KitListing, ShelfError> {
        let (ids, left_out) = self.folder.ids()?;
        let mut listing = KitListing {
            left_out,
            ..KitListing::default()
        };
        for id in ids {
            match self.entry(&id) {
                Ok(entry) => listing.kits.push(entry),
                // Removed in another window since the folder was read.
                Err(ShelfError::NotThere { .. }) => {}
                Err(error) => listing.damaged.push(Damaged { id, error }),
            }
        }
        listing
            .kits
            .sort_by_cached_key(|k| (fold(&k.name), k.id.clone()));
        Ok(listing)
    }

    /// Keeps a key map under a name. Another of the same name stays as it is.
    ///
    /// # Errors
    /// A name that cannot be kept, a kit that does not check, or what the system
    /// refuses.
    pub fn save(&self, name: &str, kit: &Kit) -> Result<ItemId, ShelfError> {
        let label = Label::named(name).tidy()?;
        let text = checked(&label, kit)?;
        let turn = self.folder.turn()?;
        self.folder.add(&turn, &label.name, &text)
    }

    /// Writes another key map under the same name.
    ///
    /// # Errors
    /// As [`Kits::save`], and if the file is not there or cannot be read.
    pub fn replace(&self, id: &ItemId, kit: &Kit) -> Result<(), ShelfError> {
        let turn = self.folder.turn()?;
        let text = self.folder.read(id)?;
        let (label, _) = Label::split(&text, &id.to_string())?;
        self.folder.replace(&turn, id, &checked(&label, kit)?)
    }

    /// Gives a key map another name, and its file with it.
    ///
    /// # Errors
    /// As [`Kits::save`], and if the file is not there or cannot be read.
    pub fn rename(&self, id: &ItemId, name: &str) -> Result<ItemId, ShelfError> {
        let turn = self.folder.turn()?;
        let text = self.folder.read(id)?;
        let (mut label, body) = Label::split(&text, &id.to_string())?;
        name.clone_into(&mut label.name);
        let label = label.tidy()?;
        self.folder.replace(&turn, id, &label.above(body))?;
        self.folder.rename(&turn, id, &label.name)
    }

    /// The key map of a file.
    ///
    /// # Errors
    /// If it is not there or cannot be read; a mistake in it comes with line and
    /// column.
    pub fn load(&self, id: &ItemId) -> Result<Kit, ShelfError> {
        Ok(read_kit(&self.folder.read(id)?, &id.to_string())?)
    }

    /// Moves a key map into the folder `removed`. Returns its file there.
    ///
    /// # Errors
    /// If it is not there or the system refuses.
    pub fn remove(&self, id: &ItemId) -> Result<ItemId, ShelfError> {
        let turn = self.folder.turn()?;
        self.folder.move_into(&turn, id, &self.folder.removed())
    }

    /// The key maps that were removed.
    ///
    /// # Errors
    /// If the folder itself cannot be read.
    pub fn removed(&self) -> Result<KitListing, ShelfError> {
        let folder = self.folder.removed();
        Kits { folder }.list()
    }

    /// Puts a key map that was removed back.
    ///
    /// # Errors
    /// If it is not there or the system refuses.
    pub fn restore(&self, removed: &ItemId) -> Result<ItemId, ShelfError> {
        let turn = self.folder.turn()?;
        self.folder
            .removed()
            .move_into(&turn, removed, &self.folder)
    }

    fn entry(&self, id: &ItemId) -> Result<KitEntry, ShelfError> {
        let (text, file) = (self.folder.read(id)?, id.to_string());
        let (label, _) = Label::split(&text, &file)?;
        let kit = read_kit(&text, &file)?;
        let name = if label.name.is_empty() {
            id.stem()
        } else {
            label.name
        };
        Ok(KitEntry {
            id: id.clone(),
            name,
            kit,
        })
    }
}

/// The file of a key map that can be read back.
fn checked(label: &Label, kit: &Kit) -> Result<String, ShelfError> {
    let text = label.above(&kit_text(kit));
    read_kit(&text, &label.name)?;
    Ok(text)
}
