//! From the text of a score file to a [`Score`].
//!
//! In: TOML. Out: the values it states, and for each of them where it stands.
//! Here only what can be read and what cannot is decided; whether the values
//! go together is decided in `check`, for files and edits alike.

mod form;
mod kit;
mod source;
mod tokens;

pub(super) use form::LETTER;
pub(super) use kit::{NO_KEY, every_voice};
pub(super) use tokens::{list, playable};

use super::error::{Fault, Line, Mend, ScoreError, ScoreErrorKind as Kind, Spot, brief};
use super::form::Overrides;
use super::limits::MAX_FILE_BYTES;
use super::model::{CellDef, Ostinato, Score, Section, StickSlot, VoiceSlot, Voicing};
use super::nearest::did_you_mean;
use crate::music::{Beats, Grid, Kit, Letter, Meter, Voice};
use source::{FileFault, Located, TextFault};
use std::collections::HashMap;
use std::ops::Range;
use toml_edit::{Document as Toml, Item, TableLike, Value};

type Read<T> = Result<T, FileFault>;

/// Where the elements of a score stand in the text.
#[derive(Default)]
struct Spans(HashMap<Spot, (Range<usize>, Vec<Range<usize>>)>);

impl Spans {
    fn of(&self, spot: Spot, part: Option<usize>) -> Range<usize> {
        // An element the file leaves out is told at the head of what it is in.
        let head = match spot {
            Spot::Cell(i, _) => Spot::Cell(i, Line::Head),
            Spot::Ostinato(i, _) => Spot::Ostinato(i, Line::Head),
            Spot::SectionMeter(i) | Spot::SectionOverrides(i) | Spot::Form(i) => Spot::Section(i),
            other => other,
        };
        let Some((whole, parts)) = self.0.get(&spot).or_else(|| self.0.get(&head)) else {
            return 0..0;
        };
        part.and_then(|p| parts.get(p)).unwrap_or(whole).clone()
    }
}

impl Score {
    /// Reads a score file; `file_name` is for messages only.
    ///
    /// # Errors
    /// The first thing that is wrong, with its place. See [`ScoreErrorKind`](Kind).
    pub fn parse(text: &str, file_name: &str) -> Result<Score, ScoreError> {
        let (score, spans) =
            read(text).map_err(|FileFault { span, fault }| fault.at(text, file_name, span))?;
        super::check::check(&score)
            .map_err(|fault| {
                let span = spans.of(fault.spot, fault.part);
                fault.at(text, file_name, span)
            })
            .map(|_| score)
    }
}

/// Reads one line of a score on its own, for an editor: a grid such as `6 3@2`.
///
/// # Errors
/// What cannot be read, with its column in the line.
pub fn read_grid(text: &str) -> Result<Grid, ScoreError> {
    alone(text, tokens::grid(text).map(|(grid, _)| grid))
}

/// Reads a sticking line on its own, such as `R> lL (R) -`.
///
/// # Errors
/// What cannot be read, with its column in the line.
pub fn read_sticking(text: &str) -> Result<Vec<StickSlot>, ScoreError> {
    alone(text, tokens::sticking(text).map(|(slots, _)| slots))
}

/// Reads a voices line on its own, such as `snare . hat:open`.
///
/// # Errors
/// What cannot be read, with its column in the line.
pub fn read_voices(text: &str) -> Result<Vec<VoiceSlot>, ScoreError> {
    alone(text, tokens::voices(text).map(|(slots, _)| slots))
}

/// Reads a form on its own, such as `(A B)x4 | A[16ths]`.
///
/// # Errors
/// What cannot be read, with its column in the line.
pub fn read_form(text: &str) -> Result<Vec<super::FormItem>, ScoreError> {
    alone(text, form::form(text).map(|(items, _)| items))
}

fn alone<T>(text: &str, read: Result<T, TextFault>) -> Result<T, ScoreError> {
    read.map_err(|f| {
        Fault {
            spot: Spot::File,
            part: None,
            kind: f.kind,
        }
        .at(text, "", f.range)
    })
}

/// Keys at the top of the file.
const TOP_KEYS: [&str; 11] = [
    "barform", "title", "tempo", "meter", "pickup", "form", "section", "cell", "ostinato",
    "voicing", "kit",
];

fn read(text: &str) -> Read<(Score, Spans)> {
    if text.len() > MAX_FILE_BYTES {
        return Err(FileFault::new(0..0, Kind::TooLarge { bytes: text.len() }));
    }
    let toml = Toml::parse(text).map_err(|e| {
        let span = e.span().unwrap_or_default();
        // Some of its messages run over several lines.
        let message = e.message().split_whitespace().collect::<Vec<_>>().join(" ");
        FileFault::new(span, Kind::Toml { message })
    })?;
    Reader {
        text,
        spans: Spans::default(),
    }
    .score(toml.as_table())
}

