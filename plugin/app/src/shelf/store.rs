//! The shelf itself: a folder of items.

use super::disk::Disk;
use super::error::ShelfError;
use super::folder::{Folder, Turn};
use super::insert::{Inserted, insert_score};
use super::item::{Damaged, Item, ItemId, Listing};
use super::label::Label;
use super::search::Query;
use super::stamp::Stamp;
use super::used::Used;
use crate::music::Cell;
use crate::score::edit::ItemPath;
use crate::score::{MAX_FILE_BYTES, Score};
use std::collections::HashMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, SystemTime};

/// Ending of an item's file: that of a score file, for it is one.
const ENDING: &str = "barform";

/// A file written less than this ago may be written again within the same tick
/// of the file system's clock (two seconds on the coarsest), so what was read of
/// it is not kept.
const SETTLED: Duration = Duration::from_secs(3);

/// A user's stored cells and forms. Every method waits for the disk: none is for
/// the audio thread, all may be called from any other.
#[derive(Debug)]
pub struct Shelf {
    folder: Folder,
    /// What was read of the files that have not changed since.
    known: Mutex<HashMap<ItemId, Known>>,
}

/// What was read of a file.
#[derive(Debug)]
struct Known {
    written: SystemTime,
    bytes: u64,
    item: Item,
}

impl Shelf {
    /// The shelf in a folder, which need not be there yet. Nothing is written
    /// before an item is added. Drafts that a crash left long ago are removed.
    ///
    /// # Errors
    /// [`ShelfError::Io`] if there is something other than a folder.
    pub fn open(dir: impl Into<PathBuf>) -> Result<Shelf, ShelfError> {
        Shelf::open_on(Disk::default(), dir.into())
    }

    pub(super) fn open_on(disk: Disk, dir: PathBuf) -> Result<Shelf, ShelfError> {
        let folder = Folder {
            dir,
            ending: ENDING,
            most_bytes: MAX_FILE_BYTES as u64,
            disk,
        };
        if fs::metadata(&folder.dir).is_ok() {
            fs::read_dir(&folder.dir).map_err(ShelfError::io("opened", &folder.dir))?;
            disk.sweep(&folder.dir);
        }
        Ok(Shelf {
            folder,
            known: Mutex::default(),
        })
    }

    /// The folder.
    pub fn dir(&self) -> &Path {
        &self.folder.dir
    }

    /// What lies on the shelf: items that are looked for, in order, and every
    /// file that cannot be read, with the reason.
    ///
    /// # Errors
    /// If the folder itself cannot be read.
    pub fn list(&self, query: &Query) -> Result<Listing, ShelfError> {
        let (ids, left_out) = self.folder.ids()?;
        let mut listing = Listing {
            left_out,
            ..Listing::default()
        };
        let used = self.used();
        let mut before = std::mem::take(&mut *self.known());
        let mut after = HashMap::with_capacity(ids.len());
        for id in ids {
            let read = match before
                .remove(&id)
                .filter(|known| self.is_current(&id, known))
            {
                Some(known) => Ok(known),
                None => self.known_from_disk(&id),
            };
            let known = match read {
                Ok(known) => known,
                // Removed in another window since the folder was read.
                Err(ShelfError::NotThere { .. }) => continue,
                Err(error) => {
                    listing.damaged.push(Damaged { id, error });
                    continue;
                }
            };
            let mut item = known.item.clone();
            item.used = used.of(&id);
            if query.finds(&item) {
                listing.items.push(item);
            }
            let age = SystemTime::now().duration_since(known.written);
            if age.is_ok_and(|age| age > SETTLED) {
                after.insert(id, known);
            }
        }
        *self.known() = after;
        query.sort(&mut listing.items);
        Ok(listing)
    }

    /// One item.
    ///
    /// # Errors
    /// As [`Shelf::load`], and a label that cannot be read.
    pub fn item(&self, id: &ItemId) -> Result<Item, ShelfError> {
        let mut item = self.known_from_disk(id)?.item;
        item.used = self.used().of(id);
        Ok(item)
    }

