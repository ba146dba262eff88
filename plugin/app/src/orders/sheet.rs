//! The form or a letter as a drum-set part: on paper, or a picture of each page.

use std::path::{Path, PathBuf};

use super::{OrderError, Report, Target, Watch};
use crate::answers::cells;
use crate::music::{Letter, Tradition};
use crate::session::CompiledScore;
use crate::sheet::engrave::{Style, engrave};
use crate::sheet::notate::{self, Fold, cell, written};
use crate::sheet::{Drawing, Written, ink};
use crate::words::count;

/// What pages become.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PageFormat {
    /// Vector, all pages in one file.
    Pdf,
    /// Vector, a file for each page.
    Svg,
    /// Dots, a file for each page.
    Png,
}

/// What a sheet shows, and how.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetOptions {
    /// What pages become.
    pub format: PageFormat,
    /// One letter in place of the form.
    pub letter: Option<Letter>,
    /// How much of the form is written out.
    pub fold: Fold,
    /// Paper, sizes, what is shown.
    pub style: Style,
    /// The tradition to count in; the usual one if none.
    pub tradition: Option<Tradition>,
    /// Dots per inch of a [`PageFormat::Png`].
    pub dots_per_inch: f32,
}

impl Default for SheetOptions {
    /// The form on A4, repeated bars once.
    fn default() -> Self {
        SheetOptions {
            format: PageFormat::Pdf,
            letter: None,
            fold: Fold::Repeats,
            style: Style::default(),
            tradition: None,
            dots_per_inch: 150.0,
        }
    }
}

/// Writes the sheet.
///
/// # Errors
/// See [`OrderError`].
pub fn sheet(
    score: &CompiledScore,
    options: &SheetOptions,
    target: &mut Target,
    watch: &mut dyn Watch,
) -> Result<Report, OrderError> {
    let music = notated(score, options)?;
    let kit = &score.score().kit;
    let drawing = engrave(&music, kit, &options.style).map_err(OrderError::unfit)?;
    let pages = drawing.pages.len();
    let files = match options.format {
        PageFormat::Pdf => vec![target.path().to_owned()],
        _ if target.is_stream() && pages != 1 => {
            return Err(OrderError::Options(format!(
                "{pages} pages are {pages} files; name a file for them, or make one PDF"
            )));
        }
        _ => page_files(target.path(), pages),
    };
    for file in &files {
        target.refuse(file)?;
    }
    if options.format == PageFormat::Pdf {
        target.write(&pdf(&drawing, watch)?)?;
    } else {
        let mut drawn = Vec::new();
        for page in 0..pages {
            if watch.at(page as f64 / pages as f64).is_break() {
                return Err(OrderError::Stopped);
            }
            drawn.push(match options.format {
                PageFormat::Png => {
                    ink::png(&drawing, page, options.dots_per_inch).map_err(OrderError::unfit)?
                }
                _ => ink::svg(&drawing, page).into_bytes(),
            });
        }
        for (file, bytes) in files.iter().zip(drawn) {
            target.write_to(file, &bytes)?;
        }
    }
    let name = match files.as_slice() {
        [first, .., last] => format!("{} to {}", first.display(), last.display()),
        _ => target.path().display().to_string(),
    };
    let line = format!(
        "{name}: {}, {} in {}",
        count(pages, "page"),
        count(music.bars.len(), "bar"),
        count(drawing.systems.len(), "system"),
    );
    Ok(Report {
        files,
        lines: vec![line],
        remarks: Vec::new(),
    })
}

/// All pages in one file.
pub(super) fn pdf(drawing: &Drawing, watch: &mut dyn Watch) -> Result<Vec<u8>, OrderError> {
    let mut stopped = false;
    let bytes = ink::pdf_with_progress(drawing, |page, all| {
        stopped |= watch.at(page as f64 / all.max(1) as f64).is_break();
    });
    if stopped {
        return Err(OrderError::Stopped);
    }
    bytes.map_err(OrderError::unfit)
}

/// What is to be drawn.
fn notated(score: &CompiledScore, options: &SheetOptions) -> Result<Written, OrderError> {
    let notation = notate::Options {
        fold: options.fold,
        tradition: options.tradition.clone(),
        ..notate::Options::default()
    };
    let Some(letter) = &options.letter else {
        let all = written(score.score(), &score.timeline, &notation);
        return all.map_err(OrderError::unfit);
    };
    let cells = cells(&score.document, Some(letter))?;
    let score = score.score();
    let mut alone = cell(&cells[0], score.meter, &notation).map_err(OrderError::unfit)?;
    alone.title = if score.title.is_empty() {
        format!("Letter {letter}")
    } else {
        format!("{}: letter {letter}", score.title)
    };
    alone.tempo = score.tempo;
    Ok(alone)
}

/// A file for each page: the path itself for one, else `mine-1.png`, `mine-2.png`
/// with as many digits as the last.
pub fn page_files(path: &Path, pages: usize) -> Vec<PathBuf> {
    if pages == 1 {
        return vec![path.to_owned()];
    }
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let ending = path.extension().unwrap_or_default().to_string_lossy();
    let digits = pages.to_string().len();
    let name = |page| match ending.is_empty() {
        true => format!("{stem}-{page:0digits$}"),
        false => format!("{stem}-{page:0digits$}.{ending}"),
    };
    (1..=pages)
        .map(|page| path.with_file_name(name(page)))
        .collect()
}
