//! What can be wrong with a rule set, and where.

use std::fmt;

/// Something wrong with a rule set: where it stands, which key, what was read
/// and what is allowed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RuleError {
    /// The file as named by the caller; empty where there is none.
    pub file: String,
    /// Line from 1 and column in characters from 1; `None` where the text does
    /// not hold the place, as with something missing.
    pub at: Option<(u32, u32)>,
    /// The key, tables joined with dots; empty for text that is not TOML.
    pub key: String,
    /// What was read and what is allowed.
    pub problem: String,
}

impl std::error::Error for RuleError {}

impl fmt::Display for RuleError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let file = if self.file.is_empty() {
            "rules"
        } else {
            &self.file
        };
        write!(f, "{file}:")?;
        if let Some((line, column)) = self.at {
            write!(f, "{line}:{column}:")?;
        }
        if !self.key.is_empty() {
            write!(f, " {}:", self.key)?;
        }
        write!(f, " {}", self.problem)
    }
}

impl RuleError {
    /// An error about a key, placed at it in `text` if it is there.
    pub(crate) fn at(text: &str, key: &[String], problem: impl Into<String>) -> RuleError {
        let byte = super::layer::byte_of(text, key);
        RuleError::at_byte(text, byte, key.join("."), &problem.into())
    }

    /// An error at a byte of `text`.
    pub(crate) fn at_byte(
        text: &str,
        byte: Option<usize>,
        key: String,
        problem: &str,
    ) -> RuleError {
        let at = byte.and_then(|byte| text.get(..byte)).map(|before| {
            let line = before.matches('\n').count() + 1;
            let column = before
                .rsplit('\n')
                .next()
                .map_or(0, |tail| tail.chars().count())
                + 1;
            let number = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
            (number(line), number(column))
        });
        RuleError {
            file: String::new(),
            at,
            key,
            problem: problem.trim_end().to_owned(),
        }
    }
}
