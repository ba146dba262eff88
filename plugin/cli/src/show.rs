//! `barform show`: a form in the terminal, to read and to count along.

use crate::args::letter;
use crate::failure::Failure;
use crate::input::Source;
use crate::output;
use crate::paint;
use barform_app::music::Letter;
use barform_app::orders::{ShowOptions, show};
use std::io::{self, IsTerminal};

/// `barform show`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  barform show mine.barform
  barform show mine.barform --bars 3-6
  barform show mine.barform --letter \"A'\"   one cell, counted from its first beat")]
pub struct ShowArgs {
    /// The score.
    #[command(flatten)]
    pub source: Source,
    /// Show one cell on its own
    #[arg(short, long, value_name = "LETTER", value_parser = letter)]
    #[arg(conflicts_with = "bars")]
    pub letter: Option<Letter>,
    /// Show some bars: 3, 3-6, 3- or -6; a pickup is bar 0
    #[arg(short, long, value_name = "BARS", value_parser = bars, allow_hyphen_values = true)]
    pub bars: Option<(u32, u32)>,
    /// Columns to use [default: those of the terminal, else 80]
    #[arg(short, long, value_name = "COLUMNS")]
    #[arg(value_parser = clap::value_parser!(u16).range(40..=400))]
    pub width: Option<u16>,
}

/// Columns where the terminal does not say: what every terminal has.
const USUAL_WIDTH: u16 = 80;

/// Shows the form or a part of it.
pub fn run(args: &ShowArgs) -> Result<(), Failure> {
    let options = ShowOptions {
        letter: args.letter.clone(),
        bars: args.bars,
        columns: usize::from(args.width.unwrap_or_else(terminal_width)),
    };
    let score = args.source.read()?.compiled()?;
    output::say(&show(&score, &options, &paint::for_stdout())?)
}

/// Columns of the terminal on standard output, or what COLUMNS says.
fn terminal_width() -> u16 {
    if io::stdout().is_terminal()
        && let Some((terminal_size::Width(width), _)) = terminal_size::terminal_size()
        && width >= 40
    {
        return width;
    }
    let said = std::env::var("COLUMNS").ok().and_then(|c| c.parse().ok());
    said.filter(|width| (40..=400).contains(width))
        .unwrap_or(USUAL_WIDTH)
}

/// Reads `3`, `3-6`, `3-` or `-6`.
fn bars(text: &str) -> Result<(u32, u32), String> {
    let wrong = || "bars are written 3, 3-6, 3- or -6".to_owned();
    let number = |t: &str| t.trim().parse::<u32>().map_err(|_| wrong());
    let (first, last) = match text.split_once('-') {
        None => (number(text)?, number(text)?),
        Some(("", "")) => return Err(wrong()),
        Some((first, "")) => (number(first)?, u32::MAX),
        Some(("", last)) => (0, number(last)?),
        Some((first, last)) => (number(first)?, number(last)?),
    };
    if first > last {
        Err(format!("bar {first} comes after bar {last}"))
    } else {
        Ok((first, last))
    }
}
