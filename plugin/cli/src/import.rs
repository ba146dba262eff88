//! `barform import`: a MIDI file or a MusicXML part becomes a score.

use crate::failure::Failure;
use crate::input::is_dash;
use crate::output::{self, Target};
use barform_app::import::midi::{self, Channels};
use barform_app::import::musicxml::{self, Cut};
use barform_app::import::{self, Imported, RemarkKind};
use barform_app::music::{Beats, Channel};
use barform_app::score::Score;
use barform_app::words;
use std::fs::File;
use std::io::{self, Read, Write};
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
    pub cell: Option<Cell>,
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

/// Length of a cell.
#[derive(Debug, Clone, Copy)]
pub enum Cell {
    /// So many beats.
    Beats(Beats),
    /// A bar.
    Bar,
}

fn cell(text: &str) -> Result<Cell, String> {
    if text.eq_ignore_ascii_case("bar") {
        return Ok(Cell::Bar);
    }
    match crate::args::beats(text) {
        Ok(beats) if beats.is_positive() => Ok(Cell::Beats(beats)),
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
        Ok((file.name.clone(), file.score().clone()))
    });
    let kits: Vec<(String, Score)> = kits.collect::<Result<_, Failure>>()?;
    let mut told = String::new();
    let imported = if import::is_midi(&bytes) {
        from_midi(args, &bytes, kits, &mut told)?
    } else {
        from_musicxml(args, &bytes, kits)?
    };
    let text = imported.score.to_toml();
    output::write_file(&path, text.as_bytes(), args.target.force)?;
    if args.quiet {
        return Ok(());
    }
    let score = &imported.score;
    let cells = words::count(score.cells.len(), "cell");
    let sections = words::count(score.sections.len(), "section");
    let mut head = format!(
        "{}: {cells}, {sections}, {} beats a minute\n",
        path.display(),
        score.tempo
    );
    head += &told;
    head += &remarks(&imported);
    if is_dash(&path) {
        let _ = write!(io::stderr(), "{head}");
        Ok(())
    } else {
        output::say(&head)
    }
}

/// A byte more than the larger reader takes, so that it can say so.
fn bytes(path: &Path) -> Result<Vec<u8>, Failure> {
    let most = import::MAX_BYTES + 1;
    let mut bytes = Vec::new();
    let read = if is_dash(path) {
        io::stdin().lock().take(most).read_to_end(&mut bytes)
    } else {
        File::open(path).and_then(|file| file.take(most).read_to_end(&mut bytes))
    };
    read.map_err(|e| Failure::file(path, "read", &e))?;
    Ok(bytes)
}

fn from_midi(
    args: &ImportArgs,
    bytes: &[u8],
    kits: Vec<(String, Score)>,
    told: &mut String,
) -> Result<Imported, Failure> {
    let mut options = midi::Options {
        channels: args.channel.unwrap_or_default(),
        own_letters: !args.anew,
        ..midi::Options::default()
    };
    let named = kits.into_iter().map(|(name, score)| midi::NamedKit {
        name,
        kit: score.kit,
    });
    options.kits.extend(named);
    options.cell = match args.cell {
        None => None,
        Some(Cell::Beats(beats)) => Some(beats),
        // Cells begin anew at every bar line.
        Some(Cell::Bar) => Some(Beats::whole(midi::LONGEST_CELL)),
    };
    let (imported, report) =
        midi::read_with_report(bytes, &options).map_err(refused(&args.file))?;
    let kit = &options.kits[report.kit].name;
    *told += &format!(
        "{} read with the key map of {kit}; the largest distance from a slot is {:.2} ms\n",
        words::count(report.strokes, "stroke"),
        report.largest_error_us as f64 / 1000.0,
    );
    Ok(imported)
}

fn from_musicxml(
    args: &ImportArgs,
    bytes: &[u8],
    mut kits: Vec<(String, Score)>,
) -> Result<Imported, Failure> {
    let mut options = musicxml::Options {
        part: args.part.map(|part| usize::from(part) - 1),
        take_carried: !args.anew,
        ..musicxml::Options::default()
    };
    if kits.len() > 1 {
        return Err(Failure::Usage(
            "a MusicXML file names its instruments; one --kit is enough".to_owned(),
        ));
    }
    if let Some((_, score)) = kits.pop() {
        options.kit = score.kit;
    }
    options.cut = match args.cell {
        None => Cut::Auto,
        Some(Cell::Bar) => Cut::Bars,
        Some(Cell::Beats(beats)) => Cut::Beats(beats),
    };
    musicxml::read(bytes, &options).map_err(refused(&args.file))
}

fn refused<E: std::fmt::Display>(file: &Path) -> impl Fn(E) -> Failure {
    move |error| Failure::Score(format!("{}: {error}", file.display()))
}

/// What was not read, by what it is about.
fn remarks(imported: &Imported) -> String {
    let mut told = String::new();
    for (kind, head) in [
        (RemarkKind::NotUnderstood, "Not understood:"),
        (RemarkKind::NotKept, "Not kept:"),
        (RemarkKind::Assumed, "Assumed:"),
    ] {
        let mut some = imported
            .notes
            .iter()
            .filter(|note| note.kind == kind)
            .peekable();
        if some.peek().is_some() {
            told += head;
            told.push('\n');
        }
        for note in some {
            told += &format!("  {note}\n");
        }
    }
    told
}
