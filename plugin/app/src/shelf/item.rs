//! What lies on the shelf, as a list shows it.

use super::label::Label;
use super::stamp::Stamp;
use crate::music::{Beats, Cell, Grid, Letter, Voice};
use crate::score::{FormItem, Score, ScoreError};
use std::ffi::{OsStr, OsString};
use std::fmt;
use std::path::{Component, Path};

/// Which item: the name of its file. It holds until the item is renamed.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct ItemId(OsString);

impl ItemId {
    /// The item of a file name, if files of that name are items: no folder in
    /// it, not hidden, with the right `ending` (without its dot, in any case).
    pub fn new(file_name: &OsStr, ending: &str) -> Option<ItemId> {
        let path = Path::new(file_name);
        let mut parts = path.components();
        let plain = matches!(
            (parts.next(), parts.next()),
            (Some(Component::Normal(name)), None) if name == file_name
        );
        let hidden = file_name.to_string_lossy().starts_with('.');
        let fits = path
            .extension()
            .is_some_and(|e| e.eq_ignore_ascii_case(ending));
        (plain && !hidden && fits).then(|| ItemId(file_name.to_owned()))
    }

    pub(super) fn of(file_name: String) -> ItemId {
        ItemId(file_name.into())
    }

    /// The file name.
    pub fn as_os_str(&self) -> &OsStr {
        &self.0
    }

    /// The file name without its ending, for an item that states no name.
    pub(super) fn stem(&self) -> String {
        let stem = Path::new(&self.0).file_stem().unwrap_or_default();
        stem.to_string_lossy().into_owned()
    }
}

impl fmt::Display for ItemId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0.to_string_lossy())
    }
}

/// An item on the shelf.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Item {
    /// Its file.
    pub id: ItemId,
    /// Its name; that of its file where it states none.
    pub name: String,
    /// Its tags.
    pub tags: Vec<String>,
    /// Its note; may be empty.
    pub note: String,
    /// When it was put on the shelf; in a file put there by hand, when that was
    /// last written.
    pub added: Stamp,
    /// When it was last used, if it was.
    pub used: Option<Stamp>,
    /// Its cells in the order written.
    pub cells: Vec<CellFacts>,
    /// Whether it holds more of a form than one letter once.
    pub has_form: bool,
    /// Length of one pass of its form.
    pub length: Beats,
}

/// A cell of an item in figures.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CellFacts {
    /// Its letter.
    pub letter: Letter,
    /// Its length in beats.
    pub length: Beats,
    /// Its grid.
    pub grid: Grid,
    /// The voices it is played on, in score order.
    pub voices: Vec<Voice>,
}

/// A file that cannot be read as an item. It stays where it is.
#[derive(Debug)]
pub struct Damaged {
    /// The file.
    pub id: ItemId,
    /// What is wrong with it.
    pub error: super::ShelfError,
}

/// What lies on the shelf.
#[derive(Debug, Default)]
pub struct Listing {
    /// Items that fit, in the order asked for.
    pub items: Vec<Item>,
    /// Files that cannot be read, in order of name.
    pub damaged: Vec<Damaged>,
    /// How many files there are beyond [`super::MAX_ITEMS`].
    pub left_out: usize,
}

impl CellFacts {
    fn of(cell: &Cell) -> Option<CellFacts> {
        let played = |v: &Voice| cell.slots.iter().flatten().any(|s| s.voice == *v);
        Some(CellFacts {
            letter: cell.letter.clone(),
            length: cell.grid.length().ok()?,
            grid: cell.grid.clone(),
            voices: Voice::ALL.into_iter().filter(played).collect(),
        })
    }
}

impl Item {
    pub(super) fn of(
        id: ItemId,
        label: Label,
        written: Option<Stamp>,
        score: &Score,
    ) -> Result<Item, ScoreError> {
        let cells = score.cells_resolved()?;
        let name = if label.name.is_empty() {
            id.stem()
        } else {
            label.name
        };
        Ok(Item {
            name,
            tags: label.tags,
            note: label.note,
            added: label.added.or(written).unwrap_or_else(Stamp::now),
            used: None,
            cells: cells.iter().filter_map(CellFacts::of).collect(),
            has_form: has_form(score),
            length: score.placements()?.length,
            id,
        })
    }

    /// The voices that any of its cells is played on, in score order.
    pub fn voices(&self) -> Vec<Voice> {
        let played = |v: &Voice| self.cells.iter().any(|c| c.voices.contains(v));
        Voice::ALL.into_iter().filter(played).collect()
    }
}

/// Whether the form is more than one letter once.
fn has_form(score: &Score) -> bool {
    let [section] = score.sections.as_slice() else {
        return true;
    };
    let bare = |i: &&FormItem| **i != FormItem::BarLine;
    let mut items = section.items.iter().filter(bare);
    !matches!(
        (items.next(), items.next()),
        (Some(FormItem::Letter { .. }), None)
    )
}
