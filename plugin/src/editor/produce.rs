//! Files that a score is handed on as: made on a thread of their own.
//!
//! In: a checked score, what kind of file, where to. Out: the file, whole or not
//! at all, and a sentence about it. Never here: a window.

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use barform_core::export::audio::{
    self, FileKind, Format, Level, Overwrite, Part, SampleFormat, Sounds, Source,
};
use barform_core::export::{Options, midi, musicxml};
use barform_core::sheet::engrave::{Paper, Style, engrave};
use barform_core::sheet::notate::{self, Fold};
use barform_core::sheet::{Drawing, Written, handout, ink};

use super::product::Product;
use super::score_file;
use crate::state::Checked;

/// Dots per inch of a picture: sharp on a screen and in a message.
const PICTURE_DPI: f32 = 200.0;

/// Frames per second of audio files.
const RATE_HZ: u32 = 48_000;

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
    /// Where to.
    pub path: PathBuf,
    /// Replace files that are there.
    pub replace: bool,
}

/// Makes the file and says so in a sentence. `progress` is told the share done
/// and may stop the work.
///
/// # Errors
/// What went wrong, in words; there is then no new file.
pub fn make(
    order: &Order,
    mut progress: impl FnMut(f64) -> ControlFlow<()>,
) -> Result<String, String> {
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
                    return Err("Stopped.".to_owned());
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
            let file = midi::write(score, timeline, &Options::default()).map_err(text)?;
            write(order, path, &file.bytes)?;
            Ok(format!(
                "{shown}: {:.1} s, {} ticks a quarter note",
                file.report.seconds(),
                file.report.division
            ))
        }
        Product::Wav => sound(order, FileKind::Wav, progress),
        Product::Flac => sound(order, FileKind::Flac, progress),
    }
}

fn sound(
    order: &Order,
    kind: FileKind,
    mut progress: impl FnMut(f64) -> ControlFlow<()>,
) -> Result<String, String> {
    let options = Options::default();
    let source = Source {
        timeline: &order.checked.timeline,
        part: Part::Form,
        options: &options,
        tail_s: None,
        sounds: Sounds::Kit,
    };
    let format = Format {
        kind,
        rate_hz: RATE_HZ,
        sample: SampleFormat::Int24,
    };
    let overwrite = if order.replace {
        Overwrite::Replace
    } else {
        Overwrite::Refuse
    };
    let step = |done: audio::Progress| progress(done.share());
    let path = order.path.as_path();
    let written = audio::write_file(&source, format, Level::default(), path, overwrite, step)
        .map_err(text)?;
    let report = written.report;
    let loudness = report
        .loudness_lufs
        .map_or("too short to measure".to_owned(), |l| {
            format!("{l:.1} LUFS")
        });
    Ok(format!(
        "{}: {:.1} s, {loudness}",
        path.display(),
        report.seconds
    ))
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

fn written(order: &Order) -> Result<Written, String> {
    let options = notate::Options {
        fold: order.print.fold,
        ..notate::Options::default()
    };
    let (score, timeline) = (order.checked.score(), &order.checked.timeline);
    notate::written(score, timeline, &options).map_err(text)
}

fn engraved(order: &Order) -> Result<Drawing, String> {
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

fn write(order: &Order, path: &Path, bytes: &[u8]) -> Result<(), String> {
    score_file::write(path, bytes, order.replace)
        .map_err(|error| format!("{} was not written: {error}.", path.display()))
}

fn text(error: impl std::fmt::Display) -> String {
    error.to_string()
}

fn pages(count: usize) -> String {
    format!("{count} {}", if count == 1 { "page" } else { "pages" })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::state::check;

    fn order(product: Product, path: &Path, replace: bool) -> Order {
        Order {
            checked: check(barform_core::DEMO_SCORE, "demo.barform").unwrap(),
            product,
            print: Print::default(),
            path: path.to_owned(),
            replace,
        }
    }

    #[test]
    fn every_product_is_a_file_of_its_kind_and_replaces_nothing_unasked() {
        let folder = tempfile::tempdir().unwrap();
        for (product, name, ending, _) in Product::ALL {
            let path = folder.path().join(name).with_extension(ending);
            let mut last = 0.0;
            let made = make(&order(product, &path, false), |share| {
                assert!(share >= last);
                last = share;
                ControlFlow::Continue(())
            });
            assert!(made.is_ok(), "{name}: {made:?}");
            let first = match product {
                // The demo's sheet has two pages.
                Product::Picture => page_path(&path, 0, 2),
                _ => path.clone(),
            };
            let bytes = std::fs::read(&first).unwrap();
            let head: &[u8] = match product {
                Product::Sheet | Product::HandOut => b"%PDF-",
                Product::Picture => b"\x89PNG",
                Product::MusicXml => b"<?xml",
                Product::Midi => b"MThd",
                Product::Wav => b"RIFF",
                Product::Flac => b"fLaC",
            };
            assert!(bytes.starts_with(head), "{name}");
            let again = make(&order(product, &path, false), |_| ControlFlow::Continue(()));
            assert!(again.is_err(), "{name} was replaced unasked");
            assert_eq!(std::fs::read(&first).unwrap(), bytes);
        }
        let path = folder.path().join("Sheet.pdf");
        make(&order(Product::Sheet, &path, true), |_| {
            ControlFlow::Continue(())
        })
        .unwrap();
    }

    #[test]
    fn audio_can_be_stopped_and_leaves_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.wav");
        let made = make(&order(Product::Wav, &path, false), |_| {
            ControlFlow::Break(())
        });
        assert!(made.is_err());
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    }
}
