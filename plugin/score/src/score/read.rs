//! From the text of a score file to a [`Score`].
//!
//! In: TOML. Out: the values it states, and for each of them where it stands.
//! Here only what can be read and what cannot is decided; whether the values
//! go together is decided in `check`, for files and edits alike.

mod clip;
mod form;
mod kit;
mod sections;
mod source;
mod tables;
mod timing;
mod tokens;
mod values;

pub(super) use clip::{Clip, clip};
pub(super) use form::LETTER;
pub(super) use kit::{NO_KEY, every_voice};
pub(super) use tokens::{list, playable};

use super::error::{Fault, Line, Mend, ScoreError, ScoreErrorKind as Kind, Spot};
use super::limits::MAX_FILE_BYTES;
use super::model::{Score, StickSlot, VoiceSlot};
use super::nearest::did_you_mean;
use crate::music::{Beats, Grid, Kit, Meter};
use source::{FileFault, TextFault};
use std::collections::HashMap;
use std::ops::Range;
use toml_edit::{Document as Toml, TableLike};

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
        Score::parse_with(text, file_name, true)
    }

    /// Reads a score file whose forms may have bar lines (`|`) where none fall, for
    /// who asks what does not fill its bars. They stay in the forms.
    ///
    /// # Errors
    /// As [`Score::parse`] for all else.
    pub fn parse_ignoring_bar_lines(text: &str, file_name: &str) -> Result<Score, ScoreError> {
        Score::parse_with(text, file_name, false)
    }

    fn parse_with(text: &str, file_name: &str, bar_lines: bool) -> Result<Score, ScoreError> {
        let (score, spans) =
            read(text).map_err(|FileFault { span, fault }| fault.at(text, file_name, span))?;
        super::check::check_with(&score, bar_lines)
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
const TOP_KEYS: [&str; 12] = [
    "barform", "title", "tempo", "meter", "pickup", "form", "section", "cell", "ostinato",
    "voicing", "kit", "timing",
];

/// Reads a key map on its own: a file that says `barform = 1` and, in the words
/// of a score file, its `[kit]`; `file_name` is for messages only. What it
/// leaves out is as in [`Kit::general_midi`].
///
/// # Errors
/// The first thing that is wrong, with its place.
pub fn read_kit(text: &str, file_name: &str) -> Result<Kit, ScoreError> {
    let read = || -> Read<(Kit, Spans)> {
        let toml = toml(text)?;
        let mut reader = Reader {
            text,
            spans: Spans::default(),
        };
        let root = TableRef {
            table: toml.as_table(),
            name: "the key map",
        };
        reader.version(root)?;
        reader.known_keys(root, &["barform", "kit"])?;
        let mut kit = Kit::general_midi();
        if let Some(item) = toml.get("kit") {
            reader.kit(item, reader.key_span(root, "kit"), &mut kit)?;
        }
        Ok((kit, reader.spans))
    };
    let (kit, spans) =
        read().map_err(|FileFault { span, fault }| fault.at(text, file_name, span))?;
    super::check::kit(&kit).map_err(|fault| {
        let span = spans.of(fault.spot, fault.part);
        fault.at(text, file_name, span)
    })?;
    Ok(kit)
}

fn toml(text: &str) -> Read<Toml<&str>> {
    if text.len() > MAX_FILE_BYTES {
        return Err(FileFault::new(0..0, Kind::TooLarge { bytes: text.len() }));
    }
    Toml::parse(text).map_err(|e| {
        let span = e.span().unwrap_or_default();
        FileFault::new(span, Kind::toml(e.message()))
    })
}

fn read(text: &str) -> Read<(Score, Spans)> {
    let toml = toml(text)?;
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
            timing: super::timing::Timing::default(),
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
        if let Some(item) = top.get("timing") {
            score.timing = self.timing(root, item)?;
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
}

/// Where the file states no tempo: that of a Standard MIDI File without a tempo
/// event.
pub(super) fn default_tempo() -> Beats {
    Beats::whole(120)
}
