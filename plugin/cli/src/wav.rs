//! `barform wav`: the form on the built-in kit as a WAV file.

use crate::args::{Bits, WavArgs};
use crate::failure::Failure;
use crate::input::is_dash;
use crate::progress::Progress;
use crate::{output, text};
use barform_core::export::render::Rendering;
use barform_core::export::wav::{self, Overwrite, SampleFormat, WavError, WavFormat, WavReport};
use std::io::{self, Write};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Writes the file.
pub fn run(args: &WavArgs) -> Result<(), Failure> {
    let path = match &args.target.output {
        Some(path) => path.clone(),
        None if args.source.is_stdin() => PathBuf::from("-"),
        None => args.source.beside("wav"),
    };
    let to_stdout = is_dash(&path);
    if to_stdout {
        output::refuse_terminal("audio")?;
    }
    output::refuse_existing(&path, args.target.force)?;
    let timeline = Arc::new(args.source.read()?.timeline()?);
    let options = args.playing.options();
    let rate_hz = f64::from(args.rate);
    let mut rendering =
        Rendering::new(&timeline, &options, rate_hz, args.tail).map_err(Failure::export)?;
    let frames = rendering.frames();
    let sample = match args.bits {
        Bits::Sixteen => SampleFormat::Int16,
        Bits::TwentyFour => SampleFormat::Int24,
        Bits::ThirtyTwo => SampleFormat::Float32,
    };
    let format = WavFormat {
        rate_hz: args.rate,
        sample,
    };
    let mut progress = Progress::new("rendering", args.quiet);
    let mut step = |done: wav::Progress| {
        progress.at(done.share());
        ControlFlow::Continue(())
    };
    let mut source = |left: &mut [f32], right: &mut [f32]| rendering.fill(left, right);
    let report = if to_stdout || output::is_special(&path) {
        let mut bytes = Vec::new();
        wav::write_stream(&mut bytes, format, frames, &mut source, &mut step)
            .map_err(|e| failure(&path, e))
            .and_then(|report| {
                output::write_file(&path, &bytes, args.target.force).map(|()| report)
            })
    } else {
        let overwrite = if args.target.force {
            Overwrite::Replace
        } else {
            Overwrite::Refuse
        };
        wav::write_file(&path, overwrite, format, frames, &mut source, &mut step)
            .map_err(|e| failure(&path, e))
    };
    drop(progress);
    let report = report?;
    if args.quiet {
        return Ok(());
    }
    let told = tell(&path, args, &report);
    if to_stdout {
        let _ = write!(io::stderr(), "{told}");
        Ok(())
    } else {
        output::say(&told)
    }
}

fn failure(path: &Path, error: WavError) -> Failure {
    match error {
        WavError::Exists(_) => output::exists(path),
        WavError::Io { .. } | WavError::NotAFile(_) => Failure::File(error.to_string()),
        other => Failure::export(other),
    }
}

fn tell(path: &Path, args: &WavArgs, report: &WavReport) -> String {
    let bits = match args.bits {
        Bits::Sixteen => "16 bits",
        Bits::TwentyFour => "24 bits",
        Bits::ThirtyTwo => "32-bit floating point",
    };
    let or_silence = |value: Option<f64>, unit: &str| {
        value.map_or("none".to_owned(), |value| format!("{value:.1} {unit}"))
    };
    let mut told = format!(
        "{}: {}, {} Hz, {bits}; loudness {}, true peak {}\n",
        path.display(),
        text::duration(report.seconds),
        args.rate,
        or_silence(report.loudness_lufs, "LUFS"),
        or_silence(report.true_peak_dbtp, "dBTP"),
    );
    if report.gain_db < 0.0 {
        told += &format!(
            "Lowered by {:.1} dB to stay below -1 dBTP.\n",
            -report.gain_db
        );
    }
    told
}
