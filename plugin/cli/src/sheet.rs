//! `barform sheet`: the form or a letter as a drum-set part, on paper or as a
//! picture.

use crate::failure::Failure;
use crate::input::{Source, is_dash};
use crate::output::{self, Target};
use crate::progress::Progress;
use barform_app::answers;
use barform_app::music::{Letter, Tradition};
use barform_app::orders::{PageFormat, SheetOptions, sheet};
use barform_app::sheet::engrave::{Paper, Style};
use barform_app::sheet::notate::Fold;
use clap::ValueEnum;
use std::path::Path;

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
    /// As the engraver takes it.
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
        let counting = &answers::rules().counting;
        let tradition = answers::tradition(counting, Some(name))?;
        Ok(Some(tradition.clone()))
    }
}

/// Writes the sheet.
pub fn run(args: &SheetArgs) -> Result<(), Failure> {
    let usual = match args.kind {
        None | Some(Kind::Pdf) => "pdf",
        Some(Kind::Svg) => "svg",
        Some(Kind::Png) => "png",
    };
    let path = args.target.path(&args.source, usual);
    let format = format(&path, args.kind)?;
    if format != PageFormat::Svg {
        output::refuse_terminal(&path, "a sheet")?;
    }
    let score = args.source.read()?.compiled()?;
    let options = SheetOptions {
        format,
        letter: args.letter.clone(),
        fold: args.fold.into(),
        style: args.look.style(),
        tradition: args.look.tradition()?,
        dots_per_inch: args.dpi,
    };
    let mut progress = Progress::new("Drawing", args.quiet);
    output::make(&path, args.target.force, args.quiet, |target| {
        sheet(&score, &options, target, &mut progress)
    })
}

/// The kind asked for, or the one that the file's name says.
fn format(path: &Path, asked: Option<Kind>) -> Result<PageFormat, Failure> {
    let ending = path.extension().map(|e| e.to_ascii_lowercase());
    match (asked, ending.as_ref().and_then(|e| e.to_str())) {
        (Some(Kind::Pdf), _) | (None, Some("pdf")) => Ok(PageFormat::Pdf),
        (Some(Kind::Svg), _) | (None, Some("svg")) => Ok(PageFormat::Svg),
        (Some(Kind::Png), _) | (None, Some("png")) => Ok(PageFormat::Png),
        _ if is_dash(path) => Ok(PageFormat::Pdf),
        _ => Err(Failure::Usage(format!(
            "{} does not say what kind of file it is to be; end it in .pdf, .svg or .png, or say \
             --kind",
            path.display()
        ))),
    }
}
