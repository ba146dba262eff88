//! `barform musicxml`: the sheet for notation programs.

use crate::failure::Failure;
use crate::input::{Source, is_dash};
use crate::output::{self, Target};
use crate::sheet::Folding;
use crate::text;
use barform_app::export::musicxml::{Options, lost, write, write_mxl};
use barform_app::sheet::notate;
use std::io::{self, Write};
use std::path::PathBuf;

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
    let path = match &args.target.output {
        Some(path) => path.clone(),
        None if args.source.is_stdin() => PathBuf::from("-"),
        None => args.source.beside("musicxml"),
    };
    let packed = path
        .extension()
        .is_some_and(|ending| ending.eq_ignore_ascii_case("mxl"));
    output::refuse_existing(&path, args.target.force)?;
    let piece = args.source.read()?;
    let timeline = piece.timeline()?;
    let notate = notate::Options {
        fold: args.fold.into(),
        ..notate::Options::default()
    };
    let written = notate::written(&piece.score, &timeline, &notate).map_err(Failure::export)?;
    let options = Options {
        sticking: !args.no_sticking,
        counts: args.counts,
        carry_score: !args.bare,
    };
    let bytes = if packed {
        write_mxl(&written, &timeline, &piece.score, &options)
    } else {
        write(&written, &timeline, &piece.score, &options).map(String::into_bytes)
    };
    let bytes = bytes.map_err(Failure::export)?;
    output::write_file(&path, &bytes, args.target.force)?;
    if args.quiet {
        return Ok(());
    }
    let bars = text::count(written.bars.len(), "bar");
    let mut told = format!("{}: {bars}, MusicXML 4.0\n", path.display());
    for what in lost(&written, &piece.score, &options) {
        told += &format!("Not in the file: {what}\n");
    }
    if is_dash(&path) {
        let _ = write!(io::stderr(), "{told}");
        Ok(())
    } else {
        output::say(&told)
    }
}