struct Reader<'a> {
    text: &'a str,
    spans: Spans,
}

/// A table of the file with the name messages call it by.
#[derive(Clone, Copy)]
struct TableRef<'t> {
    table: &'t dyn TableLike,
    name: &'t str,
}

impl<'a> Reader<'a> {
    fn score(mut self, top: &toml_edit::Table) -> Read<(Score, Spans)> {
        let root = TableRef {
            table: top,
            name: "the score",
        };
        self.version(root)?;
        self.known_keys(root, &TOP_KEYS)?;
        let mut score = Score {
            title: self
                .string(root, "title", Spot::Title)?
                .map_or("", |s| s.text)
                .to_owned(),
            tempo: self
                .number(root, "tempo", Spot::Tempo)?
                .unwrap_or_else(default_tempo),
            meter: self.meter(root, Spot::Meter)?.unwrap_or(Meter::FOUR_FOUR),
            pickup: self
                .number(root, "pickup", Spot::Pickup)?
                .unwrap_or(Beats::ZERO),
            sections: Vec::new(),
            cells: Vec::new(),
            ostinatos: Vec::new(),
            voicings: Vec::new(),
            kit: Kit::general_midi(),
        };
        score.sections = self.sections(root)?;
        for (key, item) in self.tables_in(root, "cell")? {
            score.cells.push(self.cell(key, item, score.cells.len())?);
        }
        for (key, item) in self.tables_in(root, "ostinato")? {
            score
                .ostinatos
                .push(self.ostinato(key, item, score.ostinatos.len())?);
        }
        for (key, item) in self.tables_in(root, "voicing")? {
            score
                .voicings
                .push(self.voicing(key, item, score.voicings.len())?);
        }
        if let Some(item) = top.get("kit") {
            self.kit(item, self.key_span(root, "kit"), &mut score.kit)?;
        }
        Ok((score, self.spans))
    }

    fn version(&self, root: TableRef) -> Read<()> {
        let Some(item) = root.table.get("barform") else {
            let mend = match did_you_mean("barform", root.table.iter().map(|(k, _)| k)) {
                Mend(None) => Mend(Some("write barform = 1 at the top".into())),
                Mend(Some(_)) => Mend(Some("spell the key 'barform'".into())),
            };
            let kind = Kind::Missing {
                what: "version".into(),
                within: "the file".into(),
                allowed: "a score begins with barform = 1".into(),
                mend,
            };
            return Err(FileFault::new(0..0, kind));
        };
        match item.as_integer() {
            Some(1) => Ok(()),
            Some(n) => {
                let mend = if n > 1 {
                    "read it with a newer Barform"
                } else {
                    "write barform = 1"
                };
                let kind = Kind::Version {
                    read: n.to_string(),
                    mend: Mend(Some(mend.into())),
                };
                Err(FileFault::new(self.item_span(root, "barform", item), kind))
            }
            None => Err(self.wrong_type(root, "barform", item, "a whole number: barform = 1")),
        }
    }

    /// Refuses keys that mean nothing.
    fn known_keys(&self, within: TableRef, known: &[&str]) -> Read<()> {
        for (key, _) in within.table.iter() {
            if !known.contains(&key) {
                return Err(self.unknown_key(within, key, known));
            }
        }
        Ok(())
    }

    fn unknown_key(&self, within: TableRef, key: &str, known: &[&str]) -> FileFault {
        let kind = Kind::UnknownKey {
            key: brief(key),
            within: within.name.to_owned(),
            allowed: list(known.iter().copied()),
            mend: did_you_mean(key, known.iter().copied()),
        };
        FileFault::new(self.key_span(within, key), kind)
    }

    fn key_span(&self, within: TableRef, key: &str) -> Range<usize> {
        within
            .table
            .key(key)
            .and_then(|k| k.span())
            .unwrap_or_default()
    }

    fn item_span(&self, within: TableRef, key: &str, item: &Item) -> Range<usize> {
        match item {
            Item::Value(value) => value.span(),
            _ => None,
        }
        .unwrap_or_else(|| self.key_span(within, key))
    }

    fn wrong_type(&self, within: TableRef, key: &str, item: &Item, allowed: &str) -> FileFault {
        let kind = Kind::WrongType {
            key: format!("'{}' in {}", brief(key), within.name),
            read: format!("of type {}", item.type_name()),
            allowed: allowed.to_owned(),
        };
        FileFault::new(self.item_span(within, key, item), kind)
    }

