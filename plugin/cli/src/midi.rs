//! `barform midi`: the form as a Standard MIDI File.

use crate::args::MidiArgs;
use crate::failure::Failure;
use crate::input::is_dash;
use crate::{output, text};
use barform_app::export::Options;
use barform_app::export::midi::{self, MidiReport};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Writes the file.
pub fn run(args: &MidiArgs) -> Result<(), Failure> {
    let path = match &args.target.output {
        Some(path) => path.clone(),
        None if args.source.is_stdin() => PathBuf::from("-"),
        None => args.source.beside("mid"),
    };
    let to_stdout = is_dash(&path);
    if to_stdout {
        output::refuse_terminal("a MIDI file")?;
    }
    output::refuse_existing(&path, args.target.force)?;
    let piece = args.source.read()?;
    let timeline = piece.timeline()?;
    let options = Options {
        gate_ms: args.gate,
        ..args.playing.options()
    };
    let file = midi::write(&piece.score, &timeline, &options).map_err(Failure::export)?;
    output::write_file(&path, &file.bytes, args.target.force)?;
    if args.quiet {
        return Ok(());
    }
    let told = tell(&path, &file.report);
    if to_stdout {
        let _ = write!(io::stderr(), "{told}");
        Ok(())
    } else {
        output::say(&told)
    }
}

fn tell(path: &Path, report: &MidiReport) -> String {
    let mut told = tell_size(path, report);
    if !report.tempo_is_exact() {
        told += &format!(
            "The tempo is stored as {} microseconds a quarter note, not {}: {:+.3} ms at the end.\n",
            report.us_per_quarter,
            report.us_per_quarter_wanted,
            report.tempo_drift_us() / 1000.0,
        );
    }
    told + &tell_losses(report)
}

/// How long the file is, and its tracks.
pub(crate) fn tell_size(path: &Path, report: &MidiReport) -> String {
    let tracks: Vec<String> = report
        .tracks
        .iter()
        .map(|(name, notes)| format!("{name} ({notes})"))
        .collect();
    format!(
        "{}: {}, {} ticks a quarter note; {}\n",
        path.display(),
        text::duration(report.seconds()),
        report.division,
        if tracks.is_empty() {
            "no notes".to_owned()
        } else {
            tracks.join(", ")
        },
    )
}

/// What the file could not keep of the strokes.
pub(crate) fn tell_losses(report: &MidiReport) -> String {
    let mut told = String::new();
    if *report.largest_error_ticks.numer() > 0 {
        told += &format!(
            "No division holds all strokes exactly; the largest error is {} of a tick, {:.2} \
             microseconds.\n",
            report.largest_error_ticks, report.largest_error_us,
        );
    }
    if report.merged > 0 {
        let strokes = text::count(report.merged, "stroke");
        told += &format!("{strokes} on the same drum as another at once: one note for both.\n");
    }
    if report.graces_at_start > 0 {
        let graces = text::count(report.graces_at_start, "grace note");
        told += &format!("{graces} before the start of the file; --count-in 1 makes room.\n");
    }
    told
}
