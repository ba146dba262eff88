//! The sheet and a practice page for each letter, as one PDF.

use super::sheet::pdf;
use super::{OrderError, Report, Target, Watch};
use crate::session::CompiledScore;
use crate::sheet::handout::{self, HandoutError};
use crate::words::count;

pub use crate::sheet::handout::Options as HandoutOptions;

/// Writes the hand-out.
///
/// # Errors
/// See [`OrderError`].
pub fn handout(
    score: &CompiledScore,
    options: &HandoutOptions,
    target: &mut Target,
    watch: &mut dyn Watch,
) -> Result<Report, OrderError> {
    target.refuse_existing()?;
    let drawing = handout::handout(score.score(), &score.timeline, options);
    let drawing = drawing.map_err(|error| match error {
        HandoutError::Score(error) => error.into(),
        HandoutError::Level { .. } => OrderError::Options(error.to_string()),
        HandoutError::Setup(error) => OrderError::Options(error.problem),
        other => OrderError::unfit(other),
    })?;
    target.write(&pdf(&drawing, watch)?)?;
    Ok(Report {
        files: vec![target.path().to_owned()],
        lines: vec![format!(
            "{}: {}, {}",
            target.path().display(),
            count(drawing.pages.len(), "page"),
            count(score.score().cells.len(), "letter"),
        )],
        remarks: Vec::new(),
    })
}
