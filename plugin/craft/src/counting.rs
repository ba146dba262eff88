//! Counting: the traditions a teacher can choose from, and the user's own.
//!
//! In: the embedded tables (`data/counting.toml`) or a user's text that adds to
//! them or restates parts; a grid in its bar. Out: a count per slot. Never
//! here: how a table is applied to a grid (that is `music::count_syllables`
//! and the folder beneath it, so that the timeline can count without us).

use super::rules::{RuleError, layer};
use barform_score::music::{
    Beats, BeatsError, Count, CountBy, CountTables, EMBEDDED_COUNT_TABLES, Grid, Meter, Tradition,
};
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// All known traditions, checked, one of them the default.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Counting {
    default: Tradition,
    traditions: BTreeMap<String, Tradition>,
}

/// The embedded traditions. A test says that they read.
static BUILTIN: LazyLock<Counting> = LazyLock::new(|| Counting::from_toml("").unwrap_or_default());

impl Counting {
    /// The embedded traditions.
    pub fn builtin() -> Counting {
        BUILTIN.clone()
    }

    /// The embedded traditions with a user's text on top: `default` and
    /// `[tradition.NAME]` as in `data/counting.toml`. What the text does not
    /// state stays.
    ///
    /// # Errors
    /// [`RuleError`] with the key, what was read and what is allowed.
    pub fn from_toml(text: &str) -> Result<Counting, RuleError> {
        let tables: CountTables = layer::read(EMBEDDED_COUNT_TABLES, text)?;
        let take = |name: &str| {
            tables
                .tradition(name)
                .map_err(|e| RuleError::at(text, &e.key, e.problem))
        };
        let mut traditions = BTreeMap::new();
        for name in tables.names() {
            traditions.insert(name.to_owned(), take(name)?);
        }
        let Some(default) = traditions.get(tables.default_name()).cloned() else {
            let known: Vec<&str> = tables.names().collect();
            let problem = format!(
                "no tradition '{}'; known are {}",
                tables.default_name(),
                known.join(" ")
            );
            return Err(RuleError::at(text, &["default".into()], problem));
        };
        Ok(Counting {
            default,
            traditions,
        })
    }

    /// The tradition used where none is asked for.
    pub fn default_tradition(&self) -> &Tradition {
        &self.default
    }

    /// The tradition of a name.
    pub fn tradition(&self, name: &str) -> Option<&Tradition> {
        self.traditions.get(name)
    }

    /// All traditions in the order of their names.
    pub fn traditions(&self) -> impl Iterator<Item = &Tradition> {
        self.traditions.values()
    }

    /// What the default tradition counts on each slot of a grid that starts
    /// `from_bar_line` beats into a bar of `meter`.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if the exact positions do not fit.
    pub fn count(
        &self,
        grid: &Grid,
        from_bar_line: Beats,
        meter: Meter,
        by: CountBy,
    ) -> Result<Vec<Count>, BeatsError> {
        self.default.count(grid, from_bar_line, meter, by)
    }
}
