//! The costs and limits of sticking, read from data.

use super::setup::{Setup, SetupData};
use crate::range::{not_allowed, ranged};
use crate::rules::{RuleError, layer};
use barform_score::music::{Kit, Voice};
use serde::Deserialize;
use std::collections::BTreeMap;

/// The built-in rule set.
const BUILTIN: &str = include_str!("../data/sticking.toml");

/// What the hands cannot do, and how far back they remember.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limits {
    /// Moments back that a hand's last stroke still matters, `2 ..= 12`.
    pub memory: i64,
    /// Strokes per second of one hand, `1 ..= 40`.
    pub hand_per_second: i64,
    /// Centimetres per second of one hand, `50 ..= 5000`.
    pub hand_cm_per_second: i64,
    /// Strokes per second from which two in a row count as a double, `1 ..= 40`.
    pub double_per_second: i64,
}

/// What a stroke costs. Each `0 ..= 10000` unless told otherwise; see the
/// comments of the data file for what each means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Costs {
    /// The same hand again.
    pub repeat: i64,
    /// Each stroke in a row from the third on.
    pub run: i64,
    /// On the beat, but not by the lead hand.
    pub off_lead: i64,
    /// First stroke, but not by the lead hand.
    pub start: i64,
    /// Per stroke per second above `rate_free`.
    pub rate: i64,
    /// Strokes per second, `1 ..= 40`.
    pub rate_free: i64,
    /// An accent right after the same hand's stroke.
    pub accent: i64,
    /// A stroke right after the same hand's buzz.
    pub buzz: i64,
    /// A grace note by the hand of the main stroke.
    pub grace_hand: i64,
    /// Per 10 cm of travel.
    pub travel: i64,
    /// Per 100 cm per second above `haste_free`.
    pub haste: i64,
    /// Centimetres per second, `10 ..= 5000`.
    pub haste_free: i64,
    /// Hands crossed.
    pub crossing: i64,
    /// Centimetres of overlap that do not count yet, `0 ..= 100`.
    pub crossing_free: i64,
    /// Hands crossed for the hi-hat.
    pub hat_crossing: i64,
    /// The hi-hat by the other hand.
    pub hat_hand: i64,
    /// What cannot be played, `10000 ..= 1000000000`.
    pub impossible: i64,
}

/// The rule set: limits, costs, places of the voices, set-ups.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rules {
    /// Limits.
    pub limits: Limits,
    /// Costs.
    pub cost: Costs,
    place: BTreeMap<String, [i64; 2]>,
    setup: BTreeMap<String, SetupData>,
}

impl Rules {
    /// The built-in rules.
    pub fn builtin() -> Rules {
        // The embedded file is held to this by a test.
        Rules::from_toml("").unwrap_or_else(|e| unreachable!("built-in sticking rules: {e}"))
    }

    /// The built-in rules with what `text` states instead. New set-ups may be
    /// added.
    ///
    /// # Errors
    /// [`RuleError`] with the key and what is allowed.
    pub fn from_toml(text: &str) -> Result<Rules, RuleError> {
        let rules: Rules = layer::read(BUILTIN, text)?;
        rules.check(text)?;
        Ok(rules)
    }

    /// The set-up of a name, with the toms and the cymbals in the kit's order
    /// round the kit (see [`Setup`]).
    ///
    /// # Errors
    /// [`RuleError`] with the names known, if there is none.
    pub fn setup(&self, name: &str, kit: &Kit) -> Result<Setup, RuleError> {
        let Some(data) = self.setup.get(name) else {
            return Err(not_allowed(
                "",
                "setup",
                format!("'{name}'"),
                self.setups().join(", "),
            ));
        };
        Ok(Setup::new(data, &self.place, kit))
    }

    /// Names of the set-ups, in alphabetical order.
    pub fn setups(&self) -> Vec<&str> {
        self.setup.keys().map(String::as_str).collect()
    }

    /// Ranges.
    fn check(&self, text: &str) -> Result<(), RuleError> {
        let Limits {
            memory,
            hand_per_second,
            hand_cm_per_second,
            double_per_second,
        } = self.limits;
        ranged(text, "limits.memory", memory, 2..=12)?;
        ranged(text, "limits.hand_per_second", hand_per_second, 1..=40)?;
        ranged(
            text,
            "limits.hand_cm_per_second",
            hand_cm_per_second,
            50..=5000,
        )?;
        ranged(text, "limits.double_per_second", double_per_second, 1..=40)?;
        let c = &self.cost;
        for (key, value) in [
            ("cost.repeat", c.repeat),
            ("cost.run", c.run),
            ("cost.off_lead", c.off_lead),
            ("cost.start", c.start),
            ("cost.rate", c.rate),
            ("cost.accent", c.accent),
            ("cost.buzz", c.buzz),
            ("cost.grace_hand", c.grace_hand),
            ("cost.travel", c.travel),
            ("cost.haste", c.haste),
            ("cost.crossing", c.crossing),
            ("cost.hat_crossing", c.hat_crossing),
            ("cost.hat_hand", c.hat_hand),
        ] {
            ranged(text, key, value, 0..=10_000)?;
        }
        ranged(text, "cost.rate_free", c.rate_free, 1..=40)?;
        ranged(text, "cost.haste_free", c.haste_free, 10..=5000)?;
        ranged(text, "cost.crossing_free", c.crossing_free, 0..=100)?;
        ranged(
            text,
            "cost.impossible",
            c.impossible,
            10_000..=1_000_000_000,
        )?;
        for (voice, [right, away]) in &self.place {
            let key = format!("place.{voice}");
            if Voice::from_name(voice).is_none() {
                return Err(not_allowed(text, &key, "no voice", "a voice of the kit"));
            }
            ranged(text, &key, *right, -300..=300)?;
            ranged(text, &key, *away, -300..=300)?;
        }
        for (name, setup) in &self.setup {
            setup.check(text, name)?;
        }
        Ok(())
    }
}
