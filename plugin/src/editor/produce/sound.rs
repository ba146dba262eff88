//! What is played in MIDI and audio files, and audio files and stems themselves.
//!
//! In: a score, what of it, how often, how fast, on which sounds. Out: one file,
//! or a file for each voice in a folder. Never here: how a sample is made; that
//! is the core's.

use std::ops::ControlFlow;

use barform_app::export::Options;
use barform_app::export::audio::{
    self, AudioError, FileKind, Format, Grouping, Level, Overwrite, Part, Report, SampleFormat,
    Sounds, Source, StemTarget, Written,
};
use barform_app::music::{Beats, Letter};
use barform_app::player::Mute;

use super::super::product::Product;
use super::{Failure, Order, text};

/// What is played in a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Playing {
    /// How often, 1 to 9999.
    pub times: u32,
    /// Empty bars ahead of it, 0 to 64; the click counts in there.
    pub empty_bars: u32,
    /// The click goes along.
    pub click: bool,
    /// Beats a minute, to a tenth; `None` for the score's.
    pub tempo_bpm: Option<f64>,
    /// What is left out besides the click.
    pub without: Mute,
}

impl Default for Playing {
    /// The form once, without a click.
    fn default() -> Self {
        Playing {
            times: 1,
            empty_bars: 0,
            click: false,
            tempo_bpm: None,
            without: Mute::default(),
        }
    }
}

impl Playing {
    /// As the core takes it.
    pub fn options(&self) -> Options {
        let tenths = |bpm: f64| Beats::new((bpm * 10.0).round() as i64, 10);
        Options {
            passes: self.times,
            empty_bars: self.empty_bars,
            tempo: self.tempo_bpm.map(tenths),
            mute: Mute {
                click: !self.click,
                ..self.without
            },
            ..Options::default()
        }
    }
}

/// How audio sounds, and what is in it.
#[derive(Debug, Clone)]
pub struct Audio {
    /// One letter round and round in place of the form.
    pub letter: Option<Letter>,
    /// A file for each voice or group, in a folder.
    pub stems: Option<Grouping>,
    /// How a sample is stored.
    pub sample: SampleFormat,
    /// Frames per second.
    pub rate_hz: u32,
    /// Integrated loudness to reach, LUFS; `None` leaves the level.
    pub loudness_lufs: Option<f64>,
    /// Cut at the end, for a seamless loop, in place of ringing out.
    pub cut: bool,
    /// What it is played on.
    pub sounds: Sounds,
}

impl Default for Audio {
    /// The form on the embedded kit, 24 bits at 48 kHz.
    fn default() -> Self {
        Audio {
            letter: None,
            stems: None,
            sample: SampleFormat::Int24,
            rate_hz: 48_000,
            loudness_lufs: None,
            cut: false,
            sounds: Sounds::Kit,
        }
    }
}

/// Writes the file or the stems.
pub fn write(
    order: &Order,
    mut progress: impl FnMut(f64) -> ControlFlow<()>,
) -> Result<String, Failure> {
    let (kind, wanted) = (kind(order.product), &order.audio);
    let path = order.path.as_path();
    let misnamed = FileKind::of(path).is_some_and(|named| named != kind);
    if misnamed && wanted.stems.is_none() {
        return Err(Failure::Said(format!(
            "{} would hold {} audio; end its name in .{}.",
            path.display(),
            kind.ending().to_uppercase(),
            kind.ending(),
        )));
    }
    let options = order.playing.options();
    let source = Source {
        timeline: &order.checked.timeline,
        part: wanted.letter.clone().map_or(Part::Form, Part::Letter),
        options: &options,
        tail_s: wanted.cut.then_some(0.0),
        sounds: wanted.sounds.clone(),
    };
    let format = Format {
        kind,
        rate_hz: wanted.rate_hz,
        sample: wanted.sample,
    };
    let level = Level {
        target_lufs: wanted.loudness_lufs,
    };
    let overwrite = Overwrite::if_asked(order.replace);
    let step = |done: audio::Progress| progress(done.share());
    let Some(grouping) = wanted.stems else {
        let written =
            audio::write_file(&source, format, level, path, overwrite, step).map_err(failed)?;
        return Ok(format!("{}: {}", path.display(), about(&written)));
    };
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let target = StemTarget {
        folder: path,
        name: &name,
        grouping,
        overwrite,
    };
    let set = audio::write_stems(&source, format, level, &target, step).map_err(failed)?;
    let count = set.stems.len();
    let files = if count == 1 { "file" } else { "files" };
    let names: Vec<&str> = set.stems.iter().map(|stem| stem.name).collect();
    Ok(format!(
        "{}: {count} {files} ({}); together {}",
        path.display(),
        names.join(", "),
        about(&set.sum)
    ))
}

fn kind(product: Product) -> FileKind {
    if product == Product::Flac {
        FileKind::Flac
    } else {
        FileKind::Wav
    }
}

fn failed(error: AudioError) -> Failure {
    match error {
        AudioError::Exists(path) => Failure::Occupied(path),
        AudioError::Cancelled => Failure::Said("Stopped; nothing was written.".to_owned()),
        other => text(other),
    }
}

/// Length, loudness, and what was not as asked.
fn about(written: &Written) -> String {
    let report: &Report = &written.report;
    let loudness = report
        .loudness_lufs
        .map_or("too short to measure".to_owned(), |l| {
            format!("{l:.1} LUFS")
        });
    let mut said = format!("{:.1} s, {loudness}", report.seconds);
    if report.held_back_db > 0.05 {
        said += &format!(
            ". {:.1} dB below the loudness asked for: more would exceed -1 dB true peak",
            report.held_back_db
        );
    }
    if !written.substitutes.is_empty() {
        let mut voices: Vec<&str> = written.substitutes.iter().map(|s| s.voice.name()).collect();
        voices.dedup();
        said += &format!(
            ". Not in the SoundFont, so from the embedded kit: {}",
            voices.join(", ")
        );
    }
    said
}