    /// Puts a score on the shelf under a name; the time is filled in. Another
    /// item of the same name stays as it is.
    ///
    /// # Errors
    /// A score that does not check, a label that cannot be kept, a full shelf or
    /// what the system refuses.
    pub fn add(&self, label: Label, score: &Score) -> Result<ItemId, ShelfError> {
        score.check()?;
        self.add_text(label, &score.to_toml())
    }

    /// Puts the text of a score file on the shelf, comments and all. A label
    /// that the text carries gives way.
    ///
    /// # Errors
    /// As [`Shelf::add`].
    pub fn add_text(&self, label: Label, text: &str) -> Result<ItemId, ShelfError> {
        let label = Label {
            added: Some(Stamp::now()),
            ..label.tidy()?
        };
        let body = super::label::body(text);
        Score::parse(body, &label.name)?;
        let turn = self.folder.turn()?;
        self.folder.add(&turn, &label.name, &label.above(body))
    }

    /// The score of an item, with everything in it.
    ///
    /// # Errors
    /// If the file is not there, cannot be read or says no score.
    pub fn load(&self, id: &ItemId) -> Result<Score, ShelfError> {
        let text = self.folder.read(id)?;
        Ok(Score::parse(&text, &id.to_string())?)
    }

    /// The text of an item's file, label included.
    ///
    /// # Errors
    /// If the file is not there or cannot be read.
    pub fn text(&self, id: &ItemId) -> Result<String, ShelfError> {
        self.folder.read(id)
    }

    /// The cells of an item, with everything they take from their parents.
    ///
    /// # Errors
    /// As [`Shelf::load`].
    pub fn cells(&self, id: &ItemId) -> Result<Vec<Cell>, ShelfError> {
        Ok(self.load(id)?.cells_resolved()?)
    }

    /// Puts the cells of an item into another score: see [`insert_score`]. The
    /// item counts as used.
    ///
    /// # Errors
    /// As [`Shelf::load`] and [`insert_score`]; `into` is then as before.
    pub fn insert(
        &self,
        id: &ItemId,
        into: &mut Score,
        at: Option<&ItemPath>,
    ) -> Result<Inserted, ShelfError> {
        let inserted = insert_score(&self.load(id)?, into, at)?;
        // The cells are in; that the date is not kept on a read-only disk is no
        // reason to say they are not.
        let _ = self.mark_used(id);
        Ok(inserted)
    }

    /// Gives an item another name, and its file with it.
    ///
    /// # Errors
    /// A name that cannot be kept, an item that cannot be read or is gone, or
    /// what the system refuses.
    pub fn rename(&self, id: &ItemId, name: &str) -> Result<ItemId, ShelfError> {
        let turn = self.folder.turn()?;
        let label = self.relabel(&turn, id, |label| label.name = name.to_owned())?;
        let renamed = self.folder.rename(&turn, id, &label.name)?;
        if renamed != *id {
            self.used().rename(id, &renamed);
        }
        Ok(renamed)
    }

    /// Gives an item other tags.
    ///
    /// # Errors
    /// As [`Shelf::rename`].
    pub fn retag(&self, id: &ItemId, tags: &[String]) -> Result<(), ShelfError> {
        let turn = self.folder.turn()?;
        self.relabel(&turn, id, |label| label.tags = tags.to_vec())
            .map(|_| ())
    }

    /// Gives an item another note.
    ///
    /// # Errors
    /// As [`Shelf::rename`].
    pub fn annotate(&self, id: &ItemId, note: &str) -> Result<(), ShelfError> {
        let turn = self.folder.turn()?;
        self.relabel(&turn, id, |label| label.note = note.to_owned())
            .map(|_| ())
    }

