//! What every question starts from: a score and the rules it is asked by.

use crate::failure::Failure;
use crate::input::{ScoreFile, Source};
use crate::output;
use barform_app::answers;
use barform_app::craft::rules::Rules;
use barform_app::music::{Cell, CountBy, Letter};
use serde_json::Value;
use std::fs;
use std::path::PathBuf;

/// Arguments that all questions have.
#[derive(Debug, clap::Args)]
pub struct Asked {
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

/// A score and the rules it is asked by, read.
pub struct Question {
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

impl Asked {
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
    pub fn read(&self) -> Result<Question, Failure> {
        let source = self.source()?;
        Ok(Question {
            rules: rules(self.rules.as_ref())?,
            file: source.read()?,
            json: self.json,
        })
    }
}

impl Question {
    /// The cell of a letter, or all cells in the order written.
    pub fn cells(&self, letter: Option<&Letter>) -> Result<Vec<Cell>, Failure> {
        Ok(answers::cells(&self.file.document, letter)?)
    }

    /// What is said on each slot of a cell that begins on a bar line.
    pub fn counts(&self, cell: &Cell) -> Result<Vec<String>, Failure> {
        let tradition = self.rules.counting.default_tradition();
        let meter = self.file.score().meter;
        let counts = answers::cell_counts(tradition, cell, meter, CountBy::Units);
        Ok(counts?)
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
