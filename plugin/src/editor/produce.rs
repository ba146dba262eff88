//! Files that a score is handed on as: made on a thread of their own.
//!
//! In: a checked score, what kind of file, how it is printed or played, where to.
//! Out: the file or files, whole or not at all, and a sentence about them. Never
//! here: a window, and never a file replaced unasked.

mod sound;

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use barform_app::export::{midi, musicxml};
use barform_app::save::{self, Overwrite};
use barform_app::sheet::engrave::{Paper, Style, engrave};
use barform_app::sheet::notate::{self, Fold};
use barform_app::sheet::{Drawing, Written, handout, ink};

use super::product::Product;
use crate::state::Checked;

pub use sound::{Audio, Playing};

/// Dots per inch of a picture: sharp on a screen and in a message.
const PICTURE_DPI: f32 = 200.0;

/// How it is printed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Print {
    /// US Letter in place of A4.
    pub us_letter: bool,
    /// Half as large again.
    pub large: bool,
    /// How much of the form is written out.
    pub fold: Fold,
}

impl Default for Print {
    fn default() -> Self {
        Print {
            us_letter: false,
            large: false,
            fold: Fold::Repeats,
        }
    }
}

/// A file to make.
#[derive(Debug, Clone)]
pub struct Order {
    /// The score.
    pub checked: Checked,
    /// What kind of file.
    pub product: Product,
    /// How it is printed.
    pub print: Print,
    /// What is played in MIDI and audio files.
    pub playing: Playing,
    /// How audio sounds, and what is in it.
    pub audio: Audio,
    /// Where to: a file, or a folder for stems.
    pub path: PathBuf,
    /// Replace files that are there.
    pub replace: bool,
}

/// Why a file was not made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Failure {
    /// This is there, and was not to be replaced.
    Occupied(PathBuf),
    /// What went wrong, in words.
    Said(String),
}

/// Makes the file and says so in a sentence. `progress` is told the share done
/// and may stop the work.
///
/// # Errors
/// See [`Failure`]; there is then no new file.
pub fn make(
    order: &Order,
    mut progress: impl FnMut(f64) -> ControlFlow<()>,
) -> Result<String, Failure> {
    let (score, timeline) = (order.checked.score(), &order.checked.timeline);
    let path = order.path.as_path();
    let shown = path.display();
    match order.product {
        Product::Sheet => {
            let drawing = engraved(order)?;
            let bytes = ink::pdf(&drawing).map_err(text)?;
            write(order, path, &bytes)?;
            Ok(format!("{shown}: {}", pages(drawing.pages.len())))
        }
        Product::HandOut => {
            let options = handout::Options {
                style: style(order.print),
                fold: order.print.fold,
                ..handout::Options::default()
            };
            let drawing = handout::handout(score, timeline, &options).map_err(text)?;
            let bytes = ink::pdf(&drawing).map_err(text)?;
            write(order, path, &bytes)?;
            Ok(format!("{shown}: {}", pages(drawing.pages.len())))
        }
        Product::Picture => {
            let drawing = engraved(order)?;
            let count = drawing.pages.len();
            for page in 0..count {
                if progress(page as f64 / count as f64).is_break() {
                    return Err(Failure::Said("Stopped.".to_owned()));
                }
                let bytes = ink::png(&drawing, page, PICTURE_DPI).map_err(text)?;
                write(order, &page_path(path, page, count), &bytes)?;
            }
            Ok(format!(
                "{}: {}",
                page_path(path, 0, count).display(),
                pages(count)
            ))
        }
        Product::MusicXml => {
            let written = written(order)?;
            let options = musicxml::Options::default();
            let packed = path
                .extension()
                .is_some_and(|e| e.eq_ignore_ascii_case("mxl"));
            let bytes = if packed {
                musicxml::write_mxl(&written, timeline, score, &options)
            } else {
                musicxml::write(&written, timeline, score, &options).map(String::into_bytes)
            };
            write(order, path, &bytes.map_err(text)?)?;
            let lost = musicxml::lost(&written, score, &options);
            let mut said = format!("{shown}: MusicXML 4.0");
            for what in lost {
                said += &format!("\nNot in its notes: {what}");
            }
            Ok(said)
        }
        Product::Midi => {
            let options = order.playing.options();
            let file = midi::write(score, timeline, &options).map_err(text)?;
            write(order, path, &file.bytes)?;
            Ok(format!(
                "{shown}: {:.1} s, {} ticks a quarter note",
                file.report.seconds(),
                file.report.division
            ))
        }
        Product::Wav | Product::Flac => sound::write(order, progress),
    }
}

/// The file that a page is written to.
pub fn page_path(path: &Path, page: usize, count: usize) -> PathBuf {
    if count == 1 {
        return path.to_owned();
    }
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    path.with_file_name(format!("{stem}-{}", page + 1))
        .with_extension(Product::Picture.ending())
}

fn written(order: &Order) -> Result<Written, Failure> {
    let options = notate::Options {
        fold: order.print.fold,
        ..notate::Options::default()
    };
    let (score, timeline) = (order.checked.score(), &order.checked.timeline);
    notate::written(score, timeline, &options).map_err(text)
}

fn engraved(order: &Order) -> Result<Drawing, Failure> {
    let written = written(order)?;
    engrave(&written, &order.checked.score().kit, &style(order.print)).map_err(text)
}

fn style(print: Print) -> Style {
    let style = Style {
        paper: if print.us_letter {
            Paper::LETTER
        } else {
            Paper::A4
        },
        ..Style::default()
    };
    if print.large {
        style.large_print()
    } else {
        style
    }
}

fn write(order: &Order, path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    save::write(path, bytes, Overwrite::if_asked(order.replace)).map_err(|error| {
        match error.kind() {
            std::io::ErrorKind::AlreadyExists => Failure::Occupied(path.to_owned()),
            _ => Failure::Said(format!("{} was not written: {error}.", path.display())),
        }
    })
}

fn text(error: impl std::fmt::Display) -> Failure {
    Failure::Said(error.to_string())
}

fn pages(count: usize) -> String {
    format!("{count} {}", if count == 1 { "page" } else { "pages" })
}

#[cfg(test)]
mod test;
