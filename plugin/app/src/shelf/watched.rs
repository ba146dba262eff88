//! The shelf as a window sees it: what was last found in the folder, and edits
//! that a user asks for. It waits for the disk, so it is for a
//! [`Worker`](crate::background::Worker). The folder is read again only when its
//! time stamps have changed.

use std::cmp::Reverse;
use std::collections::HashMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::time::{Duration, SystemTime};

use super::{Item, ItemId, Label, Order, Query, Shelf, ShelfError, fold};
use crate::music::Kit;
use crate::score::Score;
use crate::timeline::Timeline;

/// A folder that changed less than this ago may change again within one tick of
/// the file system's clock (two seconds on the coarsest).
const SETTLED: Duration = Duration::from_secs(3);

/// What is looked for, and what else there is.
#[derive(Debug, Clone, Default)]
pub struct ShelfContents {
    /// All items, in the order asked for.
    pub all: Arc<Vec<Item>>,
    /// Those that are looked for, as indices into `all`.
    pub matching: Vec<usize>,
    /// Tags with the number of items that have each, most used first.
    pub tags: Arc<Vec<(String, usize)>>,
    /// Files that cannot be read, with the reason.
    pub damaged: Arc<Vec<(ItemId, String)>>,
    /// Items that were removed.
    pub removed: Arc<Vec<Item>>,
    /// Files beyond the most that are listed.
    pub left_out: usize,
}

/// Something done to the shelf.
#[derive(Debug)]
pub enum ShelfEdit {
    /// A new item.
    Keep(Label, NewContent),
    /// Another score in an item's place.
    Replace(ItemId, Box<Score>),
    /// Another name.
    Rename(ItemId, String),
    /// Other tags.
    Retag(ItemId, Vec<String>),
    /// Another note.
    Annotate(ItemId, String),
    /// Off the shelf.
    Remove(ItemId),
    /// Back on it.
    Restore(ItemId),
    /// It was put into a score.
    Used(ItemId),
}

/// What is kept.
#[derive(Debug)]
pub enum NewContent {
    /// A score that was made for it.
    Score(Box<Score>),
    /// A score file as it is, comments and all.
    Text(String),
}

/// What a job came to.
pub enum ShelfAnswer {
    /// The folder was looked at.
    Looked(Result<ShelfContents, String>),
    /// An edit was made, or why not; and what is there now.
    Done {
        /// What kind of edit.
        kind: EditKind,
        /// The item it was asked of.
        about: Option<ItemId>,
        /// The item it now is.
        now: Result<Option<ItemId>, String>,
        /// What is there.
        found: Result<ShelfContents, String>,
    },
    /// An item was read.
    Read(ItemId, Result<Arc<Score>, String>),
    /// An item was made ready to be heard.
    Compiled(ItemId, Result<Arc<Timeline>, String>),
}

/// A kind of edit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EditKind {
    /// A new item, or another score in an item's place.
    Keep,
    /// Another name.
    Name,
    /// Other tags.
    Tags,
    /// Another note.
    Note,
    /// Off the shelf.
    Remove,
    /// Back on it.
    Restore,
    /// Put into a score.
    Used,
}

/// The shelf and what is known of it.
pub struct WatchedShelf {
    dir: PathBuf,
    shelf: Option<Shelf>,
    /// Whether the page is in view.
    in_view: Arc<AtomicBool>,
    /// What was last looked for.
    query: Query,
    order: Order,
    found: ShelfContents,
    /// Time stamps of the folder, of `used` and of `removed` when last read.
    stamps: Option<Stamps>,
}

/// When each of the three folders last changed.
type Stamps = [Option<SystemTime>; 3];

impl WatchedShelf {
    /// The shelf in a folder; it looks round while `in_view`.
    pub fn new(dir: PathBuf, in_view: Arc<AtomicBool>) -> WatchedShelf {
        WatchedShelf {
            dir,
            shelf: None,
            in_view,
            query: Query::default(),
            order: Order::default(),
            found: ShelfContents::default(),
            stamps: None,
        }
    }

