//! Rule sets: the embedded ones, and a user's settings file on top.
//!
//! In: the text of a settings file with a table for each part of the craft.
//! Out: all rule sets, checked ([`Rules`]), or an error that names file, line,
//! column, key and what is allowed ([`RuleError`]). Never here: what a rule
//! means (that is with the part that uses it), reading files.

mod error;
pub(crate) mod layer;
mod section;

pub use error::RuleError;

use super::arrange::ArrangeRules;
use super::carry::CloseRules;
use super::counting::Counting;
use super::playable::Levels;
use super::refit::RefitRules;
use super::revoice::RevoiceRules;
use super::rudiments::Rudiments;
use super::sticking;
use super::variation::VariationRules;
use section::Sections;

/// The tables of a settings file.
const TABLES: [&str; 9] = [
    "sticking",
    "levels",
    "rudiments",
    "refit",
    "carry",
    "arrange",
    "revoice",
    "counting",
    "variation",
];

/// All rule sets of the craft.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rules {
    /// `[sticking]`: what a hand's stroke costs, where the voices stand.
    pub sticking: sticking::Rules,
    /// `[levels]`: what a limb can be asked for.
    pub levels: Levels,
    /// `[rudiments]`: the list of rudiments.
    pub rudiments: Rudiments,
    /// `[refit]`: what a drummer minds when a cell changes its subdivision.
    pub refit: RefitRules,
    /// `[carry]`: how a carried cell comes back to a bar line.
    pub carry: CloseRules,
    /// `[arrange]`: how a form is mended and how forms are ranked.
    pub arrange: ArrangeRules,
    /// `[revoice]`: what is played instead of a voice that a kit does not have.
    pub revoice: RevoiceRules,
    /// `[counting]`: what is said on each slot.
    pub counting: Counting,
    /// `[variation]`: distances and levels of variations.
    pub variation: VariationRules,
}

impl Rules {
    /// The rule sets that come with the program.
    pub fn builtin() -> Rules {
        Rules {
            sticking: sticking::Rules::builtin(),
            levels: Levels::builtin(),
            rudiments: Rudiments::builtin(),
            refit: RefitRules::builtin().clone(),
            carry: CloseRules::builtin().clone(),
            arrange: ArrangeRules::builtin().clone(),
            revoice: RevoiceRules::builtin().clone(),
            counting: Counting::builtin(),
            variation: VariationRules::builtin(),
        }
    }

    /// The rule sets with what a user's settings file states instead. What it
    /// does not state stays as it is built in. Each table is laid out as the
    /// file of the same name in `data`.
    ///
    /// # Errors
    /// [`RuleError`] with the file's name, line, column, key and what is
    /// allowed.
    pub fn from_toml(text: &str, file_name: &str) -> Result<Rules, RuleError> {
        Rules::read(text).map_err(|error| RuleError {
            file: file_name.to_owned(),
            ..error
        })
    }

    fn read(text: &str) -> Result<Rules, RuleError> {
        let file = Sections::of(text, &TABLES)?;
        Ok(Rules {
            sticking: file.read("sticking", sticking::Rules::from_toml)?,
            levels: file.read("levels", Levels::from_toml)?,
            rudiments: file.read("rudiments", Rudiments::from_toml)?,
            refit: file.read_whole("refit", barform_score::refit::EMBEDDED_RULES, &[], |t| {
                RefitRules::from_toml(t).map_err(|e| e.to_string())
            })?,
            carry: file.read_whole("carry", include_str!("data/carry.toml"), &[], |t| {
                CloseRules::from_toml(t).map_err(|e| e.to_string())
            })?,
            arrange: file.read_whole("arrange", include_str!("data/arrange.toml"), &[], |t| {
                ArrangeRules::from_toml(t).map_err(|e| e.to_string())
            })?,
            revoice: file.read_whole(
                "revoice",
                include_str!("data/revoice.toml"),
                &["instead"],
                |t| RevoiceRules::from_toml(t).map_err(|e| e.to_string()),
            )?,
            counting: file.read("counting", Counting::from_toml)?,
            variation: file.read("variation", VariationRules::from_toml)?,
        })
    }
}

impl Default for Rules {
    fn default() -> Rules {
        Rules::builtin()
    }
}
