//! A sheet as MusicXML 4.0 (W3C Music Notation Community Group, *MusicXML 4.0*,
//! 2021), `score-partwise`, and the same packed as `.mxl`.
//!
//! In: [`Written`] and the score it was written from. Out: the document, the
//! same bytes on every machine. One part, one staff, percussion clef; voice 1
//! is hands, stems up, voice 2 is feet, stems down. What the standard has a
//! sign for is written with that sign: a ghost note's parentheses, the
//! unmeasured tremolo of a buzz, `open` and `half-muted` for the hi-hat, a
//! stroke's limb as `fingering`. Letters are rehearsal marks, section names are
//! words.
//!
//! What no sheet says (variations, ostinatos, voicings, levels, the kit's
//! velocities) goes along as text in a `miscellaneous-field`, with a digest of
//! the notes, so that [`import::musicxml`](crate::import::musicxml) takes it
//! only as long as the notes are those. Never here: a decision about the music,
//! a date, a name of the machine.

mod bar;
mod head;
mod lost;
mod note;
mod packed;
mod signs;
mod ticks;
mod xml;

pub use lost::lost;
pub(crate) use note::TYPES;

use crate::import::musicxml::digest;
use barform_score::music::BeatsError;
use barform_score::score::Score;
use barform_score::timeline::Timeline;
use barform_sheet::Written;
use xml::Xml;

/// Name of the field that carries the score, and of the digest of the notes it
/// belongs to.
pub(crate) const SCORE_FIELD: &str = "barform-score";
/// See [`SCORE_FIELD`].
pub(crate) const DIGEST_FIELD: &str = "barform-notes";

/// What is written besides the notes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Options {
    /// Each stroke's limb, as `fingering`: `R L K H`.
    pub sticking: bool,
    /// Counts, as lyrics of the notes and rests that stand at their time.
    pub counts: bool,
    /// The score itself, for a lossless way back.
    pub carry_score: bool,
}

impl Default for Options {
    /// Sticking and the score, no counts.
    fn default() -> Self {
        Options {
            sticking: true,
            counts: false,
            carry_score: true,
        }
    }
}

/// Why a document cannot be written.
#[derive(Debug, thiserror::Error)]
pub enum MusicXmlError {
    /// The exact arithmetic does not fit.
    #[error(transparent)]
    Beats(#[from] BeatsError),
    /// No whole number of divisions of a quarter note makes a bar exact.
    #[error("bar {bar}: its times need more than {most} divisions of a quarter note")]
    TooFine {
        /// Bar, the first being 1, as they stand on the sheet.
        bar: usize,
        /// Most divisions: whole numbers up to here are exact in every reader.
        most: i64,
    },
    /// The document could not be put together or packed.
    #[error("cannot write the document: {0}")]
    Write(String),
}

impl From<std::io::Error> for MusicXmlError {
    fn from(error: std::io::Error) -> Self {
        MusicXmlError::Write(error.to_string())
    }
}

/// Writes the document: what is said of it above. `timeline` is compiled from
/// `score`, and `written` from both.
///
/// # Errors
/// See [`MusicXmlError`].
pub fn write(
    written: &Written,
    timeline: &Timeline,
    score: &Score,
    options: &Options,
) -> Result<String, MusicXmlError> {
    let bare = document(written, timeline, options, None)?;
    if !options.carry_score {
        return Ok(bare);
    }
    let text = score.to_toml();
    // A digest can be made only of what the reader takes; without one there is
    // no telling whether the score still belongs to the notes.
    match digest(&bare) {
        Ok(digest) if text.chars().all(xml::allowed) => {
            document(written, timeline, options, Some((&text, &digest)))
        }
        _ => Ok(bare),
    }
}

/// Writes the document packed as `.mxl`.
///
/// # Errors
/// See [`MusicXmlError`].
pub fn write_mxl(
    written: &Written,
    timeline: &Timeline,
    score: &Score,
    options: &Options,
) -> Result<Vec<u8>, MusicXmlError> {
    packed::pack(&write(written, timeline, score, options)?)
}

fn document(
    written: &Written,
    timeline: &Timeline,
    options: &Options,
    carried: Option<(&str, &str)>,
) -> Result<String, MusicXmlError> {
    let mut xml = Xml::new()?;
    let ticks = ticks::Ticks::of(written)?;
    xml.open("score-partwise", &[("version", "4.0")])?;
    head::head(&mut xml, written, carried)?;
    let instruments = head::part_list(&mut xml, written, &timeline.kit)?;
    xml.open("part", &[("id", head::PART)])?;
    let mut state = bar::State::new(written, options, instruments, ticks);
    for index in 0..written.bars.len() {
        state.bar(&mut xml, index)?;
    }
    xml.close("part")?;
    xml.close("score-partwise")?;
    xml.finish()
}
