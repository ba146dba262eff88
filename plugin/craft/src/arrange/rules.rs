//! Prices of edits and of repetition and contrast, read from data.

use serde::Deserialize;
use std::sync::LazyLock;

/// What edits cost and how forms are ranked. Read from TOML; the embedded file
/// `data/arrange.toml` says what each price is for.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ArrangeRules {
    pub(super) mend: MendPrices,
    pub(super) rank: RankPrices,
}

/// `[mend]`
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct MendPrices {
    pub times: u32,
    pub again: u32,
    pub drop: u32,
    pub refit: u32,
    pub swap: u32,
    pub carry: u32,
    pub cut: u32,
    pub beat: u32,
    pub most: u32,
}

/// `[rank]`
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RankPrices {
    pub new: u32,
    pub back: u32,
    pub again: u32,
    pub too_often: u32,
    pub unused: u32,
    pub end_again: u32,
}

/// Why a rule set is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ArrangeRulesError {
    /// Not TOML, an unknown key, a missing one or one of the wrong type.
    #[error("arranging rules: {0}")]
    Unreadable(String),
    /// A number out of range.
    #[error("arranging rules: {key} is {read}; allowed are {least} to {most}")]
    OutOfRange {
        /// The key with its table.
        key: &'static str,
        /// What it says.
        read: u32,
        /// Smallest allowed.
        least: u32,
        /// Largest allowed.
        most: u32,
    },
}

static BUILTIN: LazyLock<ArrangeRules> =
    LazyLock::new(
        || match ArrangeRules::from_toml(include_str!("../data/arrange.toml")) {
            Ok(rules) => rules,
            Err(error) => unreachable!("embedded {error}"),
        },
    );

impl ArrangeRules {
    /// The rules that come with the program.
    pub fn builtin() -> &'static ArrangeRules {
        &BUILTIN
    }

    /// Reads a whole rule set, laid out as the embedded one.
    ///
    /// # Errors
    /// See [`ArrangeRulesError`].
    pub fn from_toml(text: &str) -> Result<ArrangeRules, ArrangeRulesError> {
        let rules: ArrangeRules = toml_edit::de::from_str(text)
            .map_err(|e| ArrangeRulesError::Unreadable(e.to_string().trim().to_owned()))?;
        let (m, r) = (&rules.mend, &rules.rank);
        for (key, read, least, most) in [
            ("mend.times", m.times, 0, 1000),
            ("mend.again", m.again, 0, 1000),
            ("mend.drop", m.drop, 0, 1000),
            ("mend.refit", m.refit, 0, 1000),
            ("mend.swap", m.swap, 0, 1000),
            ("mend.carry", m.carry, 0, 1000),
            ("mend.cut", m.cut, 0, 1000),
            ("mend.beat", m.beat, 0, 1000),
            ("mend.most", m.most, 1, 100),
            ("rank.new", r.new, 0, 1000),
            ("rank.back", r.back, 0, 1000),
            ("rank.again", r.again, 0, 1000),
            ("rank.too_often", r.too_often, 0, 1000),
            ("rank.unused", r.unused, 0, 1000),
            ("rank.end_again", r.end_again, 0, 1000),
        ] {
            if !(least..=most).contains(&read) {
                return Err(ArrangeRulesError::OutOfRange {
                    key,
                    read,
                    least,
                    most,
                });
            }
        }
        Ok(rules)
    }
}
