//! `barform sheet`: the form or a letter as a drum-set part, on paper or as a
//! picture.

use crate::failure::Failure;
use crate::input::{Source, is_dash};
use crate::output::{self, Target};
use crate::progress::Progress;
use crate::text;
use barform_app::craft::counting::Counting;
use barform_app::music::{Letter, Tradition};
use barform_app::score::Score;
use barform_app::sheet::engrave::{Paper, Style, engrave};
use barform_app::sheet::notate::{Fold, Options, cell, written};
use barform_app::sheet::{Drawing, Written, ink};
use clap::ValueEnum;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// `barform sheet`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
The ending of the file names the kind: .pdf (all pages), .svg or .png (one file
for each page: mine-1.png, mine-2.png ...).

Examples:
  barform sheet mine.barform                                mine.pdf, on A4
  barform sheet mine.barform --fold letters --large         each letter once, large
  barform sheet mine.barform --paper letter --landscape
  barform sheet mine.barform --no-counts -o mine.svg
  barform sheet mine.barform --letter A -o a.png --dpi 300  one letter")]
pub struct SheetArgs {
    /// The score.
    #[command(flatten)]
    pub source: Source,
    /// Where to.
    #[command(flatten)]
    pub target: Target,
    /// Say nothing about the file
    #[arg(short, long)]
    pub quiet: bool,
    /// Print one letter instead of the form
    #[arg(long, value_name = "LETTER", value_parser = crate::args::letter, conflicts_with = "fold")]
    pub letter: Option<Letter>,
    /// How much of the form is written out
    #[arg(long, default_value = "repeats")]
    pub fold: Folding,
    /// How it looks.
    #[command(flatten)]
    pub look: Look,
    /// Kind of file, where its name does not say
    #[arg(long)]
    pub kind: Option<Kind>,
    /// Dots per inch of a picture
    #[arg(long, default_value_t = 150.0, value_name = "DOTS")]
    pub dpi: f32,
}

/// How a sheet looks.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "How it looks")]
pub struct Look {
    /// The paper: a4, letter, or width and height in millimetres such as 148x210
    #[arg(long, default_value = "a4", value_name = "PAPER", value_parser = paper)]
    pub paper: Paper,
    /// Turn the paper on its side
    #[arg(long)]
    pub landscape: bool,
    /// Large print: half as large again
    #[arg(long)]
    pub large: bool,
    /// Height of the staff in millimetres [default: 7, large 10.5]
    #[arg(long, value_name = "MM", conflicts_with = "large")]
    pub staff: Option<f32>,
    /// Leave out the counts
    #[arg(long)]
    pub no_counts: bool,
    /// Leave out the sticking
    #[arg(long)]
    pub no_sticking: bool,
    /// Leave out which head is which voice
    #[arg(long)]
    pub no_key: bool,
    /// The tradition to count in; barform count --traditions lists them
    #[arg(long, value_name = "NAME")]
    pub tradition: Option<String>,
}

/// How much of a form is written out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Folding {
    /// Every bar
    Full,
    /// Repeated bars once, between repeat signs
    Repeats,
    /// Each letter once, the form as letters above
    Letters,
}

impl From<Folding> for Fold {
    fn from(folding: Folding) -> Fold {
        match folding {
            Folding::Full => Fold::Full,
            Folding::Repeats => Fold::Repeats,
            Folding::Letters => Fold::Letters,
        }
    }
}

/// Kinds of file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Kind {
    /// Vector, all pages
    Pdf,
    /// Vector, one page a file
    Svg,
    /// A picture, one page a file
    Png,
}

/// Reads `a4`, `letter` or `148x210`.
fn paper(text: &str) -> Result<Paper, String> {
    match text.to_ascii_lowercase().as_str() {
        "a4" => return Ok(Paper::A4),
        "letter" => return Ok(Paper::LETTER),
        _ => {}
    }
    let sides = text.split_once(['x', '×']).and_then(|(width, height)| {
        Some(Paper {
            width_mm: width.trim().parse().ok()?,
            height_mm: height.trim().parse().ok()?,
        })
    });
    sides.ok_or_else(|| "paper is a4, letter, or millimetres such as 148x210".to_owned())
}

impl Look {
    /// As the core takes it.
    pub fn style(&self) -> Style {
        let style = Style {
            paper: self.paper,
            landscape: self.landscape,
            show_counts: !self.no_counts,
            show_sticking: !self.no_sticking,
            show_key: !self.no_key,
            ..Style::default()
        };
        match self.staff {
            Some(staff_height_mm) => Style {
                staff_height_mm,
                ..style
            },
            None if self.large => style.large_print(),
            None => style,
        }
    }

    /// The tradition asked for.
    pub fn tradition(&self) -> Result<Option<Tradition>, Failure> {
        let Some(name) = &self.tradition else {
            return Ok(None);
        };
        let counting = Counting::builtin();
        match counting.tradition(name) {
            Some(tradition) => Ok(Some(tradition.clone())),
            None => {
                let known: Vec<&str> = counting.traditions().map(Tradition::name).collect();
                Err(Failure::Usage(format!(
                    "no tradition '{name}'; known are {}",
                    known.join(", ")
                )))
            }
        }
    }
}

