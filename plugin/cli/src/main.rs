//! The `barform` command: arguments in, what `barform-app` answers or makes out.
//!
//! A verb is a file of its own, with its arguments and what it prints, and a line
//! in [`Verb`] and in [`run`]; those that ask the craft have theirs in [`craft`].
//! Messages go to standard error; standard output carries what was asked for and
//! nothing else.

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
mod paint;
mod practice;
mod progress;
mod respell;
mod sheet;
mod show;
mod take;
mod wav;

use barform_app::export::audio::FileKind;
use clap::{Parser, Subcommand};
use std::process::ExitCode;

const STATUS: &str = "\
Exit status:
  0  done
  1  a score has an error, or cannot be played as asked
  2  the command line has an error
  3  a file cannot be read or written

NO_COLOR turns colours off.";

const EXAMPLES: &str = "\
Examples:
  barform demo > mine.barform            start from the demo score
  barform check mine.barform             find what is wrong
  barform show mine.barform              read it, counted bar by bar
  barform midi mine.barform              write mine.mid
  barform wav mine.barform --click --count-in 2 --passes 4
                                         a practice track: count-in, four times

Start playback low: drums and clicks in headphones can damage hearing.";

/// Lettered drum forms: check, show, export
#[derive(Debug, Parser)]
#[command(name = "barform", version, after_help = format!("{EXAMPLES}\n\n{STATUS}"))]
#[command(max_term_width = 100)]
struct Args {
    /// What to do.
    #[command(subcommand)]
    verb: Verb,
}

/// What the command can do.
#[derive(Debug, Subcommand)]
enum Verb {
    /// Check scores for errors, and say where they are
    Check(check::CheckArgs),
    /// Show a form in the terminal: letters, counts, sticking and voices
    Show(show::ShowArgs),
    /// Write a Standard MIDI File
    Midi(midi::MidiArgs),
    /// Write the form or a letter as a WAV file, or as stems
    Wav(wav::AudioArgs),
    /// The same as FLAC: lossless, about half the size
    Flac(wav::AudioArgs),
    /// Print the form or a letter as a sheet: PDF, SVG or PNG
    Sheet(sheet::SheetArgs),
    /// Print the form and a practice page for each letter, for a student: PDF
    Handout(handout::HandoutArgs),
    /// Write the sheet as MusicXML, for notation programs
    Musicxml(musicxml::MusicXmlArgs),
    /// Read a MIDI file or a MusicXML part into a score
    Import(import::ImportArgs),
    /// Read what somebody played into a lettered form
    Take(take::TakeArgs),
    /// Make practice tracks, and say how a take was played
    Practice(Box<practice::PracticeArgs>),
    /// Print the demo score, to start from
    Demo,
    /// Print a score in its regular spelling
    Respell(respell::RespellArgs),
    /// What a drummer would say about a score
    #[command(flatten)]
    Craft(craft::CraftVerb),
}

fn main() -> ExitCode {
    // Clap leaves with status 2 where the arguments make no sense.
    match run(&Args::parse().verb) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => failure.report(),
    }
}

fn run(verb: &Verb) -> Result<(), failure::Failure> {
    match verb {
        Verb::Check(args) => check::run(args),
        Verb::Show(args) => show::run(args),
        Verb::Midi(args) => midi::run(args),
        Verb::Wav(args) => wav::run(args, FileKind::Wav),
        Verb::Flac(args) => wav::run(args, FileKind::Flac),
        Verb::Sheet(args) => sheet::run(args),
        Verb::Handout(args) => handout::run(args),
        Verb::Musicxml(args) => musicxml::run(args),
        Verb::Import(args) => import::run(args),
        Verb::Take(args) => take::run(args),
        Verb::Practice(args) => practice::run(args),
        Verb::Demo => output::say(barform_app::DEMO_SCORE),
        Verb::Respell(args) => respell::run(args),
        Verb::Craft(verb) => craft::run(verb),
    }
}
