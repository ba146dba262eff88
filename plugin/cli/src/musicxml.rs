//! `barform musicxml`: the sheet for notation programs.

use crate::failure::Failure;
use crate::input::Source;
use crate::output::{self, Target};
use crate::sheet::Folding;
use barform_app::export::musicxml::Options;
use barform_app::orders::{MusicXmlOptions, musicxml};

/// `barform musicxml`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
The ending .mxl writes the packed kind. The document carries the score with it,
so that barform import brings it back as it was, as long as no note was changed.

Examples:
  barform musicxml mine.barform                        mine.musicxml
  barform musicxml mine.barform --counts -o mine.mxl   counts as lyrics, packed")]
pub struct MusicXmlArgs {
    /// The score.
    #[command(flatten)]
    pub source: Source,
    /// Where to.
    #[command(flatten)]
    pub target: Target,
    /// Say nothing about the file
    #[arg(short, long)]
    pub quiet: bool,
    /// How much of the form is written out
    #[arg(long, default_value = "repeats")]
    pub fold: Folding,
    /// Put the counts under the notes, as lyrics
    #[arg(long)]
    pub counts: bool,
    /// Leave out the sticking
    #[arg(long)]
    pub no_sticking: bool,
    /// Leave out the score that comes along
    #[arg(long)]
    pub bare: bool,
}

/// Writes the document.
pub fn run(args: &MusicXmlArgs) -> Result<(), Failure> {
    let path = args.target.place(&args.source, "musicxml")?;
    let score = args.source.read()?.compiled()?;
    let options = MusicXmlOptions {
        fold: args.fold.into(),
        with: Options {
            sticking: !args.no_sticking,
            counts: args.counts,
            carry_score: !args.bare,
        },
    };
    output::make(&path, args.target.force, args.quiet, |target| {
        musicxml(&score, &options, target)
    })
}
