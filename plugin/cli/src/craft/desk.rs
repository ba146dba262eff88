//! What every verb of the craft starts from.

use crate::failure::Failure;
use crate::input::{ScoreFile, Source};
use crate::output;
use barform_app::craft::counting::Counting;
use barform_app::craft::line::Line;
use barform_app::craft::rules::Rules;
use barform_app::music::{Beats, BeatsError, Cell, CountBy, Letter};
use serde_json::Value;
use std::fs;
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
    pub file: ScoreFile,
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
    /// Which score.
    pub fn source(&self) -> Result<Source, Failure> {
        if self.score.is_none() && !self.demo {
            let none = "no score: name a file, - for standard input, or --demo";
            return Err(Failure::Usage(none.to_owned()));
        }
        Ok(Source {
            score: self.score.clone(),
            demo: self.demo,
        })
    }

    /// Reads rules and score.
    pub fn read(&self) -> Result<Desk, Failure> {
        let source = self.source()?;
        Ok(Desk {
            rules: rules(self.rules.as_ref())?,
            file: source.read()?,
            json: self.json,
        })
    }
}

impl Desk {
    /// The cell of a letter, or all cells in the order written.
    pub fn cells(&self, letter: Option<&Letter>) -> Result<Vec<Cell>, Failure> {
        let Some(letter) = letter else {
            return Ok(self.file.score().cells_resolved()?);
        };
        match self.file.score().cell(letter) {
            Some(cell) => Ok(vec![cell]),
            None => {
                let cells = &self.file.score().cells;
                let letters: Vec<&str> = cells.iter().map(|c| c.letter.as_str()).collect();
                Err(Failure::Usage(format!(
                    "no cell {letter} in {}; its letters are {}",
                    self.file.name,
                    letters.join(", ")
                )))
            }
        }
    }

    /// What is said on each slot of a cell that begins on a bar line.
    pub fn counts(&self, cell: &Cell) -> Result<Vec<String>, Failure> {
        let counting: &Counting = &self.rules.counting;
        let meter = self.file.score().meter;
        let counts = counting
            .count(&cell.grid, Beats::ZERO, meter, CountBy::Units)
            .map_err(exact)?;
        Ok(counts.into_iter().map(|count| count.text).collect())
    }

    /// The whole form as a line of strokes, ostinatos included.
    pub fn form_line(&self) -> Result<Line, Failure> {
        let timeline = self.file.compiled()?.timeline;
        let mut line = Line::from_timeline(&timeline).map_err(exact)?;
        for ostinato in &self.file.score().ostinatos {
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
