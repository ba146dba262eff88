//! Reads what was copied: a stretch of form, cells, or both.

use super::{Read, Reader, Spans, TableRef, form};
use crate::music::Letter;
use crate::score::check::cells;
use crate::score::error::{Fault, Line, Mend, ScoreError, ScoreErrorKind as Kind, Spot};
use crate::score::form::FormItem;
use crate::score::limits::{MAX_CELLS, MAX_FILE_BYTES};
use crate::score::model::{CellDef, Score, Voicing};
use crate::score::read::source::FileFault;
use crate::score::resolve::unknown_cell;
use std::collections::HashSet;
use toml_edit::Document as Toml;

/// What was copied.
#[derive(Default)]
pub(in crate::score) struct Clip {
    /// A stretch of form.
    pub form: Option<Vec<FormItem>>,
    /// Cells in the order written.
    pub cells: Vec<CellDef>,
    /// Voicings the form names.
    pub voicings: Vec<Voicing>,
}

/// Reads a clip that goes into `score`: tables of a score file, with a form or
/// without, or the letters of a form alone.
pub(in crate::score) fn clip(text: &str, score: &Score) -> Result<Clip, ScoreError> {
    if text.len() > MAX_FILE_BYTES {
        let kind = Kind::TooLarge { bytes: text.len() };
        return Err(Fault::new(Spot::File, kind).without_text());
    }
    let tables = text.contains('=') || text.trim_start().starts_with('[');
    let read = if tables {
        tables_of(text)
    } else {
        form_of(text)
    };
    let at = |FileFault { span, fault }: FileFault| fault.at(text, "", span);
    let (clip, spans) = read.map_err(at)?;
    check(&clip, score).map_err(|fault| {
        let span = spans.of(fault.spot, fault.part);
        fault.at(text, "", span)
    })?;
    Ok(clip)
}

fn form_of(text: &str) -> Read<(Clip, Spans)> {
    let (items, parts) = form::form(text).map_err(|f| FileFault::new(f.range, *f.kind))?;
    let mut spans = Spans::default();
    spans.0.insert(Spot::Form(0), (0..text.len(), parts));
    let clip = Clip {
        form: Some(items),
        ..Clip::default()
    };
    Ok((clip, spans))
}

fn tables_of(text: &str) -> Read<(Clip, Spans)> {
    let toml = Toml::parse(text).map_err(|e| {
        let span = e.span().unwrap_or_default();
        FileFault::new(span, Kind::toml(e.message()))
    })?;
    let root = TableRef {
        table: toml.as_table(),
        name: "what was copied",
    };
    let mut reader = Reader {
        text,
        spans: Spans::default(),
    };
    reader.known_keys(root, &["form", "cell", "voicing"])?;
    let mut clip = Clip {
        form: reader.line(root, "form", Spot::Form(0), form::form)?,
        ..Clip::default()
    };
    for (key, item) in reader.tables_in(root, "cell")? {
        clip.cells.push(reader.cell(key, item, clip.cells.len())?);
    }
    for (key, item) in reader.tables_in(root, "voicing")? {
        let count = clip.voicings.len();
        clip.voicings.push(reader.voicing(key, item, count)?);
    }
    Ok((clip, reader.spans))
}

/// Whether the cells go together among themselves or with those of the score,
/// and the form names none that is in neither.
fn check(clip: &Clip, score: &Score) -> Result<(), Fault> {
    let count = clip.cells.len();
    if count > MAX_CELLS {
        let spot = Spot::Cell(MAX_CELLS, Line::Head);
        let kind = Kind::TooMany {
            what: "cells",
            read: count.to_string(),
            most: MAX_CELLS as u64,
            mend: Mend::default(),
        };
        return Err(Fault::new(spot, kind));
    }
    let own = |letter: &Letter| clip.cells.iter().any(|c| c.letter == *letter);
    let others = score.cells.iter().filter(|c| !own(&c.letter)).cloned();
    let both = Score {
        cells: clip.cells.iter().cloned().chain(others).collect(),
        ..score.clone()
    };
    cells(&both)?;
    let mut number = 0;
    let known: HashSet<&Letter> = both.cells.iter().map(|c| &c.letter).collect();
    let items = clip.form.as_deref().unwrap_or_default();
    letters(items, &both, &known, &mut number)
}

fn letters(
    items: &[FormItem],
    among: &Score,
    known: &HashSet<&Letter>,
    number: &mut usize,
) -> Result<(), Fault> {
    for item in items {
        let part = *number;
        *number += 1;
        match item {
            FormItem::Letter { letter, .. } => {
                if !known.contains(letter) {
                    let kind = unknown_cell(among, letter);
                    return Err(Fault::part(Spot::Form(0), part, kind));
                }
            }
            FormItem::Group { items, .. } => letters(items, among, known, number)?,
            FormItem::BarLine => {}
        }
    }
    Ok(())
}
