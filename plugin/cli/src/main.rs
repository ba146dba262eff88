//! The `barform` command: a thin shell around `barform-app`.
//!
//! In: arguments, score files, standard input. Out: text, MIDI, WAV and FLAC files,
//! an exit status that scripts can rely on. Messages go to standard error;
//! standard output carries what was asked for and nothing else. Never here: a
//! decision about music, a file left half-written, a file replaced unasked.

mod args;
mod check;
mod craft;
mod failure;
mod handout;
mod import;
mod input;
mod midi;
mod musicxml;
mod output;
mod practice;
mod progress;
mod respell;
mod sheet;
mod show;
mod take;
mod text;
mod wav;

use args::{Args, Verb};
use barform_app::export::audio::FileKind;
use clap::Parser;
use std::process::ExitCode;

fn main() -> ExitCode {
    // Clap leaves with status 2 where the arguments make no sense.
    let done = match Args::parse().verb {
        Verb::Check(args) => check::run(&args),
        Verb::Show(args) => show::run(&args),
        Verb::Midi(args) => midi::run(&args),
        Verb::Wav(args) => wav::run(&args, FileKind::Wav),
        Verb::Flac(args) => wav::run(&args, FileKind::Flac),
        Verb::Sheet(args) => sheet::run(&args),
        Verb::Handout(args) => handout::run(&args),
        Verb::Musicxml(args) => musicxml::run(&args),
        Verb::Import(args) => import::run(&args),
        Verb::Take(args) => take::run(&args),
        Verb::Practice(args) => practice::run(&args),
        Verb::Demo => output::say(barform_app::DEMO_SCORE),
        Verb::Respell(args) => respell::run(&args),
        Verb::Count(args) => craft::count::run(&args),
        Verb::Stick(args) => craft::stick::run(&args),
        Verb::Rudiments(args) => craft::rudiments::run(&args),
        Verb::Playable(args) => craft::playable::run(&args),
        Verb::Vary(args) => craft::vary::run(&args),
        Verb::Refit(args) => craft::refit::run(&args),
        Verb::Revoice(args) => craft::revoice::run(&args),
        Verb::Forms(args) => craft::forms::run(&args),
        Verb::Mend(args) => craft::mend::run(&args),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => failure.report(),
    }
}
