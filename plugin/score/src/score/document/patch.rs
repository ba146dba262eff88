//! Changes single tables of a TOML document in place.

use super::super::write::{self, Entries};
use super::Unusual;
use crate::music::Letter;
use toml_edit::{DocumentMut, Item, Table, TableLike, Value};

/// Steps between the positions of neighbouring tables while a file is patched:
/// more than there can be new ones.
pub(super) const SPREAD: isize = 4096;

/// Multiplies the positions of all tables, so that new ones fit between.
pub(super) fn spread(table: &mut Table) {
    if let Some(position) = table.position() {
        table.set_position(Some(position.saturating_mul(SPREAD)));
    }
    for (_, item) in table.iter_mut() {
        match item {
            Item::Table(table) => spread(table),
            Item::ArrayOfTables(tables) => tables.iter_mut().for_each(spread),
            _ => {}
        }
    }
}

/// The position of the last table.
pub(super) fn last(table: &Table) -> isize {
    let inner = table.iter().map(|(_, item)| match item {
        Item::Table(table) => last(table),
        Item::ArrayOfTables(tables) => tables.iter().map(last).max().unwrap_or(0),
        _ => 0,
    });
    inner.max().unwrap_or(0).max(table.position().unwrap_or(0))
}

/// Sets the keys of a table that differ between two states of it.
pub(super) fn patch(
    table: &mut dyn TableLike,
    old: &Entries,
    new: &Entries,
) -> Result<(), Unusual> {
    for (key, value) in old {
        if value.is_some() && !new.iter().any(|(k, v)| k == key && v.is_some()) {
            table.remove(key);
        }
    }
    for (key, value) in new {
        let Some(value) = value else { continue };
        let before = old
            .iter()
            .find(|(k, _)| k == key)
            .and_then(|(_, v)| v.as_ref());
        if before == Some(value) {
            continue;
        }
        let mut value: Value = value.parse().map_err(|_| Unusual)?;
        if let Some(Item::Value(is)) = table.get(key) {
            let free = matches!(*key, "grid" | "sticking" | "voices" | "form" | "order");
            if let (true, Some(is), Some(becomes)) = (free, is.as_str(), value.as_str()) {
                if is.split_whitespace().eq(becomes.split_whitespace()) {
                    continue;
                }
                value = spaced_like(is, becomes).into();
            }
            *value.decor_mut() = is.decor().clone();
            // Not `insert`: that would drop the comments above the key.
            if let Some(item) = table.get_mut(key) {
                *item = Item::Value(value);
            }
        } else if table.get(key).is_none_or(Item::is_none) {
            value.decor_mut().clear();
            table.insert(key, Item::Value(value));
        } else {
            return Err(Unusual);
        }
    }
    Ok(())
}

/// The new text with the old one's gaps, if it has as many words.
pub(super) fn spaced_like(old: &str, new: &str) -> String {
    let words: Vec<&str> = new.split_whitespace().collect();
    if old.split_whitespace().count() != words.len() {
        return new.to_owned();
    }
    let mut out = String::new();
    let mut rest = old;
    for word in words {
        let gap = rest.len() - rest.trim_start().len();
        out.push_str(&rest[..gap]);
        out.push_str(word);
        let left = &rest[gap..];
        rest = left
            .find(char::is_whitespace)
            .map_or("", |end| &left[end..]);
    }
    out + rest
}

/// Puts the keys of a table in the order of its entries.
pub(super) fn in_order(table: &mut Table, entries: &Entries) {
    let place = |key: &str| entries.iter().position(|(k, _)| *k == key);
    table.sort_values_by(|a, _, b, _| place(a.get()).cmp(&place(b.get())));
}

/// A table for entries, a blank line above it.
pub(super) fn fresh(entries: Entries, position: isize) -> Result<Table, Unusual> {
    let mut text = String::new();
    write::table(&mut text, "", entries);
    let toml: DocumentMut = text.parse().map_err(|_| Unusual)?;
    let mut table = toml.as_table().clone();
    table.decor_mut().set_prefix("\n");
    table.set_position(Some(position));
    Ok(table)
}

/// A table without a header of its own.
pub(super) fn implicit() -> Item {
    let mut table = Table::new();
    table.set_implicit(true);
    Item::Table(table)
}

/// The key as the file writes it: letters may have typographic primes.
pub(super) fn written(holder: &Table, name: &str) -> Option<String> {
    if holder.contains_key(name) {
        return Some(name.to_owned());
    }
    let letter = Letter::new(name)?;
    let key = holder
        .iter()
        .find(|(key, _)| Letter::new(key).as_ref() == Some(&letter));
    key.map(|(key, _)| key.to_owned())
}

/// Gives the tables their positions among themselves in a new order.
pub(super) fn reorder(holder: &mut Table, order: &[String]) {
    let place = |holder: &Table, key: &str| holder.get(key)?.as_table()?.position();
    let positions: Option<Vec<isize>> = order.iter().map(|key| place(holder, key)).collect();
    let Some(mut positions) = positions else {
        return;
    };
    positions.sort_unstable();
    for (key, position) in order.iter().zip(positions) {
        if let Some(table) = holder.get_mut(key).and_then(Item::as_table_mut) {
            table.set_position(Some(position));
        }
    }
}
