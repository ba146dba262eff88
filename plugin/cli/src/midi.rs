//! `barform midi`: the form as a Standard MIDI File.

use crate::args::Playing;
use crate::failure::Failure;
use crate::input::Source;
use crate::output::{self, Target};
use barform_app::orders::{MidiOptions, midi};

/// `barform midi`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Bar lines of the file are the form's; a pickup is the end of the file's first bar.

Examples:
  barform midi mine.barform
  barform midi mine.barform --count-in 1 --passes 4 -o four-times.mid
  barform midi - -o - < mine.barform > mine.mid")]
pub struct MidiArgs {
    /// The score.
    #[command(flatten)]
    pub source: Source,
    /// Where to.
    #[command(flatten)]
    pub target: Target,
    /// Say nothing about the file
    #[arg(short, long)]
    pub quiet: bool,
    /// What is played.
    #[command(flatten)]
    pub playing: Playing,
    /// Length of every note in milliseconds
    #[arg(long, default_value_t = MidiOptions::default().gate_ms, value_name = "MS")]
    pub gate: f64,
}

/// Writes the file.
pub fn run(args: &MidiArgs) -> Result<(), Failure> {
    let path = args.target.place(&args.source, "mid")?;
    output::refuse_terminal(&path, "a MIDI file")?;
    let score = args.source.read()?.compiled()?;
    let options = MidiOptions {
        gate_ms: args.gate,
        ..args.playing.options()
    };
    output::make(&path, args.target.force, args.quiet, |target| {
        midi(&score, &options, target)
    })
}
