//! Reads the form at the top, or the `[[section]]` tables.

use super::source::{FileFault, TextFault};
use super::{Read, Reader, TableRef, form};
use crate::score::error::{Mend, ScoreErrorKind as Kind, Spot};
use crate::score::form::Overrides;
use crate::score::model::Section;
use std::ops::Range;
use toml_edit::{Item, TableLike, Value};

impl Reader<'_> {
    /// The one form at the top, or the sections.
    pub(super) fn sections(&mut self, root: TableRef) -> Read<Vec<Section>> {
        let one = self.line(root, "form", Spot::Form(0), form::form)?;
        let many = root.table.get("section");
        let at = |key| self.key_span(root, key);
        match (one, many) {
            (Some(items), None) => {
                let section = Section {
                    name: String::new(),
                    meter: None,
                    overrides: Overrides::default(),
                    items,
                };
                Ok(vec![section])
            }
            (None, Some(item)) => self.section_tables(root, item),
            (Some(_), Some(_)) => {
                let kind = Kind::Form {
                    problem: "a form at the top and sections beside it".into(),
                    allowed: "allowed is one of them".into(),
                    mend: Mend(Some("move the form into a [[section]]".into())),
                };
                Err(FileFault::new(at("section"), kind))
            }
            (None, None) => {
                let kind = Kind::Missing {
                    what: "form".into(),
                    within: "the score".into(),
                    allowed: "write form = \"A B\", or [[section]] tables with a form each".into(),
                    mend: Mend::default(),
                };
                Err(FileFault::new(at("barform"), kind))
            }
        }
    }

    pub(super) fn section_tables(&mut self, root: TableRef, item: &Item) -> Read<Vec<Section>> {
        let wrong = |r: &Self| r.wrong_type(root, "section", item, "[[section]] tables");
        let tables: Vec<(&dyn TableLike, Range<usize>)> = match item {
            Item::ArrayOfTables(tables) => tables
                .iter()
                .map(|t| (t as &dyn TableLike, t.span().unwrap_or_default()))
                .collect(),
            Item::Value(Value::Array(array)) => array
                .iter()
                .map(|v| {
                    let table = v.as_inline_table().ok_or_else(|| wrong(self))?;
                    Ok((table as &dyn TableLike, v.span().unwrap_or_default()))
                })
                .collect::<Read<_>>()?,
            _ => return Err(wrong(self)),
        };
        let mut sections = Vec::new();
        for (table, head) in tables {
            sections.push(self.section(table, head, sections.len())?);
        }
        Ok(sections)
    }

    pub(super) fn section(
        &mut self,
        table: &dyn TableLike,
        head: Range<usize>,
        i: usize,
    ) -> Read<Section> {
        let label = format!("section {}", i + 1);
        let within = TableRef {
            table,
            name: &label,
        };
        self.spans
            .0
            .insert(Spot::Section(i), (head.clone(), Vec::new()));
        let known = [
            "name",
            "meter",
            "form",
            "subdivision",
            "rate",
            "level",
            "voicing",
        ];
        self.known_keys(within, &known)?;
        let spot = Spot::SectionOverrides(i);
        let name = self.string(within, "name", Spot::Section(i))?;
        let name = name.map_or("", |s| s.text).to_owned();
        let subdivision = match self.string(within, "subdivision", spot)? {
            Some(text) => Some(form::subdivision(text.text).map_err(|f| text.fault(f))?),
            None => None,
        };
        let rate = match table.get("rate") {
            Some(item) if item.is_integer() => {
                let digits = item.as_integer().unwrap_or_default().to_string();
                let span = self.item_span(within, "rate", item);
                let kind = |f: TextFault| FileFault::new(span.clone(), *f.kind);
                Some(form::rate(&digits).map_err(kind)?)
            }
            _ => match self.string(within, "rate", spot)? {
                Some(text) => Some(form::rate(text.text).map_err(|f| text.fault(f))?),
                None => None,
            },
        };
        let level = match table.get("level") {
            None => None,
            Some(item) => {
                let allowed = "a percentage, 10 to 150";
                let Some(percent) = item.as_integer() else {
                    return Err(self.wrong_type(within, "level", item, allowed));
                };
                let span = self.item_span(within, "level", item);
                self.spans.0.insert(spot, (span.clone(), Vec::new()));
                let level = u8::try_from(percent).map_err(|_| {
                    let what = format!("level of {label}");
                    let read = percent.to_string();
                    FileFault::new(
                        span,
                        Kind::OutOfRange {
                            what,
                            read,
                            allowed: allowed.into(),
                        },
                    )
                })?;
                Some(level)
            }
        };
        let voicing = self
            .string(within, "voicing", spot)?
            .map(|s| s.text.to_owned());
        let items = self
            .line(within, "form", Spot::Form(i), form::form)?
            .ok_or_else(|| {
                let kind = Kind::Missing {
                    what: "form".into(),
                    within: label.clone(),
                    allowed: "write form = \"A B\"".into(),
                    mend: Mend::default(),
                };
                FileFault::new(head, kind)
            })?;
        let meter = self.meter(within, Spot::SectionMeter(i))?;
        Ok(Section {
            name,
            meter,
            overrides: Overrides {
                subdivision,
                rate,
                level,
                voicing,
            },
            items,
        })
    }
}
