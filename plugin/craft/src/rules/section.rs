//! The tables of a settings file, each given to the part it belongs to.

use super::{RuleError, layer};
use toml_edit::{Document, DocumentMut, Item, TableLike};

/// A settings file cut into the tables of the parts.
pub(super) struct Sections<'t> {
    text: &'t str,
    document: Document<&'t str>,
}

impl<'t> Sections<'t> {
    /// The file, if it is TOML and has no tables but those `known`.
    pub fn of(text: &'t str, known: &[&str]) -> Result<Sections<'t>, RuleError> {
        let document = layer::parse(text)?;
        for (name, item) in document.iter() {
            let at = |problem: String| Err(RuleError::at(text, &[name.to_owned()], problem));
            if !known.contains(&name) {
                return at(format!("unknown; allowed are [{}]", known.join("] [")));
            }
            if item.as_table_like().is_none() {
                return at(format!("not a table; write [{name}] and keys beneath it"));
            }
        }
        Ok(Sections { text, document })
    }

    /// A part that reads a text on top of its own embedded one.
    pub fn read<T>(
        &self,
        name: &str,
        read: impl Fn(&str) -> Result<T, RuleError>,
    ) -> Result<T, RuleError> {
        read(&self.alone(name)).map_err(|error| self.moved(name, error))
    }

    /// A part that reads a whole rule set and says in a line what is wrong. The
    /// tables named in `open` may have keys that the embedded ones do not.
    pub fn read_whole<T>(
        &self,
        name: &str,
        embedded: &str,
        open: &[&str],
        read: impl Fn(&str) -> Result<T, String>,
    ) -> Result<T, RuleError> {
        let own = self.alone(name);
        let whole =
            layer::laid_over(embedded, &own, open).map_err(|error| self.moved(name, error))?;
        read(&whole).map_err(|problem| {
            let said = problem.lines().last().unwrap_or_default();
            // The message names its key somewhere, or shows its line.
            let keys = layer::keys(&own);
            let named = keys.iter().find(|key| said.contains(&key.join(".")));
            let shown = || {
                keys.iter()
                    .find(|key| key.last().is_some_and(|k| problem.contains(k)))
            };
            let key = named.or_else(shown).cloned();
            let error = RuleError::at(&own, &key.unwrap_or_default(), said);
            self.moved(name, error)
        })
    }

    /// The table of a part as a text of its own; empty if there is none.
    fn alone(&self, name: &str) -> String {
        let mut alone = DocumentMut::new();
        if let Some(table) = self.document.get(name).and_then(Item::as_table_like) {
            copy(table, alone.as_table_mut());
        }
        alone.to_string()
    }

    /// An error of a part's own text, placed in the file.
    fn moved(&self, name: &str, error: RuleError) -> RuleError {
        let mut key = vec![name.to_owned()];
        key.extend(layer::split(&error.key));
        RuleError::at(self.text, &key, error.problem)
    }
}

/// Copies keys and values; how they were written is lost.
fn copy(from: &dyn TableLike, to: &mut dyn TableLike) {
    for (name, item) in from.iter() {
        match item.as_table_like() {
            Some(inner) => {
                let mut table = toml_edit::Table::new();
                copy(inner, &mut table);
                to.insert(name, Item::Table(table));
            }
            None => {
                let value = item
                    .as_value()
                    .cloned()
                    .map(|value| value.decorated("", ""));
                to.insert(name, value.map_or(item.clone(), Item::Value));
            }
        }
    }
}
