//! `barform handout`: the sheet and a practice page for each letter, as one
//! PDF.

use crate::craft::desk;
use crate::failure::Failure;
use crate::input::{Source, is_dash};
use crate::output::{self, Target};
use crate::progress::Progress;
use crate::sheet::{Folding, Look};
use crate::text;
use barform_app::sheet::handout::{HandoutError, Options, handout};
use barform_app::sheet::{Drawing, ink};
use std::io::{self, Write};
use std::path::PathBuf;

/// `barform handout`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Each letter's page has its music in large print, the rudiments in it, top tempos
and what limits them, how to practise it, and tempo steps with room to write. Top
tempos are limits, not targets: warm up, raise the tempo in small steps, stop at
pain or numbness, and ask a teacher or a physician.

Examples:
  barform handout mine.barform                        mine-handout.pdf, on A4
  barform handout mine.barform --level beginner --level intermediate
  barform handout mine.barform --paper letter --fold letters -o lesson.pdf")]
pub struct HandoutArgs {
    /// The score.
    #[command(flatten)]
    pub source: Source,
    /// Where to.
    #[command(flatten)]
    pub target: Target,
    /// Say nothing about the file
    #[arg(short, long)]
    pub quiet: bool,
    /// How much of the form the sheet writes out
    #[arg(long, default_value = "repeats")]
    pub fold: Folding,
    /// Tell this level only: beginner, intermediate, advanced, professional (may be
    /// repeated); the goal of the tempo steps is within it
    #[arg(long = "level", value_name = "LEVEL")]
    pub levels: Vec<String>,
    /// Set-up of the kit: right-handed, left-handed, open-handed, left-open-handed
    #[arg(long, default_value = "right-handed", value_name = "SET-UP")]
    pub setup: String,
    /// A settings file whose rules replace the built-in ones where it states any
    #[arg(long, value_name = "FILE")]
    pub rules: Option<PathBuf>,
    /// How it looks.
    #[command(flatten)]
    pub look: Look,
}

/// Writes the hand-out.
pub fn run(args: &HandoutArgs) -> Result<(), Failure> {
    let path = match &args.target.output {
        Some(path) => path.clone(),
        None if args.source.is_stdin() => PathBuf::from("-"),
        None => beside(&args.source),
    };
    let ending = path.extension().map(|e| e.to_ascii_lowercase());
    if !is_dash(&path) && ending.is_none_or(|e| e != "pdf") {
        return Err(Failure::Usage(format!(
            "{} does not end in .pdf; a hand-out is a PDF file",
            path.display()
        )));
    }
    let to_stdout = is_dash(&path);
    if to_stdout {
        output::refuse_terminal("a hand-out")?;
    }
    output::refuse_existing(&path, args.target.force)?;
    let piece = args.source.read()?;
    let timeline = piece.timeline()?;
    let options = Options {
        style: args.look.style(),
        fold: args.fold.into(),
        tradition: args.look.tradition()?,
        rules: desk::rules(args.rules.as_ref())?,
        levels: args.levels.clone(),
        setup: args.setup.clone(),
        ..Options::default()
    };
    let drawing = handout(&piece.score, &timeline, &options).map_err(failure)?;
    let mut progress = Progress::new("Drawing", args.quiet);
    let mut done = |page: usize, all: usize| progress.at(page as f64 / all.max(1) as f64);
    let bytes = ink::pdf_with_progress(&drawing, &mut done).map_err(Failure::export)?;
    output::write_file(&path, &bytes, args.target.force)?;
    drop(progress);
    if args.quiet {
        return Ok(());
    }
    let told = tell(
        &path.display().to_string(),
        &drawing,
        piece.score.cells.len(),
    );
    if to_stdout {
        let _ = write!(io::stderr(), "{told}");
        Ok(())
    } else {
        output::say(&told)
    }
}

/// `mine-handout.pdf`, so that `mine.pdf` stays the sheet's.
fn beside(source: &Source) -> PathBuf {
    let sheet = source.beside("pdf");
    let stem = sheet.file_stem().unwrap_or_default().to_string_lossy();
    sheet.with_file_name(format!("{stem}-handout.pdf"))
}

fn failure(error: HandoutError) -> Failure {
    match error {
        HandoutError::Score(error) => error.into(),
        HandoutError::Level { .. } => Failure::Usage(error.to_string()),
        HandoutError::Setup(error) => Failure::Usage(error.problem),
        other => Failure::export(other),
    }
}

fn tell(name: &str, drawing: &Drawing, letters: usize) -> String {
    format!(
        "{name}: {}, {}\n",
        text::count(drawing.pages.len(), "page"),
        text::count(letters, "letter"),
    )
}
