//! What came of an order.

use std::fmt;
use std::io;
use std::path::PathBuf;

use crate::answers::AnswerError;
use crate::score::ScoreError;
use crate::timeline::CompileError;

/// What was made.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Report {
    /// The files, in order.
    pub files: Vec<PathBuf>,
    /// What they are, a line each: `mine.mid: 31.3 s, 480 ticks a quarter note`.
    pub lines: Vec<String>,
    /// What the format could not keep, or what is other than asked for; a
    /// sentence each.
    pub remarks: Vec<String>,
}

impl fmt::Display for Report {
    /// A line each, the remarks last.
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        for line in self.lines.iter().chain(&self.remarks) {
            writeln!(f, "{line}")?;
        }
        Ok(())
    }
}

/// Why something was not made.
#[derive(Debug, thiserror::Error)]
pub enum OrderError {
    /// This is there already, and was not to be replaced.
    #[error("{} exists", .0.display())]
    Exists(PathBuf),
    /// The system refused.
    #[error("{}: cannot be written: {error}", path.display())]
    Write {
        /// The file, or the name of the stream.
        path: PathBuf,
        /// What the system said.
        error: io::Error,
    },
    /// The system refused; the words say what.
    #[error("{0}")]
    File(String),
    /// What was asked for makes no sense.
    #[error("{0}")]
    Options(String),
    /// The score has an error.
    #[error(transparent)]
    Score(#[from] ScoreError),
    /// The score cannot be made into this.
    #[error("{0}")]
    Unfit(String),
    /// It was stopped.
    #[error("Stopped; nothing was written.")]
    Stopped,
}

impl OrderError {
    /// The score cannot be made into this, for a reason that is said.
    pub(super) fn unfit(error: impl fmt::Display) -> OrderError {
        OrderError::Unfit(error.to_string())
    }
}

impl From<AnswerError> for OrderError {
    fn from(error: AnswerError) -> OrderError {
        match error {
            AnswerError::Question(what) => OrderError::Options(what),
            AnswerError::Score(error) => error.into(),
            other => OrderError::unfit(other),
        }
    }
}

impl From<CompileError> for OrderError {
    fn from(error: CompileError) -> OrderError {
        match error {
            CompileError::Score(error) => error.into(),
            other => OrderError::unfit(other),
        }
    }
}
