//! Which items a user is looking for, and in what order.

use super::item::{CellFacts, Item};
use super::names::fold;
use crate::music::{Beats, Grid, Letter, Voice};
use std::cmp::Reverse;
use std::ops::RangeInclusive;

/// What to list. The default is everything, by name.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Query {
    /// Words, all of which must be found in name, tags or note, without regard
    /// to case and accents; part of a word is enough. A word that is a letter of
    /// the form (`A`, `B2'`, the capital written) is looked for among the
    /// letters of the cells and as a whole word only.
    pub words: String,
    /// Tags, all of which the item must have; compared without regard to case
    /// and accents.
    pub tags: Vec<String>,
    /// Length in beats, from and to, both included.
    pub beats: Option<RangeInclusive<Beats>>,
    /// Grid, repeated as often as the cell is long: `6` finds `6 6 6` too.
    pub grid: Option<Grid>,
    /// Voices, all of which must be played.
    pub voices: Vec<Voice>,
    /// Order of the items.
    pub order: Order,
}

/// Order of the items; those equal in it are in order of name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Order {
    /// By name, without regard to case and accents, numbers by their value.
    #[default]
    Name,
    /// Last added first.
    Added,
    /// Last used first; those never used last.
    Used,
}

impl Query {
    /// Whether an item is looked for. Length, grid and voices must all be met by
    /// one and the same cell, or, if there is a form and no grid is asked for,
    /// by the form as a whole.
    pub fn finds(&self, item: &Item) -> bool {
        self.words_fit(item) && self.tags_fit(item) && self.music_fits(item)
    }

    /// Puts items in order.
    pub fn sort(&self, items: &mut [Item]) {
        items.sort_by_cached_key(|item| {
            let first = match self.order {
                Order::Name => None,
                Order::Added => Some(item.added),
                Order::Used => item.used,
            };
            (Reverse(first), natural(&item.name), item.id.clone())
        });
    }

    fn words_fit(&self, item: &Item) -> bool {
        if self.words.trim().is_empty() {
            return true;
        }
        let texts = [item.name.as_str(), item.note.as_str()];
        let texts: Vec<String> = texts
            .into_iter()
            .chain(item.tags.iter().map(String::as_str))
            .map(fold)
            .collect();
        self.words.split_whitespace().all(|word| {
            let folded = fold(word);
            match Letter::new(word) {
                Some(letter) => {
                    let whole = |text: &String| {
                        let mut words = text.split(|c: char| !c.is_alphanumeric() && c != '\'');
                        words.any(|w| w == folded)
                    };
                    item.cells.iter().any(|c| c.letter == letter) || texts.iter().any(whole)
                }
                None => texts.iter().any(|text| text.contains(&folded)),
            }
        })
    }

    fn tags_fit(&self, item: &Item) -> bool {
        let has: Vec<String> = item.tags.iter().map(|tag| fold(tag)).collect();
        self.tags.iter().all(|tag| has.contains(&fold(tag)))
    }

    fn music_fits(&self, item: &Item) -> bool {
        let long = |length: Beats| self.beats.as_ref().is_none_or(|b| b.contains(&length));
        let plays = |voices: &[Voice]| self.voices.iter().all(|v| voices.contains(v));
        let cell = |c: &CellFacts| long(c.length) && self.grid_fits(c) && plays(&c.voices);
        let whole = item.has_form && self.grid.is_none();
        item.cells.iter().any(cell) || (whole && long(item.length) && plays(&item.voices()))
    }

    fn grid_fits(&self, cell: &CellFacts) -> bool {
        let Some(grid) = &self.grid else { return true };
        *grid == cell.grid
            || grid
                .tile_to_length(cell.length)
                .is_ok_and(|tiled| tiled == cell.grid)
    }
}

/// A name in parts that sort as a reader expects: `take 2` before `take 10`.
fn natural(name: &str) -> Vec<(String, u64)> {
    let folded = fold(name);
    let mut parts = Vec::new();
    let mut rest = folded.as_str();
    while !rest.is_empty() {
        let words = rest
            .find(|c: char| c.is_ascii_digit())
            .unwrap_or(rest.len());
        let (text, digits) = rest.split_at(words);
        let end = digits
            .find(|c: char| !c.is_ascii_digit())
            .unwrap_or(digits.len());
        let (number, after) = digits.split_at(end);
        parts.push((text.to_owned(), number.parse().unwrap_or(u64::MAX)));
        rest = after;
    }
    parts
}