    fn shelf(&mut self) -> Result<&Shelf, ShelfError> {
        let shelf = match self.shelf.take() {
            Some(shelf) => shelf,
            None => Shelf::open(&self.dir)?,
        };
        Ok(self.shelf.insert(shelf))
    }

    /// Looks for something. Where nothing has changed since the folder was read,
    /// only what is known of it is searched.
    /// `anyway` reads it in any case.
    pub fn look(&mut self, query: &Query, anyway: bool) -> ShelfAnswer {
        let found = self.refresh(anyway).map(|_| self.search(query));
        ShelfAnswer::Looked(found.map_err(|e| e.to_string()))
    }

    /// Looks whether another window or program has changed the folder, while the
    /// page is in view; what was last looked for, if so.
    pub fn look_round(&mut self) -> Option<ShelfAnswer> {
        if !self.in_view.load(Relaxed) {
            return None;
        }
        let found = match self.refresh(false) {
            Ok(false) => return None,
            Ok(true) => Ok(self.search(&self.query.clone())),
            Err(error) => Err(error.to_string()),
        };
        Some(ShelfAnswer::Looked(found))
    }

    /// Reads an item.
    pub fn read(&mut self, id: ItemId) -> ShelfAnswer {
        let score = self.shelf().and_then(|shelf| shelf.load(&id));
        ShelfAnswer::Read(id, score.map(Arc::new).map_err(|e| e.to_string()))
    }

    /// Makes an item ready to be heard on a kit.
    pub fn compile(id: ItemId, score: &Score, kit: Kit) -> ShelfAnswer {
        let score = Score {
            kit,
            ..score.clone()
        };
        let timeline = Timeline::compile(&score);
        ShelfAnswer::Compiled(id, timeline.map(Arc::new).map_err(|e| e.to_string()))
    }

    /// Makes an edit.
    pub fn act(&mut self, edit: ShelfEdit, query: &Query) -> ShelfAnswer {
        let (kind, about) = (edit.kind(), edit.about().cloned());
        let now = self.try_act(edit).map_err(|e| e.to_string());
        let found = self.refresh(true).map(|_| self.search(query));
        ShelfAnswer::Done {
            kind,
            about,
            now,
            found: found.map_err(|e| e.to_string()),
        }
    }

    fn try_act(&mut self, edit: ShelfEdit) -> Result<Option<ItemId>, ShelfError> {
        let shelf = self.shelf()?;
        Ok(match edit {
            ShelfEdit::Keep(label, NewContent::Score(score)) => Some(shelf.add(label, &score)?),
            ShelfEdit::Keep(label, NewContent::Text(text)) => Some(shelf.add_text(label, &text)?),
            ShelfEdit::Replace(id, score) => {
                shelf.replace(&id, &score)?;
                Some(id)
            }
            ShelfEdit::Rename(id, name) => Some(shelf.rename(&id, &name)?),
            ShelfEdit::Retag(id, tags) => {
                shelf.retag(&id, &tags)?;
                Some(id)
            }
            ShelfEdit::Annotate(id, note) => {
                shelf.annotate(&id, &note)?;
                Some(id)
            }
            ShelfEdit::Remove(id) => {
                shelf.remove(&id)?;
                None
            }
            ShelfEdit::Restore(id) => Some(shelf.restore(&id)?),
            ShelfEdit::Used(id) => {
                shelf.mark_used(&id)?;
                Some(id)
            }
        })
    }