    /// Gives an item another score; name, tags, note and date stay.
    ///
    /// # Errors
    /// As [`Shelf::rename`], and a score that does not check.
    pub fn replace(&self, id: &ItemId, score: &Score) -> Result<(), ShelfError> {
        score.check()?;
        let turn = self.folder.turn()?;
        let text = self.folder.read(id)?;
        let (label, _) = Label::split(&text, &id.to_string())?;
        let text = label.above(&score.to_toml());
        self.folder.replace(&turn, id, &text)
    }

    /// Takes an item, damaged or not, off the shelf into the folder `removed`,
    /// where it stays until the user deletes it by hand. Returns its file there.
    ///
    /// # Errors
    /// If it is not there or the system refuses.
    pub fn remove(&self, id: &ItemId) -> Result<ItemId, ShelfError> {
        let turn = self.folder.turn()?;
        let moved = self.folder.move_into(&turn, id, &self.folder.removed())?;
        self.used().forget(id);
        Ok(moved)
    }

    /// What was taken off the shelf.
    ///
    /// # Errors
    /// If the folder itself cannot be read.
    pub fn removed(&self, query: &Query) -> Result<Listing, ShelfError> {
        Shelf {
            folder: self.folder.removed(),
            known: Mutex::default(),
        }
        .list(query)
    }

    /// Puts an item that was taken off back. Its file may get a number, if
    /// another has taken its name.
    ///
    /// # Errors
    /// If it is not there or the system refuses.
    pub fn restore(&self, removed: &ItemId) -> Result<ItemId, ShelfError> {
        let turn = self.folder.turn()?;
        self.folder
            .removed()
            .move_into(&turn, removed, &self.folder)
    }

    /// Notes that an item is being used now. Each item has a file of its own for
    /// that, beside the items, so that use does not write to a user's work.
    ///
    /// # Errors
    /// What the system refuses.
    pub fn mark_used(&self, id: &ItemId) -> Result<(), ShelfError> {
        self.used().mark(id)
    }

    fn used(&self) -> Used {
        Used {
            dir: self.folder.dir.join("used"),
            disk: self.folder.disk,
        }
    }

    /// Changes a label and leaves the score beneath as it is, byte for byte.
    fn relabel(
        &self,
        turn: &Turn,
        id: &ItemId,
        change: impl FnOnce(&mut Label),
    ) -> Result<Label, ShelfError> {
        let text = self.folder.read(id)?;
        let (mut label, body) = Label::split(&text, &id.to_string())?;
        if label.name.is_empty() {
            label.name = id.stem();
        }
        // A date that so far is only the file's would be lost by writing it.
        label.added = label.added.or_else(|| self.folder.written(id));
        change(&mut label);
        let label = label.tidy()?;
        let new = label.above(body);
        if new != text {
            self.folder.replace(turn, id, &new)?;
        }
        Ok(label)
    }

    fn known_from_disk(&self, id: &ItemId) -> Result<Known, ShelfError> {
        // Looked at before reading: what is written while reading is read again.
        let meta = fs::metadata(self.folder.path(id)).ok();
        let text = self.folder.read(id)?;
        let file = id.to_string();
        let (label, _) = Label::split(&text, &file)?;
        let score = Score::parse(&text, &file)?;
        let written = meta.as_ref().and_then(|m| m.modified().ok());
        let stamp = written.and_then(Stamp::of_file);
        Ok(Known {
            // Without a time it is as if just written: not kept.
            written: written.unwrap_or_else(SystemTime::now),
            bytes: meta.map_or(0, |m| m.len()),
            item: Item::of(id.clone(), label, stamp, &score)?,
        })
    }

    fn is_current(&self, id: &ItemId, known: &Known) -> bool {
        let same = |meta: fs::Metadata| {
            meta.len() == known.bytes && meta.modified().is_ok_and(|t| t == known.written)
        };
        fs::metadata(self.folder.path(id)).is_ok_and(same)
    }

    fn known(&self) -> std::sync::MutexGuard<'_, HashMap<ItemId, Known>> {
        // Each entry is whole at any time, whatever became of another thread.
        self.known.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