    /// A string, remembered as `spot`.
    fn string<'t>(
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
    fn line<T>(
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
    fn number(&mut self, within: TableRef, key: &str, spot: Spot) -> Read<Option<Beats>> {
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

    fn meter(&mut self, within: TableRef, spot: Spot) -> Read<Option<Meter>> {
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
    fn tables_in<'t>(
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

    fn table<'t>(&self, key: &toml_edit::Key, item: &'t Item, name: &'t str) -> Read<TableRef<'t>> {
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

    fn letter(&self, key: &str, span: Range<usize>, spot: Spot) -> Read<Letter> {
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

    fn cell(&mut self, key: &toml_edit::Key, item: &Item, index: usize) -> Read<CellDef> {
        let head = key.span().unwrap_or_default();
        let spot = |line| Spot::Cell(index, line);
        let letter = self.letter(key.get(), head.clone(), spot(Line::Head))?;
        let name = format!("cell {letter}");
        let within = self.table(key, item, &name)?;
        self.spans.0.insert(spot(Line::Head), (head, Vec::new()));
        self.known_keys(within, &["grid", "sticking", "voices", "like"])?;
        let like = match self.string(within, "like", spot(Line::Like))? {
            Some(text) => Some(self.letter(text.text, text.span.clone(), spot(Line::Like))?),
            None => None,
        };
        Ok(CellDef {
            letter,
            like,
            grid: self.line(within, "grid", spot(Line::Grid), tokens::grid)?,
            sticking: self.line(within, "sticking", spot(Line::Sticking), tokens::sticking)?,
            voices: self.line(within, "voices", spot(Line::Voices), tokens::voices)?,
        })
    }

    fn ostinato(&mut self, key: &toml_edit::Key, item: &Item, index: usize) -> Read<Ostinato> {
        let head = key.span().unwrap_or_default();
        let spot = |line| Spot::Ostinato(index, line);
        let name = format!("ostinato {}", brief(key.get()));
        let within = self.table(key, item, &name)?;
        self.spans
            .0
            .insert(spot(Line::Head), (head.clone(), Vec::new()));
        self.known_keys(within, &["grid", "sticking", "voices"])?;
        let missing = |what: &str, allowed: &str| {
            let kind = Kind::Missing {
                what: what.into(),
                within: name.clone(),
                allowed: allowed.into(),
                mend: Mend::default(),
            };
            FileFault {
                span: head.clone(),
                fault: Fault::new(spot(Line::Head), kind),
            }
        };
        Ok(Ostinato {
            name: key.get().to_owned(),
            grid: self
                .line(within, "grid", spot(Line::Grid), tokens::grid)?
                .ok_or_else(|| missing("grid", "write for example grid = \"2\""))?,
            sticking: self
                .line(within, "sticking", spot(Line::Sticking), tokens::sticking)?
                .ok_or_else(|| missing("sticking", "write for example sticking = \"- H\""))?,
            voices: self.line(within, "voices", spot(Line::Voices), tokens::voices)?,
        })
    }

    fn voicing(&mut self, key: &toml_edit::Key, item: &Item, index: usize) -> Read<Voicing> {
        let spot = Spot::Voicing(index);
        let name = format!("voicing {}", brief(key.get()));
        let within = self.table(key, item, &name)?;
        let mut map = Vec::new();
        let mut parts = Vec::new();
        for (from, _) in within.table.iter() {
            let names: Vec<&str> = Voice::ALL.into_iter().map(Voice::name).collect();
            let voice = Voice::from_name(from).filter(|v| *v != Voice::Click);
            let voice = voice.ok_or_else(|| self.unknown_key(within, from, &names))?;
            let Some(to) = self.string(within, from, spot)? else {
                continue;
            };
            let to_voice = tokens::voice_token(to.text, 0).map_err(|f| to.fault(f))?;
            parts.push(to.span.clone());
            map.push((voice, to_voice));
        }
        self.spans
            .0
            .insert(spot, (key.span().unwrap_or_default(), parts));
        Ok(Voicing {
            name: key.get().to_owned(),
            map,
        })
    }

    /// The one form at the top, or the sections.
    fn sections(&mut self, root: TableRef) -> Read<Vec<Section>> {
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

    fn section_tables(&mut self, root: TableRef, item: &Item) -> Read<Vec<Section>> {
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

    fn section(&mut self, table: &dyn TableLike, head: Range<usize>, i: usize) -> Read<Section> {
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

/// Where the file states no tempo: that of a Standard MIDI File without a tempo
/// event.
pub(super) fn default_tempo() -> Beats {
    Beats::whole(120)
}
