//! `barform handout`: the sheet and a practice page for each letter, as one
//! PDF.

use crate::craft::asked;
use crate::failure::Failure;
use crate::input::{Source, is_dash};
use crate::output::{self, Target};
use crate::progress::Progress;
use crate::sheet::{Folding, Look};
use barform_app::orders::{HandoutOptions, handout};
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
    // So that `mine.pdf` stays the sheet's.
    let sheet = args.source.beside("pdf");
    let stem = sheet.file_stem().unwrap_or_default().to_string_lossy();
    let usual = sheet.with_file_name(format!("{stem}-handout.pdf"));
    let path = args.target.place_or(&args.source, usual)?;
    let ending = path.extension().map(|e| e.to_ascii_lowercase());
    if !is_dash(&path) && ending.is_none_or(|e| e != "pdf") {
        return Err(Failure::Usage(format!(
            "{} does not end in .pdf; a hand-out is a PDF file",
            path.display()
        )));
    }
    output::refuse_terminal(&path, "a hand-out")?;
    let score = args.source.read()?.compiled()?;
    let options = HandoutOptions {
        style: args.look.style(),
        fold: args.fold.into(),
        tradition: args.look.tradition()?,
        rules: asked::rules(args.rules.as_ref())?,
        levels: args.levels.clone(),
        setup: args.setup.clone(),
        ..HandoutOptions::default()
    };
    let mut progress = Progress::new("Drawing", args.quiet);
    output::make(&path, args.target.force, args.quiet, |target| {
        handout(&score, &options, target, &mut progress)
    })
}
