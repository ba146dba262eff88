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

/// A text as a document whose items remember their places.
///
/// # Errors
/// [`RuleError`] where it is not TOML.
pub(super) fn parse(text: &str) -> Result<Document<&str>, RuleError> {
    Document::parse(text).map_err(|e| not_toml(text, &e))
}

fn not_toml(text: &str, e: &toml_edit::TomlError) -> RuleError {
    let byte = e.span().map(|span| span.start);
    RuleError::at_byte(
        text,
        byte,
        String::new(),
        &format!("not TOML: {}", e.message()),
    )
}

/// The embedded text with the user's values in it, for a rule set that is read
/// whole: every key must be one of the embedded ones, with a value of its type, except
/// in tables named in `open`.
///
/// # Errors
/// [`RuleError`] at the user's key.
pub(super) fn laid_over(embedded: &str, user: &str, open: &[&str]) -> Result<String, RuleError> {
    fn fits(
        base: &dyn TableLike,
        over: &dyn TableLike,
        path: &mut Vec<String>,
        open: &[&str],
    ) -> Result<(), String> {
        let is_open = path
            .last()
            .is_some_and(|last| open.contains(&last.as_str()));
        for (name, item) in over.iter() {
            if is_open && !base.contains_key(name) {
                continue;
            }
            path.push(name.to_owned());
            let Some(known) = base.get(name) else {
                let names: Vec<&str> = base.iter().map(|(name, _)| name).collect();
                return Err(format!("unknown; allowed are {}", names.join(" ")));
            };
            match (known.as_table_like(), item.as_table_like()) {
                (Some(base), Some(over)) => fits(base, over, path, open)?,
                _ if known.type_name() == item.type_name() => {}
                _ => {
                    let (read, allowed) = (item.type_name(), known.type_name());
                    return Err(format!("is of type {read}; allowed is {allowed}"));
                }
            }
            path.pop();
        }
        Ok(())
    }
    let (base, over) = (parse(embedded)?, parse(user)?);
    let mut path = Vec::new();
    fits(base.as_table(), over.as_table(), &mut path, open)
        .map_err(|problem| RuleError::at(user, &path, problem))?;
    Ok(merge(embedded, user)?.to_string())
}

/// The paths of all values of a text, deepest first.
pub(super) fn keys(text: &str) -> Vec<Vec<String>> {
    fn walk(table: &dyn TableLike, path: &[String], keys: &mut Vec<Vec<String>>) {
        for (name, item) in table.iter() {
            let path = [path, &[name.to_owned()]].concat();
            match item.as_table_like() {
                Some(inner) => walk(inner, &path, keys),
                None => keys.push(path),
            }
        }
    }
    let mut keys = Vec::new();
    if let Ok(document) = Document::parse(text) {
        walk(document.as_table(), &[], &mut keys);
    }
    keys.sort_by_key(|key| std::cmp::Reverse(key.join(".").len()));
    keys
}

/// The parts of a key joined with dots. No key of a rule set has a dot in it.
pub(super) fn split(key: &str) -> impl Iterator<Item = String> + '_ {
    key.split('.')
        .filter(|part| !part.is_empty())
        .map(str::to_owned)
}

/// The embedded document with the user's items in it. Tables are joined key by
/// key; any other value replaces what was there.
fn merge(embedded: &str, user: &str) -> Result<DocumentMut, RuleError> {
    let mut base: DocumentMut = embedded.parse().map_err(|e| not_toml(embedded, &e))?;
    // Kept immutable: only so do its items remember their places.
    let over = parse(user)?;
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
