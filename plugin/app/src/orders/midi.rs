//! A Standard MIDI File of the form.

use std::path::Path;

use super::{OrderError, Report, Target};
use crate::export::midi::{MidiReport, write};
use crate::session::CompiledScore;
use crate::words::{count, duration};

pub use crate::export::Options as MidiOptions;

/// Writes the file.
///
/// # Errors
/// See [`OrderError`].
pub fn midi(
    score: &CompiledScore,
    options: &MidiOptions,
    target: &mut Target,
) -> Result<Report, OrderError> {
    target.refuse_existing()?;
    let file = write(score.score(), &score.timeline, options).map_err(OrderError::unfit)?;
    target.write(&file.bytes)?;
    let mut report = file_report(target.path(), &file.report);
    if !file.report.tempo_is_exact() {
        let tempo = format!(
            "The tempo is stored as {} microseconds a quarter note, not {}: {:+.3} ms at the end.",
            file.report.us_per_quarter,
            file.report.us_per_quarter_wanted,
            file.report.tempo_drift_us() / 1000.0,
        );
        report.remarks.insert(0, tempo);
    }
    Ok(report)
}

/// How long a file is, its tracks, and what it could not keep of the strokes.
pub(super) fn file_report(path: &Path, file: &MidiReport) -> Report {
    let tracks: Vec<String> = file
        .tracks
        .iter()
        .map(|(name, notes)| format!("{name} ({notes})"))
        .collect();
    let line = format!(
        "{}: {}, {} ticks a quarter note; {}",
        path.display(),
        duration(file.seconds()),
        file.division,
        if tracks.is_empty() {
            "no notes".to_owned()
        } else {
            tracks.join(", ")
        },
    );
    let mut remarks = Vec::new();
    if *file.largest_error_ticks.numer() > 0 {
        remarks.push(format!(
            "No division holds all strokes exactly; the largest error is {} of a tick, {:.2} \
             microseconds.",
            file.largest_error_ticks, file.largest_error_us,
        ));
    }
    if file.merged > 0 {
        let strokes = count(file.merged, "stroke");
        remarks.push(format!(
            "{strokes} on the same drum as another at once: one note for both."
        ));
    }
    if file.graces_at_start > 0 {
        let graces = count(file.graces_at_start, "grace note");
        remarks.push(format!(
            "{graces} before the start of the file; a bar of count-in makes room."
        ));
    }
    Report {
        files: vec![path.to_owned()],
        lines: vec![line],
        remarks,
    }
}
