//! The rules of variation as data.

use crate::rules::{RuleError, layer};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// The embedded rules.
pub(crate) const EMBEDDED: &str = include_str!("../data/variation.toml");

/// What varies, how far it counts, and what each level allows.
#[derive(Debug, Clone, PartialEq, Eq, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct VariationRules {
    distance: DistanceWeights,
    together: Together,
    level: BTreeMap<String, LevelRules>,
}

/// What each kind of difference adds to a distance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DistanceWeights {
    /// A slot that differs at all, `1 ..= 100`.
    pub slot: u32,
    /// A stroke against a rest, `0 ..= 100`.
    pub rhythm: u32,
    /// A limb, `0 ..= 100`.
    pub sticking: u32,
    /// A voice, `0 ..= 100`.
    pub voice: u32,
    /// An accent or ghost note, `0 ..= 100`.
    pub level: u32,
    /// An ornament, `0 ..= 100`.
    pub ornament: u32,
}

impl Default for DistanceWeights {
    /// Every slot that differs counts one.
    fn default() -> Self {
        DistanceWeights {
            slot: 1,
            rhythm: 0,
            sticking: 0,
            voice: 0,
            level: 0,
            ornament: 0,
        }
    }
}

/// What may be struck at once, whatever the level.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Together {
    /// An open or half-open hi-hat while the foot closes it.
    pub open_hat_with_hat_foot: bool,
    /// Both hands at once on one cymbal or on the cowbell.
    pub hands_on_one_cymbal: bool,
}

/// What a level allows.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LevelRules {
    /// What it is, in a line.
    pub about: String,
    /// Most strokes of one hand on neighbouring slots, `1 ..= 16`.
    pub same_hand: u8,
    /// Most strokes of the kick foot on neighbouring slots, `1 ..= 16`.
    pub kick: u8,
    /// Most strokes of the hi-hat foot on neighbouring slots, `1 ..= 16`.
    pub hat_foot: u8,
    /// Most rests in a row, `0 ..= 64`.
    pub rests: u8,
    /// Most limbs at once, `1 ..= 4`.
    pub at_once: u8,
    /// Whether both hands may play at once.
    pub both_hands: bool,
    /// Whether both hands at once may play one drum.
    pub one_drum: bool,
    /// Whether there are accents.
    pub accents: bool,
    /// Whether hands may play ghost notes.
    pub ghosts: bool,
    /// Whether hands may play flams.
    pub flams: bool,
}

/// The embedded rules. A test says that they read.
static BUILTIN: LazyLock<VariationRules> =
    LazyLock::new(|| VariationRules::from_toml("").unwrap_or_default());

impl VariationRules {
    /// The embedded rules.
    pub fn builtin() -> VariationRules {
        BUILTIN.clone()
    }

    /// The embedded rules with a user's text on top: `[distance]`,
    /// `[together]` and `[level.NAME]` as in `data/variation.toml`. What the
    /// text does not state stays.
    ///
    /// # Errors
    /// [`RuleError`] with the key, what was read and what is allowed.
    pub fn from_toml(text: &str) -> Result<VariationRules, RuleError> {
        let rules: VariationRules = layer::read(EMBEDDED, text)?;
        let in_range = |path: &[&str], value: u32, least: u32, most: u32| {
            if (least..=most).contains(&value) {
                return Ok(());
            }
            let key: Vec<String> = path.iter().map(|part| (*part).to_owned()).collect();
            let problem = format!("{value}; allowed are whole numbers {least} to {most}");
            Err(RuleError::at(text, &key, problem))
        };
        let weights = &rules.distance;
        for (key, value, least) in [
            ("slot", weights.slot, 1),
            ("rhythm", weights.rhythm, 0),
            ("sticking", weights.sticking, 0),
            ("voice", weights.voice, 0),
            ("level", weights.level, 0),
            ("ornament", weights.ornament, 0),
        ] {
            in_range(&["distance", key], value, least, 100)?;
        }
        for (name, level) in &rules.level {
            for (key, value, least, most) in [
                ("same_hand", level.same_hand, 1, 16),
                ("kick", level.kick, 1, 16),
                ("hat_foot", level.hat_foot, 1, 16),
                ("rests", level.rests, 0, 64),
                ("at_once", level.at_once, 1, 4),
            ] {
                in_range(&["level", name, key], u32::from(value), least, most)?;
            }
        }
        Ok(rules)
    }

    /// What each kind of difference adds to a distance.
    pub fn weights(&self) -> &DistanceWeights {
        &self.distance
    }

    /// What may be struck at once, whatever the level.
    pub fn together(&self) -> &Together {
        &self.together
    }

    /// A level by its name.
    pub fn level(&self, name: &str) -> Option<&LevelRules> {
        self.level.get(name)
    }

    /// The names of the levels, in order of the alphabet.
    pub fn level_names(&self) -> impl Iterator<Item = &str> {
        self.level.keys().map(String::as_str)
    }
}