/// Writes the sheet.
pub fn run(args: &SheetArgs) -> Result<(), Failure> {
    let path = match &args.target.output {
        Some(path) => path.clone(),
        None if args.source.is_stdin() => PathBuf::from("-"),
        None => args.source.beside(match args.kind {
            None | Some(Kind::Pdf) => "pdf",
            Some(Kind::Svg) => "svg",
            Some(Kind::Png) => "png",
        }),
    };
    let kind = kind(&path, args.kind)?;
    let to_stdout = is_dash(&path);
    if to_stdout && kind != Kind::Svg {
        output::refuse_terminal("a sheet")?;
    }
    let piece = args.source.read()?;
    let written = notate(args, &piece.score)?;
    let style = args.look.style();
    let drawing = engrave(&written, &piece.score.kit, &style).map_err(Failure::export)?;
    let files = match kind {
        Kind::Pdf => vec![path],
        _ => pages(&path, drawing.pages.len())?,
    };
    for file in &files {
        output::refuse_existing(file, args.target.force)?;
    }
    let mut progress = Progress::new("Drawing", args.quiet);
    if kind == Kind::Pdf {
        let mut done = |page: usize, all: usize| progress.at(page as f64 / all.max(1) as f64);
        let bytes = ink::pdf_with_progress(&drawing, &mut done).map_err(Failure::export)?;
        output::write_file(&files[0], &bytes, args.target.force)?;
    } else {
        for (page, file) in files.iter().enumerate() {
            progress.at(page as f64 / files.len() as f64);
            let bytes = match kind {
                Kind::Png => ink::png(&drawing, page, args.dpi).map_err(Failure::export)?,
                _ => ink::svg(&drawing, page).into_bytes(),
            };
            output::write_file(file, &bytes, args.target.force)?;
        }
    }
    drop(progress);
    if args.quiet {
        return Ok(());
    }
    let told = tell(&files, &drawing, &written);
    if to_stdout {
        let _ = write!(io::stderr(), "{told}");
        Ok(())
    } else {
        output::say(&told)
    }
}

/// What is to be printed.
fn notate(args: &SheetArgs, score: &Score) -> Result<Written, Failure> {
    let options = Options {
        fold: args.fold.into(),
        tradition: args.look.tradition()?,
        ..Options::default()
    };
    let Some(letter) = &args.letter else {
        let timeline = barform_app::timeline::Timeline::compile(score)?;
        return written(score, &timeline, &options).map_err(Failure::export);
    };
    let cells = score.cells_resolved()?;
    let Some(found) = cells.iter().find(|cell| cell.letter == *letter) else {
        let known: Vec<&str> = cells.iter().map(|cell| cell.letter.as_str()).collect();
        return Err(Failure::Usage(format!(
            "no cell {letter}; there are {}",
            known.join(", ")
        )));
    };
    let mut alone = cell(found, score.meter, &options).map_err(Failure::export)?;
    alone.title = if score.title.is_empty() {
        format!("Letter {letter}")
    } else {
        format!("{}: letter {letter}", score.title)
    };
    alone.tempo = score.tempo;
    Ok(alone)
}

/// The kind asked for, or the one that the file's name says.
fn kind(path: &Path, asked: Option<Kind>) -> Result<Kind, Failure> {
    if let Some(kind) = asked {
        return Ok(kind);
    }
    if is_dash(path) {
        return Ok(Kind::Pdf);
    }
    let ending = path.extension().map(|e| e.to_ascii_lowercase());
    match ending.as_ref().and_then(|e| e.to_str()) {
        Some("pdf") => Ok(Kind::Pdf),
        Some("svg") => Ok(Kind::Svg),
        Some("png") => Ok(Kind::Png),
        _ => Err(Failure::Usage(format!(
            "{} does not say what kind of file it is to be; end it in .pdf, .svg or .png, or say \
             --kind",
            path.display()
        ))),
    }
}

/// A file for each page.
fn pages(path: &Path, count: usize) -> Result<Vec<PathBuf>, Failure> {
    if count == 1 {
        return Ok(vec![path.to_owned()]);
    }
    if is_dash(path) {
        return Err(Failure::Usage(format!(
            "{count} pages are {count} files; name them with --output, or take --kind pdf"
        )));
    }
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let ending = path.extension().unwrap_or_default().to_string_lossy();
    let digits = count.to_string().len();
    let name = |page| match ending.is_empty() {
        true => format!("{stem}-{page:0digits$}"),
        false => format!("{stem}-{page:0digits$}.{ending}"),
    };
    Ok((1..=count)
        .map(|page| path.with_file_name(name(page)))
        .collect())
}

fn tell(files: &[PathBuf], drawing: &Drawing, written: &Written) -> String {
    let name = match files {
        [one] => one.display().to_string(),
        [first, .., last] => format!("{} to {}", first.display(), last.display()),
        [] => String::new(),
    };
    format!(
        "{name}: {}, {} in {}\n",
        text::count(drawing.pages.len(), "page"),
        text::count(written.bars.len(), "bar"),
        text::count(drawing.systems.len(), "system"),
    )
}
