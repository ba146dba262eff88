//! `barform show`: a form in the terminal, to read and to count along.
//!
//! Every bar is a strip of three lines under its letters: counts, sticking,
//! voices. Columns are in proportion to time, so letters are as wide as they
//! last.

mod layout;
mod paint;
mod strip;

use crate::args::ShowArgs;
use crate::failure::Failure;
use crate::input::Piece;
use crate::{output, text};
use barform_app::music::Beats;
use barform_app::score::{Ostinato, sticking_text};
use barform_app::timeline::Timeline;
use paint::Paint;
use std::io::{self, IsTerminal};
use strip::Strip;

/// Columns where the terminal does not say: what every terminal has.
const USUAL_WIDTH: u16 = 80;

/// Shows the form or a part of it.
pub fn run(args: &ShowArgs) -> Result<(), Failure> {
    let piece = args.source.read()?;
    let timeline = piece.timeline()?;
    let paint = Paint::for_stdout();
    let width = usize::from(args.width.unwrap_or_else(terminal_width));
    let exact = |e: barform_app::music::BeatsError| Failure::Score(e.to_string());

    let mut shown = String::new();
    let strips = match &args.letter {
        Some(letter) => {
            let Some(cell) = piece.score.cell(letter) else {
                let letters: Vec<&str> = timeline.letters.iter().map(|l| l.as_str()).collect();
                return Err(Failure::Usage(format!(
                    "no cell {letter} in {}; its letters are {}",
                    piece.name,
                    letters.join(", ")
                )));
            };
            vec![Strip::of_cell(&cell, piece.score.meter).map_err(exact)?]
        }
        None => {
            shown += &wrapped(&head(&piece, &timeline), width);
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
fn head(piece: &Piece, timeline: &Timeline) -> String {
    let mut head = String::new();
    if !timeline.title.is_empty() {
        head += &format!("{}\n", timeline.title);
    }
    head += &format!("{}, {}\n", piece.score.meter, text::extent(timeline));
    for ostinato in &piece.score.ostinatos {
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
