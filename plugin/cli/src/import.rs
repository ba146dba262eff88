//! `barform import`: a MIDI file or a MusicXML part becomes a score.

use crate::failure::Failure;
use crate::input::is_dash;
use crate::output::{self, Target};
use barform_app::import::midi::{Channels, NamedKit};
use barform_app::import::{self, Imported, RemarkKind};
use barform_app::music::Channel;
use barform_app::session::{
    CellLength, ImportOptions, import as read_score, import_bytes, remark_head,
};
use barform_app::words::count;
use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};

/// `barform import`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
MIDI files of type 0 and 1 and MusicXML (.musicxml, .xml, .mxl) are told apart by
what is in them. What was not understood, or cannot be kept, is listed.

Examples:
  barform import groove.mid                       groove.barform, a beat a cell
  barform import groove.mid --cell 2 -o -         two beats a cell, to look at
  barform import part.mxl --cell bar              a bar a cell
  barform import pads.mid --kit mine.barform      keys as in mine.barform's kit")]
pub struct ImportArgs {
    /// The file to read; - reads standard input
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// Where to.
    #[command(flatten)]
    pub target: Target,
    /// List nothing
    #[arg(short, long)]
    pub quiet: bool,
    /// Length of a cell: beats such as 1, 2 or 3/2, or bar
    #[arg(long, value_name = "LENGTH", value_parser = cell)]
    pub cell: Option<CellLength>,
    /// Read keys as the kit of this score does, where it fits better than General MIDI
    #[arg(long, value_name = "SCORE")]
    pub kit: Vec<PathBuf>,
    /// Read this MIDI channel, 1 to 16, or all [default: the kit's]
    #[arg(long, value_name = "CHANNEL", value_parser = channels)]
    pub channel: Option<Channels>,
    /// Read this part of a MusicXML file [default: the first for percussion]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    pub part: Option<u16>,
    /// Read a file of our own as any other: find letters anew
    #[arg(long)]
    pub anew: bool,
}

fn cell(text: &str) -> Result<CellLength, String> {
    if text.eq_ignore_ascii_case("bar") {
        return Ok(CellLength::Bar);
    }
    match crate::args::beats(text) {
        Ok(beats) if beats.is_positive() => Ok(CellLength::Beats(beats)),
        _ => Err("a cell is so many beats, such as 1, 2 or 3/2, or bar".to_owned()),
    }
}

fn channels(text: &str) -> Result<Channels, String> {
    if text.eq_ignore_ascii_case("all") {
        return Ok(Channels::Any);
    }
    let number = text.parse::<u8>().ok();
    number
        .and_then(Channel::new)
        .map(Channels::Only)
        .ok_or_else(|| "a channel is 1 to 16, or all".to_owned())
}

/// Writes the score.
pub fn run(args: &ImportArgs) -> Result<(), Failure> {
    let path = match &args.target.output {
        Some(path) => path.clone(),
        None if is_dash(&args.file) => PathBuf::from("-"),
        None => {
            let name = args.file.file_name().unwrap_or_default();
            PathBuf::from(name).with_extension("barform")
        }
    };
    output::refuse_existing(&path, args.target.force)?;
    let bytes = bytes(&args.file)?;
    let kits = args.kit.iter().map(|path| {
        let file = crate::input::read(path)?;
        let kit = file.score().kit.clone();
        Ok(NamedKit {
            name: file.name,
            kit,
        })
    });
    let options = ImportOptions {
        cell: args.cell,
        kits: kits.collect::<Result<_, Failure>>()?,
        channels: args.channel,
        part: args.part.map(|part| usize::from(part) - 1),
        anew: args.anew,
    };
    if options.kits.len() > 1 && !import::is_midi(&bytes) {
        return Err(Failure::Usage(
            "a MusicXML file names its instruments; one --kit is enough".to_owned(),
        ));
    }
    let (imported, strokes) = read_score(&bytes, &options)
        .map_err(|error| Failure::Score(format!("{}: {error}", args.file.display())))?;
    let score = &imported.score;
    output::write_file(&path, score.to_toml().as_bytes(), args.target.force)?;
    if args.quiet {
        return Ok(());
    }
    let mut told = format!(
        "{}: {}, {}, {} beats a minute\n",
        path.display(),
        count(score.cells.len(), "cell"),
        count(score.sections.len(), "section"),
        score.tempo
    );
    told.extend(strokes.map(|line| line + "\n"));
    output::tell(&path, &(told + &remarks(&imported)))
}

fn bytes(path: &Path) -> Result<Vec<u8>, Failure> {
    let read = if is_dash(path) {
        import_bytes(io::stdin().lock())
    } else {
        File::open(path).and_then(import_bytes)
    };
    read.map_err(|e| Failure::file(path, "read", &e))
}

/// What was not read, by what it is about.
fn remarks(imported: &Imported) -> String {
    let mut told = String::new();
    for kind in [
        RemarkKind::NotUnderstood,
        RemarkKind::NotKept,
        RemarkKind::Assumed,
    ] {
        let some = imported.notes.iter().filter(|note| note.kind == kind);
        let lines: Vec<String> = some.map(|note| format!("  {note}\n")).collect();
        if !lines.is_empty() {
            told += &format!("{}:\n{}", remark_head(kind), lines.concat());
        }
    }
    told
}
