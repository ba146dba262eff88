//! A user's text on top of an embedded one.

use super::RuleError;
use serde::de::DeserializeOwned;
use toml_edit::{Document, DocumentMut, Item, TableLike};

/// Reads `T` from the embedded text with what the user states in its place.
///
/// # Errors
/// [`RuleError`] at the user's line where the user's text is not TOML, states
/// a key that is not known, or a value of the wrong type.
pub(crate) fn read<T: DeserializeOwned>(embedded: &str, user: &str) -> Result<T, RuleError> {
    let merged = merge(embedded, user)?;
    toml_edit::de::from_document(merged).map_err(|e| {
        // Only items of the user's text have a span.
        let key = e
            .span()
            .map(|span| key_at(user, span.start))
            .unwrap_or_default();
        RuleError::at_byte(user, e.span().map(|span| span.start), key, e.message())
    })
}

/// The embedded document with the user's items in it. Tables are joined key by
/// key; any other value replaces what was there.
fn merge(embedded: &str, user: &str) -> Result<DocumentMut, RuleError> {
    let not_toml = |text: &str, e: &toml_edit::TomlError| {
        let byte = e.span().map(|span| span.start);
        RuleError::at_byte(
            text,
            byte,
            String::new(),
            &format!("not TOML: {}", e.message()),
        )
    };
    let mut base: DocumentMut = embedded.parse().map_err(|e| not_toml(embedded, &e))?;
    // Kept immutable: only so do its items remember their places.
    let over = Document::parse(user).map_err(|e| not_toml(user, &e))?;
    join(base.as_table_mut(), over.as_table());
    Ok(base)
}

fn join(base: &mut dyn TableLike, over: &dyn TableLike) {
    for (name, item) in over.iter() {
        if let (Some(below), Some(above)) = (
            base.get_mut(name).and_then(Item::as_table_like_mut),
            item.as_table_like(),
        ) {
            join(below, above);
            continue;
        }
        match over.key(name) {
            Some(key) => {
                base.remove(name);
                base.entry_format(key).or_insert(item.clone());
            }
            None => {
                base.insert(name, item.clone());
            }
        }
    }
}

/// The keys, joined with dots, of the innermost item or key that holds `byte`.
fn key_at(text: &str, byte: usize) -> String {
    fn walk(table: &dyn TableLike, byte: usize, path: &mut Vec<String>) {
        for (name, item) in table.iter() {
            let on_key = table.key(name).and_then(|key| key.span());
            let inside = |span: Option<std::ops::Range<usize>>| {
                span.is_some_and(|span| span.contains(&byte))
            };
            let deeper = item.as_table_like();
            if inside(on_key) || (deeper.is_none() && inside(item.span())) {
                path.push(name.to_owned());
                return;
            }
            if let Some(inner) = deeper {
                path.push(name.to_owned());
                let depth = path.len();
                walk(inner, byte, path);
                if path.len() > depth || inside(item.span()) {
                    return;
                }
                path.pop();
            }
        }
    }
    let mut path = Vec::new();
    if let Ok(document) = Document::parse(text) {
        walk(document.as_table(), byte, &mut path);
    }
    path.join(".")
}

/// Where the value of a key stands in a text: its byte, or that of the longest
/// part of the path that is there.
pub(super) fn byte_of(text: &str, path: &[String]) -> Option<usize> {
    let document = Document::parse(text).ok()?;
    let mut table: &dyn TableLike = document.as_table();
    let mut found = None;
    for name in path {
        let Some((key, item)) = table.get_key_value(name) else {
            break;
        };
        found = item.span().or(key.span()).map(|span| span.start).or(found);
        match item.as_table_like() {
            Some(inner) => table = inner,
            None => break,
        }
    }
    found
}
