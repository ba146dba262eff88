//! MusicXML (W3C Music Notation Community Group, *MusicXML 4.0*, and before),
//! read into a score: `.musicxml`, `.xml` and packed `.mxl`.
//!
//! In: bytes and [`Options`]. `opened` unpacks and guards, `parts` picks a
//! percussion part, `part` and `signs` walk it to `music`, `strokes` says what a
//! note strikes, `order` follows repeats, `flat` puts all on one line of time,
//! `cells` cuts letters, `hands` works out what sticking is missing, `form` puts
//! the score together. A document of
//! [`export::musicxml`](crate::export::musicxml) carries its score; that one is
//! taken if the notes are still those it was written with. Never here: a file
//! system, a network, an entity, a guess that is not in the remarks.

mod carried;
mod cells;
mod flat;
mod form;
mod grid;
mod hands;
mod instruments;
mod music;
mod names;
mod note;
mod opened;
mod order;
mod part;
mod parts;
mod signs;
mod strokes;

pub use opened::{MAX_DEPTH, MAX_PACKED_BYTES, MAX_XML_BYTES};
pub use part::MAX_BEATS_IN_BAR;

use super::{ImportError, Imported, Remarks};
use barform_score::music::{Beats, Kit};

/// How a part becomes cells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Options {
    /// Where cells begin.
    pub cut: Cut,
    /// The kit whose keys the file's instruments are looked up in.
    pub kit: Kit,
    /// Which part is read, the first being 0, in the order of the part list;
    /// `None` for the first percussion part.
    pub part: Option<usize>,
    /// Take the score that a document of our own carries, if its notes are
    /// unchanged.
    pub take_carried: bool,
}

impl Default for Options {
    /// The first percussion part, General MIDI's keys, cells as the file has
    /// them or else one bar each.
    fn default() -> Self {
        Options {
            cut: Cut::Auto,
            kit: Kit::general_midi(),
            part: None,
            take_carried: true,
        }
    }
}

/// Where cells begin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cut {
    /// At rehearsal marks in documents of our own, else as [`Cut::Bars`].
    Auto,
    /// At rehearsal marks that are letters of cells (`A`, `B2`, `C'`), and at
    /// the bar lines where none are.
    Marks,
    /// At every bar line: a groove's bars are its cells.
    Bars,
    /// Every so many beats from each bar line; the last of a bar may be
    /// shorter. Above zero.
    Beats(Beats),
}

/// Reads a document.
///
/// # Errors
/// See [`ImportError`]; never a partial score.
pub fn read(bytes: &[u8], options: &Options) -> Result<Imported, ImportError> {
    if let Cut::Beats(beats) = options.cut
        && !beats.is_positive()
    {
        let what = format!("cells of {beats} beats; a cell is longer than nothing");
        return Err(ImportError::Option(what));
    }
    let text = opened::text(bytes)?;
    let document = opened::document(&text)?;
    let mut remarks = Remarks::default();
    let music = part::music(&document, options, &mut remarks)?;
    if options.take_carried
        && let Some(score) = carried::score(&document, &music, &mut remarks)
    {
        return Ok(Imported {
            score,
            notes: remarks.into_sorted(),
        });
    }
    let score = form::score(&music, options, &mut remarks)?;
    Ok(Imported {
        score,
        notes: remarks.into_sorted(),
    })
}

/// What tells the notes of a document from others: the same for two documents
/// whose strokes, times, marks and repeats are the same, however they are laid
/// out in text.
pub(crate) fn digest(text: &str) -> Result<String, ImportError> {
    let document = opened::document(text)?;
    let mut remarks = Remarks::default();
    Ok(part::music(&document, &Options::default(), &mut remarks)?.digest())
}

/// A document that is not what it should be.
fn damaged(what: impl Into<String>) -> ImportError {
    ImportError::Damaged {
        format: "MusicXML",
        what: what.into(),
    }
}

/// So many characters of foreign text for a remark, on one line.
fn brief(text: &str) -> String {
    let plain = |c: char| if c.is_control() { ' ' } else { c };
    let mut brief: String = text.trim().chars().take(40).map(plain).collect();
    if text.trim().chars().count() > 40 {
        brief.push('…');
    }
    brief
}
