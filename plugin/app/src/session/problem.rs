//! What is wrong with a score text, as an editor shows it.

use std::fmt;
use std::ops::Range;

use crate::score::ScoreError;
use crate::timeline::CompileError;

/// What is wrong with a score text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// Line from 1; 0 if it is about no line.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// Bytes of the text it is about.
    pub span: Range<usize>,
    /// What was read and what is allowed.
    pub message: String,
    /// The nearest mend, if there is one.
    pub mend: Option<String>,
}

impl fmt::Display for Problem {
    /// Message and mend in one line.
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        let message = self.message.trim_end_matches('.');
        match &self.mend {
            Some(mend) => write!(f, "{message}; {}.", mend.trim_end_matches('.')),
            None => write!(f, "{message}."),
        }
    }
}

impl From<ScoreError> for Problem {
    fn from(error: ScoreError) -> Problem {
        let mend = error.mend().map(str::to_owned);
        let mut message = error.kind.to_string();
        // The mend is shown on a line of its own.
        if let Some(mend) = &mend
            && let Some(head) = message.strip_suffix(mend.as_str())
        {
            message = head.trim_end_matches([' ', ';']).to_owned();
        }
        Problem {
            line: error.place.line as usize,
            column: error.place.column as usize,
            span: error.span,
            message,
            mend,
        }
    }
}

impl From<CompileError> for Problem {
    fn from(error: CompileError) -> Problem {
        match error {
            CompileError::Score(error) => error.into(),
            other => Problem {
                line: 0,
                column: 0,
                span: 0..0,
                message: other.to_string(),
                mend: None,
            },
        }
    }
}
