//! What can be wrong with a plan, and where.

use std::fmt;

/// Something wrong with a plan's file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanError {
    /// The file as named by the caller.
    pub file: String,
    /// Line, from 1.
    pub line: u32,
    /// Column in characters, from 1.
    pub column: u32,
    /// What was read, what is allowed, and the nearest mend if there is one.
    pub problem: String,
    /// The line of the file, and a caret under the column.
    pub excerpt: String,
}

impl std::error::Error for PlanError {}

impl fmt::Display for PlanError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let PlanError {
            file,
            line,
            column,
            problem,
            ..
        } = self;
        write!(f, "{file}:{line}:{column}: {problem}")
    }
}

impl PlanError {
    /// An error at a byte of `text`.
    pub(super) fn at(text: &str, file: &str, byte: usize, problem: String) -> PlanError {
        let (place, excerpt) = barform_score::score::locate(text, file, byte);
        PlanError {
            file: place.file,
            line: place.line,
            column: place.column,
            problem,
            excerpt: excerpt.into(),
        }
    }
}
