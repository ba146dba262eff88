//! What is said about audio files that were written.

use crate::text;
use barform_app::export::audio::{Format, Report, SampleFormat, StemSet, Written};
use std::path::Path;

/// About one file.
pub fn file(path: &Path, format: Format, written: &Written) -> String {
    format!(
        "{}: {}, {}; {}\n{}",
        path.display(),
        text::duration(written.report.seconds),
        stored(format),
        level(&written.report),
        remarks(written),
    )
}

/// About a set of stems.
pub fn stems(format: Format, set: &StemSet) -> String {
    let mut told = String::new();
    for stem in &set.stems {
        told += &format!("{}: {}\n", stem.path.display(), level(&stem.report));
    }
    told += &format!(
        "{}, each {}, {}; all together {}\n",
        text::count(set.stems.len(), "file"),
        text::duration(set.sum.report.seconds),
        stored(format),
        level(&set.sum.report),
    );
    told + &remarks(&set.sum)
}

fn stored(format: Format) -> String {
    let bits = match format.sample {
        SampleFormat::Int16 => "16 bits",
        SampleFormat::Int24 => "24 bits",
        SampleFormat::Float32 => "32-bit floating point",
    };
    format!("{} Hz, {bits}", format.rate_hz)
}

fn level(report: &Report) -> String {
    let or_silence = |value: Option<f64>, unit: &str| {
        value.map_or("none".to_owned(), |value| format!("{value:.1} {unit}"))
    };
    format!(
        "loudness {}, true peak {}",
        or_silence(report.loudness_lufs, "LUFS"),
        or_silence(report.true_peak_dbtp, "dBTP"),
    )
}

fn remarks(written: &Written) -> String {
    let report = &written.report;
    let mut told = String::new();
    if report.held_back_db > 0.05 {
        told += &format!(
            "Gain {:+.1} dB; {:.1} dB more for the loudness asked for would exceed -1 dBTP.\n",
            report.gain_db, report.held_back_db,
        );
    } else if report.gain_db > 0.05 {
        told += &format!("Raised by {:.1} dB.\n", report.gain_db);
    } else if report.gain_db < -0.05 {
        told += &format!("Lowered by {:.1} dB.\n", -report.gain_db);
    }
    if !written.substitutes.is_empty() {
        let named = |s: &barform_app::export::audio::Substitute| {
            let how = s.articulation.name();
            let colon = if how.is_empty() { "" } else { ":" };
            format!("{}{colon}{how} (note {})", s.voice.name(), s.key.number())
        };
        let all: Vec<String> = written.substitutes.iter().map(named).collect();
        told += &format!(
            "Not in the SoundFont, so from the built-in kit: {}.\n",
            all.join(", ")
        );
    }
    told
}
