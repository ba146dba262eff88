//! What every verb of the craft starts from.

use crate::failure::Failure;
use crate::input::{self, Piece, Source};
use crate::output;
use barform_app::craft::counting::Counting;
use barform_app::craft::line::Line;
use barform_app::craft::rules::Rules;
use barform_app::music::{Beats, BeatsError, Cell, CountBy, Letter};
use serde_json::Value;
use std::fs;
use std::ops::Range;
use std::path::PathBuf;

/// Arguments that all verbs of the craft have.
#[derive(Debug, clap::Args)]
pub struct Common {
    /// The score file; - reads standard input
    #[arg(value_name = "SCORE")]
    pub score: Option<PathBuf>,
    /// Use the built-in demo score
    #[arg(long, conflicts_with = "score")]
    pub demo: bool,
    /// Print JSON, for other tools
    #[arg(long)]
    pub json: bool,
    /// A settings file whose rules replace the built-in ones where it states any
    #[arg(long, value_name = "FILE")]
    pub rules: Option<PathBuf>,
}

/// A score and the rule sets, read.
pub struct Desk {
    /// The score.
    pub piece: Piece,
    /// All rule sets.
    pub rules: Rules,
    json: bool,
}

/// The rule sets: the built-in ones, with what a settings file states instead.
pub fn rules(file: Option<&PathBuf>) -> Result<Rules, Failure> {
    let Some(path) = file else {
        return Ok(Rules::builtin());
    };
    let text = fs::read_to_string(path).map_err(|e| Failure::file(path, "read", &e))?;
    Rules::from_toml(&text, &path.display().to_string()).map_err(|e| Failure::Score(e.to_string()))
}

impl Common {
    /// Reads score and rules.
    pub fn read(&self) -> Result<Desk, Failure> {
        self.read_with(Source::read)
    }

    /// Reads the rules, and the score in a way of the caller's.
    pub fn read_with(
        &self,
        read: impl FnOnce(&Source) -> Result<Piece, Failure>,
    ) -> Result<Desk, Failure> {
        if self.score.is_none() && !self.demo {
            let none = "no score: name a file, - for standard input, or --demo";
            return Err(Failure::Usage(none.to_owned()));
        }
        let rules = rules(self.rules.as_ref())?;
        let source = Source {
            score: self.score.clone(),
            demo: self.demo,
        };
        Ok(Desk {
            piece: read(&source)?,
            rules,
            json: self.json,
        })
    }
}

impl Desk {
    /// The cell of a letter, or all cells in the order written.
    pub fn cells(&self, letter: Option<&Letter>) -> Result<Vec<Cell>, Failure> {
        let Some(letter) = letter else {
            return Ok(self.piece.score.cells_resolved()?);
        };
        match self.piece.score.cell(letter) {
            Some(cell) => Ok(vec![cell]),
            None => {
                let cells = &self.piece.score.cells;
                let letters: Vec<&str> = cells.iter().map(|c| c.letter.as_str()).collect();
                Err(Failure::Usage(format!(
                    "no cell {letter} in {}; its letters are {}",
                    self.piece.name,
                    letters.join(", ")
                )))
            }
        }
    }

    /// What is said on each slot of a cell that begins on a bar line.
    pub fn counts(&self, cell: &Cell) -> Result<Vec<String>, Failure> {
        let counting: &Counting = &self.rules.counting;
        let meter = self.piece.score.meter;
        let counts = counting
            .count(&cell.grid, Beats::ZERO, meter, CountBy::Units)
            .map_err(exact)?;
        Ok(counts.into_iter().map(|count| count.text).collect())
    }

    /// The whole form as a line of strokes, ostinatos included.
    pub fn form_line(&self) -> Result<Line, Failure> {
        let timeline = self.piece.timeline()?;
        let mut line = Line::from_timeline(&timeline).map_err(exact)?;
        for ostinato in &self.piece.score.ostinatos {
            line = line
                .with_ostinato(&ostinato.name, &ostinato.grid, &ostinato.slots())
                .map_err(exact)?;
        }
        Ok(line)
    }

    /// Prints the answer in the way asked for.
    pub fn say(&self, text: &str, json: Value) -> Result<(), Failure> {
        say(self.json, text, json)
    }
}

/// Prints an answer as text or as JSON.
pub fn say(as_json: bool, text: &str, json: Value) -> Result<(), Failure> {
    if !as_json {
        return output::say(text);
    }
    output::say(&format!("{json:#}\n"))
}

/// Exact arithmetic that ran out of room.
pub fn exact(error: BeatsError) -> Failure {
    Failure::Score(error.to_string())
}

/// Reads a letter.
pub fn letter(text: &str) -> Result<Letter, String> {
    Letter::new(text)
        .ok_or_else(|| "a letter is a capital with or without primes: A, B2, C'".into())
}

/// The score of a source with its bar-line checks left out of the form, for
/// verbs that ask what does not fill its bars. Anything else that is wrong is
/// told as always.
pub fn read_unchecked(source: &Source) -> Result<Piece, Failure> {
    let (name, text) = source.text()?;
    let mut piece = input::parse(name, without_bar_lines(&text))?;
    piece.text = text;
    Ok(piece)
}

/// A score's text with blanks for `|` in its forms; as it is if it is not TOML.
fn without_bar_lines(text: &str) -> String {
    let mut bytes = text.as_bytes().to_vec();
    for place in form_places(text) {
        for byte in bytes.get_mut(place).into_iter().flatten() {
            if *byte == b'|' {
                *byte = b' ';
            }
        }
    }
    // One ASCII character for another.
    String::from_utf8(bytes).unwrap_or_else(|_| text.to_owned())
}

/// The forms of a score's text as written, section by section.
pub fn forms(text: &str) -> Vec<String> {
    let Ok(document) = toml_edit::Document::parse(text) else {
        return Vec::new();
    };
    items(&document)
        .into_iter()
        .filter_map(|item| Some(item.as_str()?.to_owned()))
        .collect()
}

/// Where the forms stand in a score's text.
fn form_places(text: &str) -> Vec<Range<usize>> {
    let Ok(document) = toml_edit::Document::parse(text) else {
        return Vec::new();
    };
    items(&document)
        .into_iter()
        .filter_map(toml_edit::Item::span)
        .collect()
}

/// The form of the score, or those of its sections.
fn items<'d>(document: &'d toml_edit::Document<&str>) -> Vec<&'d toml_edit::Item> {
    let sections = document
        .get("section")
        .and_then(|item| item.as_array_of_tables());
    let sections = sections
        .into_iter()
        .flatten()
        .filter_map(|section| section.get("form"));
    document.get("form").into_iter().chain(sections).collect()
}
