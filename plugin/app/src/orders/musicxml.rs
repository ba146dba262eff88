//! The sheet as MusicXML, plain or packed.

use super::{OrderError, Report, Target};
use crate::export::musicxml::{Options, lost, write, write_mxl};
use crate::session::CompiledScore;
use crate::sheet::notate::{self, Fold, written};
use crate::words::count;

/// How the document is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MusicXmlOptions {
    /// How much of the form is written out.
    pub fold: Fold,
    /// What goes along with the notes.
    pub with: Options,
}

impl Default for MusicXmlOptions {
    /// Repeated bars once.
    fn default() -> Self {
        MusicXmlOptions {
            fold: Fold::Repeats,
            with: Options::default(),
        }
    }
}

/// Writes the document, packed if its name ends in `.mxl`.
///
/// # Errors
/// See [`OrderError`].
pub fn musicxml(
    score: &CompiledScore,
    options: &MusicXmlOptions,
    target: &mut Target,
) -> Result<Report, OrderError> {
    target.refuse_existing()?;
    let notation = notate::Options {
        fold: options.fold,
        ..notate::Options::default()
    };
    let (score, timeline) = (score.score(), &score.timeline);
    let sheet = written(score, timeline, &notation).map_err(OrderError::unfit)?;
    let ending = target.path().extension();
    let bytes = if ending.is_some_and(|e| e.eq_ignore_ascii_case("mxl")) {
        write_mxl(&sheet, timeline, score, &options.with)
    } else {
        write(&sheet, timeline, score, &options.with).map(String::into_bytes)
    };
    target.write(&bytes.map_err(OrderError::unfit)?)?;
    let bars = count(sheet.bars.len(), "bar");
    Ok(Report {
        files: vec![target.path().to_owned()],
        lines: vec![format!("{}: {bars}, MusicXML 4.0", target.path().display())],
        remarks: lost(&sheet, score, &options.with)
            .into_iter()
            .map(|what| format!("Not in the file: {what}"))
            .collect(),
    })
}
