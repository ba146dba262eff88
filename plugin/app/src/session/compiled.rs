//! A score text with all that is worked out of it.

use std::sync::Arc;

use super::Problem;
use crate::score::{Document, Score};
use crate::timeline::{CompileError, Timeline};

/// A score text that can be played. Copies share what they hold.
#[derive(Debug, Clone)]
pub struct CompiledScore {
    /// The text and what it says.
    pub document: Arc<Document>,
    /// Its strokes in order of time.
    pub timeline: Arc<Timeline>,
}

impl CompiledScore {
    /// Compiles a score that has been read. Takes up to a second for the largest;
    /// not for the audio thread.
    ///
    /// # Errors
    /// As [`Timeline::compile`].
    pub fn of(document: Document) -> Result<CompiledScore, CompileError> {
        Ok(CompiledScore {
            timeline: Arc::new(Timeline::compile(document.score())?),
            document: Arc::new(document),
        })
    }

    /// Reads and compiles a text; `file` is for messages.
    ///
    /// # Errors
    /// The first that is wrong with it.
    pub fn parse(text: &str, file: &str) -> Result<CompiledScore, CompileError> {
        CompiledScore::of(Document::parse(text, file)?)
    }

    /// The text.
    pub fn text(&self) -> &str {
        self.document.text()
    }

    /// What the text says.
    pub fn score(&self) -> &Score {
        self.document.score()
    }
}

/// As [`CompiledScore::parse`], for an editor.
///
/// # Errors
/// The first [`Problem`].
pub fn check(text: &str, file: &str) -> Result<CompiledScore, Problem> {
    Ok(CompiledScore::parse(text, file)?)
}
