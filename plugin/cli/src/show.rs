//! `barform show`: a form in the terminal, to read and to count along.
//!
//! Every bar is a strip of three lines under its letters: counts, sticking,
//! voices. Columns are in proportion to time, so letters are as wide as they
//! last.

mod layout;
mod paint;
mod strip;

use crate::args::letter;
use crate::failure::Failure;
use crate::input::{ScoreFile, Source};
use crate::output;
use barform_app::answers;
use barform_app::music::{Beats, Letter};
use barform_app::score::{Ostinato, sticking_text};
use barform_app::timeline::Timeline;
use barform_app::words;
use paint::Paint;
use std::io::{self, IsTerminal};
use strip::Strip;

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
    let file = args.source.read()?;
    let timeline = file.compiled()?.timeline;
    let paint = Paint::for_stdout();
    let width = usize::from(args.width.unwrap_or_else(terminal_width));
    let exact = |e: barform_app::music::BeatsError| Failure::Score(e.to_string());

    let mut shown = String::new();
    let strips = match &args.letter {
        Some(letter) => {
            let cells = answers::cells(&file.document, Some(letter))?;
            vec![Strip::of_cell(&cells[0], file.score().meter).map_err(exact)?]
        }
        None => {
            shown += &wrapped(&head(&file, &timeline), width);
            let strips = Strip::of_bars(&timeline).map_err(exact)?;
            let (first, last) = args.bars.unwrap_or((0, u32::MAX));
            let kept: Vec<Strip> = strips
                .into_iter()
                .filter(|s| (first..=last).contains(&s.number))
                .collect();
            if kept.is_empty() && args.bars.is_some() {
                let last = timeline.bars.last().map_or(0, |bar| bar.number);
                return Err(Failure::Usage(format!(
                    "no such bar; the last one is {last}"
                )));
            }
            kept
        }
    };
    shown += &layout::draw(&strips, width, &paint);
    output::say(&shown)
}

/// Title, length, ostinatos.
fn head(file: &ScoreFile, timeline: &Timeline) -> String {
    let mut head = String::new();
    if !timeline.title.is_empty() {
        head += &format!("{}\n", timeline.title);
    }
    head += &format!("{}, {}\n", file.score().meter, words::extent(timeline));
    for ostinato in &file.score().ostinatos {
        head += &ostinato_line(ostinato);
    }
    head
}

fn ostinato_line(ostinato: &Ostinato) -> String {
    let cycle = ostinato.grid.length().unwrap_or(Beats::ZERO);
    let beats = if cycle == Beats::ONE { "beat" } else { "beats" };
    let sticking = sticking_text(&ostinato.sticking, Some(&ostinato.grid));
    let mut voices: Vec<&str> = ostinato
        .slots()
        .iter()
        .flatten()
        .map(|stroke| stroke.voice.name())
        .collect();
    voices.dedup();
    format!(
        "Ostinato {} ({}) every {cycle} {beats}: {sticking}\n",
        ostinato.name,
        voices.join(" ")
    )
}

/// Breaks long lines between words, the rest indented.
fn wrapped(text: &str, width: usize) -> String {
    let mut out = String::new();
    for line in text.lines() {
        let mut column = 0;
        for word in line.split(' ') {
            let chars = word.chars().count();
            if column > 0 && column + 1 + chars > width {
                out.push_str("\n  ");
                column = 2;
            } else if column > 0 {
                out.push(' ');
                column += 1;
            }
            out.push_str(word);
            column += chars;
        }
        out.truncate(out.trim_end().len());
        out.push('\n');
    }
    out
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