    /// Reads the folder again if it has changed or `anyway`; whether it was read.
    fn refresh(&mut self, anyway: bool) -> Result<bool, ShelfError> {
        let now = stamps(&self.dir);
        let known = self.stamps == Some(now) && now.iter().all(is_settled);
        if known && !anyway {
            return Ok(false);
        }
        let query = Query {
            order: self.order,
            ..Query::default()
        };
        // What was removed seldom changes, and is read anew each time.
        let same_removed = self.stamps.is_some_and(|s| s[2] == now[2]) && is_settled(&now[2]);
        let removed_before = self.found.removed.clone();
        let shelf = self.shelf()?;
        let listing = shelf.list(&query)?;
        let removed = if same_removed {
            removed_before
        } else {
            Arc::new(shelf.removed(&Query::default())?.items)
        };
        let damaged = listing.damaged.into_iter();
        let damaged: Vec<_> = damaged.map(|d| (d.id, d.error.to_string())).collect();
        let same = *self.found.all == listing.items
            && self.found.removed == removed
            && *self.found.damaged == damaged;
        let first = self.stamps.replace(now).is_none();
        if same && !first && !anyway {
            return Ok(false);
        }
        self.found = ShelfContents {
            tags: Arc::new(tags(&listing.items)),
            all: Arc::new(listing.items),
            matching: Vec::new(),
            damaged: Arc::new(damaged),
            removed,
            left_out: listing.left_out,
        };
        Ok(true)
    }

    /// Searches what is known.
    fn search(&mut self, query: &Query) -> ShelfContents {
        self.query.clone_from(query);
        if query.order != self.order {
            self.order = query.order;
            let mut all = (*self.found.all).clone();
            query.sort(&mut all);
            self.found.all = Arc::new(all);
        }
        let mut found = self.found.clone();
        let items = found.all.iter().enumerate();
        found.matching = items
            .filter(|(_, item)| query.finds(item))
            .map(|(at, _)| at)
            .collect();
        found
    }
}

impl ShelfEdit {
    fn kind(&self) -> EditKind {
        match self {
            ShelfEdit::Keep(..) | ShelfEdit::Replace(..) => EditKind::Keep,
            ShelfEdit::Rename(..) => EditKind::Name,
            ShelfEdit::Retag(..) => EditKind::Tags,
            ShelfEdit::Annotate(..) => EditKind::Note,
            ShelfEdit::Remove(_) => EditKind::Remove,
            ShelfEdit::Restore(_) => EditKind::Restore,
            ShelfEdit::Used(_) => EditKind::Used,
        }
    }

    /// The item it is asked of.
    fn about(&self) -> Option<&ItemId> {
        match self {
            ShelfEdit::Keep(..) | ShelfEdit::Restore(_) => None,
            ShelfEdit::Replace(id, _)
            | ShelfEdit::Rename(id, _)
            | ShelfEdit::Retag(id, _)
            | ShelfEdit::Annotate(id, _)
            | ShelfEdit::Remove(id)
            | ShelfEdit::Used(id) => Some(id),
        }
    }
}

/// A file that was changed in place leaves no trace in its folder's stamp; the
/// page looks anew each time it comes into view.
fn stamps(dir: &Path) -> Stamps {
    let of = |dir: PathBuf| fs::metadata(dir).ok()?.modified().ok();
    [
        of(dir.to_owned()),
        of(dir.join("used")),
        of(dir.join("removed")),
    ]
}

fn is_settled(stamp: &Option<SystemTime>) -> bool {
    stamp.is_none_or(|at| at.elapsed().is_ok_and(|age| age > SETTLED))
}

/// The tags of items, each once without regard to case and accents, most used
/// first.
fn tags(items: &[Item]) -> Vec<(String, usize)> {
    let mut found: HashMap<String, (String, usize)> = HashMap::new();
    for tag in items.iter().flat_map(|item| &item.tags) {
        let entry = found.entry(fold(tag));
        entry.or_insert_with(|| (tag.clone(), 0)).1 += 1;
    }
    let mut tags: Vec<(String, usize)> = found.into_values().collect();
    tags.sort_by_cached_key(|(tag, times)| (Reverse(*times), fold(tag)));
    tags
}
