//! The form or a letter as a WAV or FLAC file, or as stems.

use std::ops::ControlFlow;
use std::path::Path;

use super::{OrderError, Report, Target, Watch};
use crate::export::Options;
use crate::export::audio::{
    self, AudioError, FileKind, Format, Grouping, Level, Part, Progress, SampleFormat, Sounds,
    Source, StemSet, StemTarget, Substitute, Written,
};
use crate::export::render::RenderError;
use crate::session::CompiledScore;
use crate::words::{count, duration};

/// What is played, on what, and how it is stored.
#[derive(Debug, Clone)]
pub struct AudioOptions {
    /// The form, or one letter.
    pub part: Part,
    /// How it is played.
    pub playing: Options,
    /// What it is played on.
    pub sounds: Sounds,
    /// Kind of file, rate, bits.
    pub format: Format,
    /// How loud it becomes.
    pub level: Level,
    /// Seconds that follow the end; `None` lets the kit ring out.
    pub tail_s: Option<f64>,
    /// A file for each voice or group, in place of one; the target is a folder.
    pub stems: Option<Stems>,
}

/// How stems are cut and called.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stems {
    /// What shares a file.
    pub grouping: Grouping,
    /// What every name begins with; the folder's own name if none.
    pub name: Option<String>,
}

impl Default for AudioOptions {
    /// The form on the embedded kit, 24 bits at 48 kHz.
    fn default() -> Self {
        AudioOptions {
            part: Part::Form,
            playing: Options::default(),
            sounds: Sounds::Kit,
            format: Format {
                kind: FileKind::Wav,
                rate_hz: 48_000,
                sample: SampleFormat::Int24,
            },
            level: Level::default(),
            tail_s: None,
            stems: None,
        }
    }
}

/// Writes the file or the stems.
///
/// # Errors
/// See [`OrderError`].
pub fn audio(
    score: &CompiledScore,
    options: &AudioOptions,
    target: &mut Target,
    watch: &mut dyn Watch,
) -> Result<Report, OrderError> {
    let source = Source {
        timeline: &score.timeline,
        part: options.part.clone(),
        options: &options.playing,
        tail_s: options.tail_s,
        sounds: options.sounds.clone(),
    };
    let (format, level) = (options.format, options.level);
    let Some(stems) = &options.stems else {
        refuse_misnamed(target.path(), format.kind)?;
        target.refuse_existing()?;
        let rendering = audio::rendering(&source, format).map_err(failed)?;
        return rendered(rendering, format, level, target, watch);
    };
    let folder = target.path();
    let own = folder.file_name().unwrap_or_default().to_string_lossy();
    let place = StemTarget {
        folder,
        name: stems.name.as_deref().unwrap_or(&own),
        grouping: stems.grouping,
        overwrite: target.overwrite(),
    };
    let step = step(watch);
    let set = audio::write_stems(&source, format, level, &place, step).map_err(failed)?;
    Ok(stems_report(format, &set))
}

/// Writes what is rendered into one file.
pub(super) fn rendered(
    rendering: crate::export::render::Rendering,
    format: Format,
    level: Level,
    target: &mut Target,
    watch: &mut dyn Watch,
) -> Result<Report, OrderError> {
    let written = if target.is_sequential() {
        let mut bytes = Vec::new();
        let step = step(watch);
        let written = audio::stream_rendering(rendering, format, level, &mut bytes, step);
        let written = written.map_err(failed)?;
        target.write(&bytes)?;
        written
    } else {
        let (path, overwrite, step) = (target.path(), target.overwrite(), step(watch));
        audio::write_rendering(rendering, format, level, path, overwrite, step).map_err(failed)?
    };
    Ok(Report {
        files: vec![target.path().to_owned()],
        lines: vec![format!(
            "{}: {}, {}; {}",
            target.path().display(),
            duration(written.report.seconds),
            stored(format),
            loudness(&written.report),
        )],
        remarks: remarks(&written),
    })
}

fn step(watch: &mut dyn Watch) -> impl FnMut(Progress) -> ControlFlow<()> {
    move |done: Progress| watch.at(done.share())
}

/// Refuses a name that says another kind of audio.
fn refuse_misnamed(path: &Path, kind: FileKind) -> Result<(), OrderError> {
    match FileKind::of(path).filter(|named| *named != kind) {
        None => Ok(()),
        Some(_) => Err(OrderError::Options(format!(
            "{} would hold {} audio; end its name in .{}",
            path.display(),
            kind.ending().to_uppercase(),
            kind.ending(),
        ))),
    }
}

fn failed(error: AudioError) -> OrderError {
    match error {
        AudioError::Exists(there) => OrderError::Exists(there),
        AudioError::Io { .. } | AudioError::NotAFile(_) => OrderError::File(error.to_string()),
        AudioError::FlacFloat | AudioError::Render(RenderError::NoLetter { .. }) => {
            OrderError::Options(error.to_string())
        }
        AudioError::Cancelled => OrderError::Stopped,
        other => OrderError::unfit(other),
    }
}

fn stems_report(format: Format, set: &StemSet) -> Report {
    let stem = |stem: &audio::Stem| format!("{}: {}", stem.path.display(), loudness(&stem.report));
    let mut lines: Vec<String> = set.stems.iter().map(stem).collect();
    let names: Vec<&str> = set.stems.iter().map(|stem| stem.name).collect();
    lines.push(format!(
        "{} ({}), each {}, {}; all together {}",
        count(set.stems.len(), "file"),
        names.join(", "),
        duration(set.sum.report.seconds),
        stored(format),
        loudness(&set.sum.report),
    ));
    Report {
        files: set.stems.iter().map(|stem| stem.path.clone()).collect(),
        lines,
        remarks: remarks(&set.sum),
    }
}

fn stored(format: Format) -> String {
    let bits = match format.sample {
        SampleFormat::Int16 => "16 bits",
        SampleFormat::Int24 => "24 bits",
        SampleFormat::Float32 => "32-bit floating point",
    };
    format!("{} Hz, {bits}", format.rate_hz)
}

fn loudness(report: &audio::Report) -> String {
    let or_none = |value: Option<f64>, unit: &str| {
        value.map_or("none".to_owned(), |value| format!("{value:.1} {unit}"))
    };
    format!(
        "loudness {}, true peak {}",
        or_none(report.loudness_lufs, "LUFS"),
        or_none(report.true_peak_dbtp, "dBTP"),
    )
}

fn remarks(written: &Written) -> Vec<String> {
    let report = &written.report;
    let mut remarks = Vec::new();
    if report.held_back_db > 0.05 {
        remarks.push(format!(
            "Gain {:+.1} dB, {:.1} dB below the loudness asked for: more would exceed -1 dBTP.",
            report.gain_db, report.held_back_db,
        ));
    } else if report.gain_db > 0.05 {
        remarks.push(format!("Raised by {:.1} dB.", report.gain_db));
    } else if report.gain_db < -0.05 {
        remarks.push(format!("Lowered by {:.1} dB.", -report.gain_db));
    }
    if !written.substitutes.is_empty() {
        let named = |s: &Substitute| {
            let stroke = crate::words::stroke(s.voice, s.articulation);
            format!("{stroke} (note {})", s.key.number())
        };
        let all: Vec<String> = written.substitutes.iter().map(named).collect();
        remarks.push(format!(
            "Not in the SoundFont, so from the embedded kit: {}.",
            all.join(", ")
        ));
    }
    remarks
}
