//! A practice plan over a score as a track: WAV, FLAC or MIDI.

use super::audio::rendered;
use super::midi::file_report;
use super::{OrderError, Report, Target, Watch};
use crate::export::Options;
use crate::export::audio::{FileKind, Format, Level, Sounds};
use crate::practice::schedule::{Ornaments, Schedule, Segment};
use crate::practice::track;
use crate::words::{count, number};

/// How a track is written. The ending of the target's name says what it becomes:
/// `.mid`, `.flac`, else WAV.
#[derive(Debug, Clone)]
pub struct PracticeOptions {
    /// Times of grace notes and bounces.
    pub ornaments: Ornaments,
    /// Rate and bits of audio; the kind follows the name.
    pub format: Format,
    /// How loud audio becomes.
    pub level: Level,
    /// Seconds that follow the end of audio; `None` lets the kit ring out.
    pub tail_s: Option<f64>,
}

/// Writes the track; the report goes on with what comes when.
///
/// # Errors
/// See [`OrderError`].
pub fn practice_track(
    schedule: &Schedule,
    options: &PracticeOptions,
    target: &mut Target,
    watch: &mut dyn Watch,
) -> Result<Report, OrderError> {
    target.refuse_existing()?;
    let ending = target.path().extension();
    let mut report = if ending.is_some_and(|e| e.eq_ignore_ascii_case("mid")) {
        let gate_ms = Options::default().gate_ms;
        let file = track::midi(schedule, options.ornaments, gate_ms).map_err(OrderError::unfit)?;
        target.write(&file.bytes)?;
        file_report(target.path(), &file.report)
    } else {
        let format = Format {
            kind: FileKind::of(target.path()).unwrap_or(FileKind::Wav),
            ..options.format
        };
        let rendering = track::rendering(
            schedule,
            options.ornaments,
            &Sounds::Kit,
            options.tail_s,
            format.rate_hz,
        );
        let rendering = rendering.map_err(OrderError::unfit)?;
        rendered(rendering, format, options.level, target, watch)?
    };
    // After what the file could not keep: it may be long.
    report.lines.append(&mut report.remarks);
    report.lines.extend(course(schedule));
    Ok(report)
}

/// What comes when: one line for each passage and tempo.
fn course(schedule: &Schedule) -> Vec<String> {
    let same = |a: &Segment, b: &Segment| a.passage == b.passage && a.step == b.step;
    let stretches = schedule.segments.chunk_by(same);
    let line = |stretch: &[Segment]| {
        let bars = |counted_in: bool| {
            let of = stretch
                .iter()
                .filter(|s| s.bar_line && s.source.is_none() == counted_in);
            of.count()
        };
        let count_in = match bars(true) {
            0 => String::new(),
            n => format!(" after {} of count-in", count(n, "bar")),
        };
        let head = &stretch[0];
        format!(
            "{:>8}  {} at {}: {}{count_in}",
            clock(head.begins.to_f64()),
            schedule.passages[head.passage].name,
            number(head.tempo),
            count(bars(false), "bar"),
        )
    };
    stretches.map(line).collect()
}

/// `1:23.4`
fn clock(seconds: f64) -> String {
    let tenths = (seconds * 10.0).round() as u64;
    format!("{}:{:02}.{}", tenths / 600, tenths / 10 % 60, tenths % 10)
}
