//! What can go wrong, and the exit status for it.

use crate::input::is_dash;
use crate::output;
use barform_app::answers::AnswerError;
use barform_app::music::BeatsError;
use barform_app::orders::OrderError;
use barform_app::score::ScoreError;
use barform_app::timeline::CompileError;
use std::fmt;
use std::io::{self, Write};
use std::path::Path;
use std::process::ExitCode;

/// Why a verb did not do what it was asked to.
#[derive(Debug)]
pub enum Failure {
    /// Status 1: the score has an error, or cannot be played as asked.
    Score(String),
    /// Status 2: what was asked makes no sense, though each word of it does.
    Usage(String),
    /// Status 3: a file cannot be read or written.
    File(String),
    /// The status of the worst of several failures that have been told already.
    Told(u8),
    /// The reader of our output has gone; nobody to tell, nothing wrong.
    PipeClosed,
}

impl Failure {
    /// The exit status.
    pub fn status(&self) -> u8 {
        match self {
            Failure::PipeClosed => 0,
            Failure::Score(_) => 1,
            Failure::Usage(_) => 2,
            Failure::File(_) => 3,
            Failure::Told(status) => *status,
        }
    }

    /// Tells the user and returns the exit status.
    pub fn report(&self) -> ExitCode {
        self.tell();
        ExitCode::from(self.status())
    }

    /// Tells the user.
    pub fn tell(&self) {
        if let Failure::Score(text) | Failure::Usage(text) | Failure::File(text) = self {
            // If standard error is gone there is no way left to tell.
            let _ = writeln!(io::stderr(), "barform: {text}");
        }
    }

    /// A failure of a named file.
    pub fn file(path: &Path, what: &str, error: &io::Error) -> Failure {
        Failure::File(format!("{}: cannot be {what}: {error}", path.display()))
    }

    /// A failure of the export, not of the system.
    pub fn export(error: impl fmt::Display) -> Failure {
        Failure::Score(error.to_string())
    }
}

impl From<ScoreError> for Failure {
    fn from(error: ScoreError) -> Failure {
        let excerpt = error.excerpt().trim_end();
        if excerpt.is_empty() {
            Failure::Score(error.to_string())
        } else {
            Failure::Score(format!("{error}\n{excerpt}"))
        }
    }
}

impl From<CompileError> for Failure {
    fn from(error: CompileError) -> Failure {
        match error {
            CompileError::Score(error) => error.into(),
            other => Failure::Score(other.to_string()),
        }
    }
}

impl From<BeatsError> for Failure {
    /// Exact arithmetic that ran out of room.
    fn from(error: BeatsError) -> Failure {
        Failure::Score(error.to_string())
    }
}

impl From<AnswerError> for Failure {
    fn from(error: AnswerError) -> Failure {
        match error {
            AnswerError::Question(what) => Failure::Usage(what),
            AnswerError::Score(error) => error.into(),
            other => Failure::Score(other.to_string()),
        }
    }
}

impl From<OrderError> for Failure {
    fn from(error: OrderError) -> Failure {
        match error {
            OrderError::Exists(path) => output::exists(&path),
            OrderError::Write { error, .. } if error.kind() == io::ErrorKind::BrokenPipe => {
                Failure::PipeClosed
            }
            OrderError::Write { path, error } if is_dash(&path) => output::stdout_failure(&error),
            OrderError::Write { path, error } => Failure::file(&path, "written", &error),
            OrderError::File(what) => Failure::File(what),
            OrderError::Options(what) => Failure::Usage(what),
            OrderError::Score(error) => error.into(),
            other => Failure::Score(other.to_string()),
        }
    }
}
