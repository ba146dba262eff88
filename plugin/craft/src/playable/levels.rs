//! Levels of ability, read from data.

use crate::range::{Thousandths, not_allowed, ranged};
use crate::rules::{RuleError, layer};
use barform_score::music::Limb;
use serde::Deserialize;
use std::collections::BTreeMap;

/// The built-in levels.
const BUILTIN: &str = include_str!("../data/levels.toml");

/// Strokes in a row, as the file writes them, and their rate.
type Stated = BTreeMap<String, Thousandths>;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    closest_ms: Closest,
    level: BTreeMap<String, LevelData>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Closest {
    hand: i64,
    foot: i64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct LevelData {
    order: i64,
    travel_cm_per_second: i64,
    hand: Stated,
    kick: Stated,
    hat_foot: Stated,
}

/// What a player of a level is asked for at most.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ability {
    /// Its name.
    pub name: String,
    /// Its place from easy to hard, `1 ..= 99`.
    pub order: i64,
    /// Fastest way of a hand between voices, in centimetres per second.
    pub travel_cm_per_second: i64,
    /// Hands, kick foot, hi-hat foot: strokes in a row (`2 ..= 64`) and the
    /// most strokes per second over them, the fewest first.
    limits: [Vec<(usize, Thousandths)>; 3],
}

impl Ability {
    /// Strokes in a row of a limb, and the most strokes per second between the
    /// first and the last of them.
    pub fn limits(&self, limb: Limb) -> &[(usize, Thousandths)] {
        &self.limits[match limb {
            Limb::RightHand | Limb::LeftHand => 0,
            Limb::KickFoot => 1,
            Limb::HatFoot => 2,
        }]
    }
}

/// The levels, from easy to hard.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Levels {
    list: Vec<Ability>,
    closest: Closest,
}

impl Levels {
    /// The built-in levels.
    pub fn builtin() -> Levels {
        // The embedded file is held to this by a test.
        Levels::from_toml("").unwrap_or_else(|e| unreachable!("built-in levels: {e}"))
    }

    /// The built-in levels with what `text` states instead, and others it adds.
    ///
    /// # Errors
    /// [`RuleError`] with the key and what is allowed.
    pub fn from_toml(text: &str) -> Result<Levels, RuleError> {
        let File {
            closest_ms: closest,
            level,
        } = layer::read(BUILTIN, text)?;
        ranged(text, "closest_ms.hand", closest.hand, 10..=1000)?;
        ranged(text, "closest_ms.foot", closest.foot, 10..=1000)?;
        let mut list = Vec::with_capacity(level.len());
        for (name, data) in level {
            let at = |key: &str| format!("level.{name}.{key}");
            ranged(text, &at("order"), data.order, 1..=99)?;
            let travel_cm_per_second = data.travel_cm_per_second;
            ranged(
                text,
                &at("travel_cm_per_second"),
                travel_cm_per_second,
                10..=5000,
            )?;
            let limits = [
                limits(text, &at("hand"), data.hand)?,
                limits(text, &at("kick"), data.kick)?,
                limits(text, &at("hat_foot"), data.hat_foot)?,
            ];
            list.push(Ability {
                name,
                order: data.order,
                travel_cm_per_second,
                limits,
            });
        }
        list.sort_by_key(|level| level.order);
        Ok(Levels { list, closest })
    }

    /// All levels, from easy to hard.
    pub fn all(&self) -> &[Ability] {
        &self.list
    }

    /// The level of a name.
    pub fn get(&self, name: &str) -> Option<&Ability> {
        self.list.iter().find(|level| level.name == name)
    }

    /// Least time from stroke to stroke of a limb, in milliseconds.
    pub fn closest_ms(&self, limb: Limb) -> i64 {
        if limb.is_foot() {
            self.closest.foot
        } else {
            self.closest.hand
        }
    }
}

/// The limits of one limb.
fn limits(text: &str, key: &str, stated: Stated) -> Result<Vec<(usize, Thousandths)>, RuleError> {
    let mut limits = Vec::with_capacity(stated.len());
    for (strokes, rate) in stated {
        let key = format!("{key}.{strokes}");
        let Some(count) = strokes.parse().ok().filter(|n| (2..=64).contains(n)) else {
            return Err(not_allowed(text, &key, "no number of strokes", "2 to 64"));
        };
        if !(100..=60_000).contains(&rate.0) {
            return Err(not_allowed(
                text,
                &key,
                rate,
                "0.1 to 60 strokes per second",
            ));
        }
        limits.push((count, rate));
    }
    limits.sort_unstable();
    Ok(limits)
}
