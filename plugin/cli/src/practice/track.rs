//! `barform practice track`: the plan as a track.

use super::options::{OrnamentArgs, PlanArgs};
use crate::args::SoundArgs;
use crate::failure::Failure;
use crate::input::Source;
use crate::output::{self, Target};
use crate::progress::Progress;
use barform_app::export::audio::FileKind;
use barform_app::orders::{PracticeOptions, practice_track};
use std::path::PathBuf;

/// `barform practice track`
#[derive(Debug, clap::Args)]
#[command(after_help = format!("\
The end of the file's name says what it becomes: .wav, .flac or .mid. A MIDI file
holds the same track with a tempo map and markers.

Examples:
  barform practice track mine.barform --tempo '60 to 100 by 5' --each '2 passes'
  barform practice track mine.barform --play 'join A B' --join-rate 80% -o join.mid
  barform practice track mine.barform --gaps '1 of 4' --grow 1 -o gaps.flac
  barform practice track mine.barform --trade 'barform 4 bars, player 4 bars'
  barform practice track mine.barform --plan week3.plan

{}", super::CARE))]
pub struct TrackArgs {
    /// The score.
    #[command(flatten)]
    pub source: Source,
    /// Where to.
    #[command(flatten)]
    pub target: Target,
    /// Say nothing about the file, and show no progress
    #[arg(short, long)]
    pub quiet: bool,
    /// The plan.
    #[command(flatten)]
    pub plan: PlanArgs,
    /// Ornaments.
    #[command(flatten)]
    pub ornaments: OrnamentArgs,
    /// Folder of the history, which orders joins [default: your data folder]
    #[arg(long, value_name = "FOLDER")]
    pub history: Option<PathBuf>,
    /// Loudness, rate, bits, tail.
    #[command(flatten)]
    pub sound: SoundArgs,
}

/// Writes the track.
pub fn run(args: &TrackArgs) -> Result<(), Failure> {
    let stem = args.source.beside("");
    let stem = stem.file_stem().unwrap_or_default().to_string_lossy();
    let usual = PathBuf::from(format!("{stem}-practice.wav"));
    let path = args.target.place_or(&args.source, usual)?;
    output::refuse_terminal(&path, "audio")?;
    let file = args.source.read()?;
    let history = super::today::history(args.history.as_deref());
    let schedule = args.plan.schedule(&file, history.as_ref())?;
    let options = PracticeOptions {
        ornaments: args.ornaments.times(),
        format: args.sound.format(FileKind::Wav),
        level: args.sound.level(),
        tail_s: args.sound.tail,
    };
    let mut progress = Progress::new("rendering", args.quiet);
    output::make(&path, args.target.force, args.quiet, |target| {
        practice_track(&schedule, &options, target, &mut progress)
    })
}
