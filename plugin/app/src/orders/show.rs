//! The form as text, to read and to count along.
//!
//! Every bar is a strip of three lines under its letters: counts, sticking,
//! voices. Columns are in proportion to time, so letters are as wide as they
//! last.

mod layout;
mod strip;

use super::OrderError;
use crate::answers::{AnswerError, cells};
use crate::music::{Beats, Letter};
use crate::score::{Ostinato, sticking_text};
use crate::session::CompiledScore;
use crate::words::{beats, extent};
use strip::Strip;

/// Paints text, the second, in the colour of a letter, the first.
pub type Paint<'p> = dyn Fn(&str, &str) -> String + 'p;

/// What is shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShowOptions {
    /// One cell, counted from its first beat, in place of the form.
    pub letter: Option<Letter>,
    /// First and last bar; all if none.
    pub bars: Option<(u32, u32)>,
    /// Characters in a line, 40 or more.
    pub columns: usize,
}

/// Shows the form or a part of it.
///
/// # Errors
/// See [`OrderError`].
pub fn show(
    score: &CompiledScore,
    options: &ShowOptions,
    paint: &Paint,
) -> Result<String, OrderError> {
    let (columns, exact) = (options.columns, |e| OrderError::from(AnswerError::Beats(e)));
    if let Some(letter) = &options.letter {
        let cells = cells(&score.document, Some(letter))?;
        let strip = Strip::of_cell(&cells[0], score.score().meter).map_err(exact)?;
        return Ok(layout::draw(&[strip], columns, paint));
    }
    let mut strips = Strip::of_bars(&score.timeline).map_err(exact)?;
    if let Some((first, last)) = options.bars {
        strips.retain(|strip| (first..=last).contains(&strip.number));
        if strips.is_empty() {
            let last = score.timeline.bars.last().map_or(0, |bar| bar.number);
            let what = format!("no such bar; the last one is {last}");
            return Err(OrderError::Options(what));
        }
    }
    Ok(wrapped(&head(score), columns) + &layout::draw(&strips, columns, paint))
}

/// Title, length, ostinatos.
fn head(score: &CompiledScore) -> String {
    let timeline = &score.timeline;
    let score = score.score();
    let mut head = String::new();
    if !timeline.title.is_empty() {
        head += &format!("{}\n", timeline.title);
    }
    head += &format!("{}, {}\n", score.meter, extent(timeline));
    for ostinato in &score.ostinatos {
        head += &ostinato_line(ostinato);
    }
    head
}

fn ostinato_line(ostinato: &Ostinato) -> String {
    let cycle = beats(ostinato.grid.length().unwrap_or(Beats::ZERO));
    let sticking = sticking_text(&ostinato.sticking, Some(&ostinato.grid));
    let mut voices: Vec<&str> = ostinato
        .slots()
        .iter()
        .flatten()
        .map(|stroke| stroke.voice.name())
        .collect();
    voices.dedup();
    format!(
        "Ostinato {} ({}) every {cycle}: {sticking}\n",
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
