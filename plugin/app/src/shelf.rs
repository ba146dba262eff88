//! The Shelf: the cells, forms and key maps that a user keeps, and what the
//! editor remembers from one day to the next.
//!
//! Gives what lies on the shelf, scores read from it, cells put into another
//! score. Each item is a file of its own, a score file that says a little more,
//! so nothing but that file can be hurt. A crash leaves the old file or the new
//! one; two windows do not overwrite each other's work; a damaged file is told
//! about and stays where it is.

mod disk;
mod editor;
mod error;
mod folder;
mod folders;
mod insert;
mod item;
mod kits;
mod label;
mod memo;
mod names;
mod pick;
mod recent;
mod search;
mod stamp;
mod store;
mod used;
mod watched;

pub use editor::{MAX_LATENCY_MS, Prefs, SCALE_PERCENT, Theme};
pub use error::ShelfError;
pub use folders::Folders;
pub use insert::{Inserted, insert_score};
pub use item::{CellFacts, Damaged, Item, ItemId, Listing};
pub use kits::{KitEntry, KitListing, Kits};
pub use label::{Label, MAX_NOTE_CHARS, MAX_TAG_CHARS, MAX_TAGS};
pub use names::{fold, safe_stem};
pub use pick::{pick, pick_run};
pub use recent::{MAX_RECENT, Recent, RecentFile};
pub use search::{Order, Query};
pub use stamp::Stamp;
pub use store::Shelf;
pub use watched::{EditKind, NewContent, ShelfAnswer, ShelfContents, ShelfEdit, WatchedShelf};

/// Most files of one folder that are listed. A list of more is no longer
/// searched by a person; a folder of more is most likely not a shelf.
pub const MAX_ITEMS: usize = 5_000;
