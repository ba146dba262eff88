//! Reading a score.

use crate::failure::Failure;
use barform_app::score::{Document, MAX_FILE_BYTES, Score};
use barform_app::session::{CompiledScore, TextError, read_text};
use clap::Args;
use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};

/// Which score.
#[derive(Debug, Args)]
pub struct Source {
    /// The score file; - reads standard input
    #[arg(value_name = "SCORE", required_unless_present = "demo")]
    pub score: Option<PathBuf>,
    /// Use the built-in demo score
    #[arg(long, conflicts_with = "score")]
    pub demo: bool,
}

/// A score that has been read.
pub struct ScoreFile {
    /// Name for messages.
    pub name: String,
    /// Text and score.
    pub document: Document,
}

impl Source {
    /// Reads the score.
    pub fn read(&self) -> Result<ScoreFile, Failure> {
        let (name, text) = self.text()?;
        parse(name, text)
    }

    /// The score's name for messages and its text, not yet understood.
    pub fn text(&self) -> Result<(String, String), Failure> {
        match &self.score {
            Some(path) => text(path),
            None => Ok((
                "demo.barform".to_owned(),
                barform_app::DEMO_SCORE.to_owned(),
            )),
        }
    }

    /// Whether the score comes from standard input.
    pub fn is_stdin(&self) -> bool {
        self.score.as_deref().is_some_and(is_dash)
    }

    /// The score's name with another ending, in the current folder.
    pub fn beside(&self, ending: &str) -> PathBuf {
        let path = self.score.as_deref().unwrap_or(Path::new("demo.barform"));
        PathBuf::from(path.file_name().unwrap_or_default()).with_extension(ending)
    }
}

impl ScoreFile {
    /// Its text.
    pub fn text(&self) -> &str {
        self.document.text()
    }

    /// What the text says.
    pub fn score(&self) -> &Score {
        self.document.score()
    }

    /// Compiles the score.
    pub fn compiled(&self) -> Result<CompiledScore, Failure> {
        Ok(CompiledScore::of(self.document.clone())?)
    }
}

/// Whether a path stands for standard input or output.
pub fn is_dash(path: &Path) -> bool {
    path.as_os_str() == "-"
}

/// Reads a score from a file, or from standard input for `-`.
pub fn read(path: &Path) -> Result<ScoreFile, Failure> {
    let (name, text) = text(path)?;
    parse(name, text)
}

/// The name for messages and the text of a file, or of standard input for `-`.
pub fn text(path: &Path) -> Result<(String, String), Failure> {
    if is_dash(path) {
        return named("standard input", read_text(io::stdin().lock()));
    }
    let opened = File::open(path).map_err(TextError::Io);
    named(&path.display().to_string(), opened.and_then(read_text))
}

fn named(name: &str, read: Result<String, TextError>) -> Result<(String, String), Failure> {
    let failed = |error| match error {
        TextError::Io(error) if name == "standard input" => {
            Failure::File(format!("standard input cannot be read: {error}"))
        }
        TextError::Io(error) => Failure::file(Path::new(name), "read", &error),
        TextError::TooLarge => Failure::Score(format!(
            "{name}: more than {MAX_FILE_BYTES} bytes; a score is smaller"
        )),
        TextError::NotText { line } => {
            Failure::Score(format!("{name}:{line}: not UTF-8 text; a score is"))
        }
    };
    let text = read.map_err(failed)?;
    Ok((name.to_owned(), text))
}

/// Understands the text of a score.
pub fn parse(name: String, text: String) -> Result<ScoreFile, Failure> {
    let document = Document::parse(&text, &name)?;
    Ok(ScoreFile { name, document })
}
