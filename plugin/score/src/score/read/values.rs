//! What every table of a score file is made of: known keys, text, numbers.

use super::source::{FileFault, Located, TextFault};
use super::{LETTER, Read, Reader, TableRef, list, tokens};
use crate::music::{Beats, Letter, Meter};
use crate::score::error::{Fault, Mend, ScoreErrorKind as Kind, Spot, brief};
use crate::score::nearest::did_you_mean;
use std::ops::Range;
use toml_edit::{Item, Value};

impl Reader<'_> {
    /// Refuses keys that mean nothing.
    pub(super) fn known_keys(&self, within: TableRef, known: &[&str]) -> Read<()> {
        for (key, _) in within.table.iter() {
            if !known.contains(&key) {
                return Err(self.unknown_key(within, key, known));
            }
        }
        Ok(())
    }

    pub(super) fn unknown_key(&self, within: TableRef, key: &str, known: &[&str]) -> FileFault {
        let kind = Kind::UnknownKey {
            key: brief(key),
            within: within.name.to_owned(),
            allowed: list(known.iter().copied()),
            mend: did_you_mean(key, known.iter().copied()),
        };
        FileFault::new(self.key_span(within, key), kind)
    }

    pub(super) fn key_span(&self, within: TableRef, key: &str) -> Range<usize> {
        within
            .table
            .key(key)
            .and_then(|k| k.span())
            .unwrap_or_default()
    }

    pub(super) fn item_span(&self, within: TableRef, key: &str, item: &Item) -> Range<usize> {
        match item {
            Item::Value(value) => value.span(),
            _ => None,
        }
        .unwrap_or_else(|| self.key_span(within, key))
    }

    pub(super) fn wrong_type(
        &self,
        within: TableRef,
        key: &str,
        item: &Item,
        allowed: &str,
    ) -> FileFault {
        let kind = Kind::WrongType {
            key: format!("'{}' in {}", brief(key), within.name),
            read: format!("of type {}", item.type_name()),
            allowed: allowed.to_owned(),
        };
        FileFault::new(self.item_span(within, key, item), kind)
    }

    /// A string, remembered as `spot`.
    pub(super) fn string<'t>(
        &mut self,
        within: TableRef<'t>,
        key: &str,
        spot: Spot,
    ) -> Read<Option<Located<'t>>> {
        let Some(item) = within.table.get(key) else {
            return Ok(None);
        };
        let Some(text) = item.as_str() else {
            return Err(self.wrong_type(within, key, item, "text in quotes"));
        };
        let located = Located::new(self.text, self.item_span(within, key, item), text);
        self.spans
            .0
            .insert(spot, (located.span.clone(), Vec::new()));
        Ok(Some(located))
    }

    /// A string in one of the small languages; its entries become the parts of
    /// `spot`.
    pub(super) fn line<T>(
        &mut self,
        within: TableRef,
        key: &str,
        spot: Spot,
        read: fn(&str) -> Result<tokens::Entries<T>, TextFault>,
    ) -> Read<Option<T>> {
        let Some(located) = self.string(within, key, spot)? else {
            return Ok(None);
        };
        match read(located.text) {
            Ok((value, parts)) => {
                let parts = parts.into_iter().map(|p| located.span_of(p)).collect();
                self.spans.0.insert(spot, (located.span.clone(), parts));
                Ok(Some(value))
            }
            Err(f) => {
                let mut fault = located.fault(f);
                fault.fault.spot = spot;
                Err(fault)
            }
        }
    }

    /// A number of beats: whole, decimal, or text such as "3/2".
    pub(super) fn number(
        &mut self,
        within: TableRef,
        key: &str,
        spot: Spot,
    ) -> Read<Option<Beats>> {
        const ALLOWED: &str = "a number such as 92, 92.5 or \"3/2\"";
        let Some(item) = within.table.get(key) else {
            return Ok(None);
        };
        let span = self.item_span(within, key, item);
        // The digits as written: a binary fraction would not be exact.
        let digits = match item {
            Item::Value(Value::String(s)) => s.value().trim().to_owned(),
            Item::Value(Value::Integer(n)) => n.value().to_string(),
            Item::Value(Value::Float(_)) => self
                .text
                .get(span.clone())
                .unwrap_or_default()
                .trim_start_matches('+')
                .to_owned(),
            _ => return Err(self.wrong_type(within, key, item, ALLOWED)),
        };
        let value = digits.parse().map_err(|_| {
            let kind = Kind::Unreadable {
                what: "exact number",
                read: brief(&digits),
                allowed: format!("{ALLOWED}, to six places and a million"),
                mend: Mend::default(),
            };
            FileFault {
                span: span.clone(),
                fault: Fault::new(spot, kind),
            }
        })?;
        self.spans.0.insert(spot, (span, Vec::new()));
        Ok(Some(value))
    }

    pub(super) fn meter(&mut self, within: TableRef, spot: Spot) -> Read<Option<Meter>> {
        let Some(located) = self.string(within, "meter", spot)? else {
            return Ok(None);
        };
        located.text.parse().map(Some).map_err(|()| {
            let kind = Kind::Unreadable {
                what: "meter",
                read: brief(located.text),
                allowed: "1 to 64 over 1, 2, 4, 8, 16, 32 or 64, such as 4/4 or 7/8".into(),
                mend: Mend::default(),
            };
            FileFault {
                span: located.span.clone(),
                fault: Fault::new(spot, kind),
            }
        })
    }

    /// The tables under `[key.NAME]`, in the order written.
    pub(super) fn tables_in<'t>(
        &self,
        within: TableRef<'t>,
        key: &str,
    ) -> Read<Vec<(&'t toml_edit::Key, &'t Item)>> {
        let Some(item) = within.table.get(key) else {
            return Ok(Vec::new());
        };
        let allowed = format!("tables [{key}.NAME]");
        let Some(table) = item.as_table_like() else {
            return Err(self.wrong_type(within, key, item, &allowed));
        };
        let mut found: Vec<_> = table
            .iter()
            .filter_map(|(name, _)| table.get_key_value(name))
            .collect();
        // Headers of one kind may stand apart; the file's order counts.
        found.sort_by_key(|(key, _)| key.span().map_or(0, |s| s.start));
        Ok(found)
    }

    pub(super) fn table<'t>(
        &self,
        key: &toml_edit::Key,
        item: &'t Item,
        name: &'t str,
    ) -> Read<TableRef<'t>> {
        let table = item.as_table_like().ok_or_else(|| {
            let kind = Kind::WrongType {
                key: name.to_owned(),
                read: format!("of type {}", item.type_name()),
                allowed: "a table of keys".into(),
            };
            FileFault::new(key.span().unwrap_or_default(), kind)
        })?;
        Ok(TableRef { table, name })
    }

    pub(super) fn letter(&self, key: &str, span: Range<usize>, spot: Spot) -> Read<Letter> {
        Letter::new(key).ok_or_else(|| {
            let upper = key.to_uppercase();
            let mend = Letter::new(&upper).map(|l| format!("did you mean {l}?"));
            let kind = Kind::Unreadable {
                what: "letter",
                read: brief(key),
                allowed: LETTER.into(),
                mend: Mend(mend),
            };
            FileFault {
                span,
                fault: Fault::new(spot, kind),
            }
        })
    }
}
