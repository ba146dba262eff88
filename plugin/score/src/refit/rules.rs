//! The prices of a refit, read from data.

use crate::music::Voice;
use serde::Deserialize;
use std::sync::LazyLock;

/// What each loss costs when a cell is refit. Read from TOML; the embedded file
/// `data/refit.toml` says what each price is for.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RefitRules {
    /// The opening figure.
    pub(super) figure: Figure,
    /// Prices of leaving a slot out.
    pub(super) leave_out: LeaveOut,
    /// Prices of filling slots the cell does not have.
    pub(super) again: Again,
    /// Prices of slots that become neighbours.
    pub(super) join: Join,
    /// Price of moving in time.
    pub(super) time: Time,
    /// Prices of changing the sticking.
    pub(super) sticking: Sticking,
}

/// `[figure]`
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Figure {
    /// Longest opening figure in slots, `1 ..= 64`.
    pub most_slots: u32,
}

/// `[leave_out]`, prices `0 ..= 1000`.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct LeaveOut {
    pub rest: u32,
    pub ghost: u32,
    pub stroke: u32,
    pub foot: u32,
    pub accent: u32,
    pub new_voice: u32,
    pub beat_foot: u32,
    pub gap: u32,
}

/// `[again]`, prices `0 ..= 1000`.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Again {
    pub stay: u32,
    pub figure: u32,
    pub elsewhere: u32,
    pub accent: u32,
    pub beat_foot: u32,
    pub turn_back: u32,
    pub rest: u32,
    /// Longest passage played again at once, in slots, `1 ..= 64`.
    pub most_slots: u32,
}

/// `[join]`, prices `0 ..= 1000`.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Join {
    pub same_foot: u32,
    pub both_hands: u32,
    pub same_hand: u32,
}

/// `[time]`
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Time {
    /// Price per slot of the cell that a stroke is moved by, `0 ..= 1000`.
    pub moved: u32,
}

/// `[sticking]`, prices `0 ..= 1000`.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Sticking {
    pub other_hand: u32,
    pub change_over: u32,
    pub reach: u32,
    pub double: u32,
    pub hurry: u32,
    pub turn_round: u32,
    pub leave_out: u32,
    pub leave_out_again: u32,
    /// From so many strokes in a row a hand plays alone, `2 ..= 64`.
    pub alone: u32,
    /// Voices that a change of hands would cross the kit for, by their names in
    /// a score.
    pub with_their_hand: Vec<String>,
}

/// Why a rule set is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RefitRulesError {
    /// Not TOML, an unknown key, a missing one or one of the wrong type.
    #[error("refit rules: {0}")]
    Unreadable(String),
    /// A number out of range.
    #[error("refit rules: {key} is {read}; allowed are {least} to {most}")]
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
    /// A voice that no kit has.
    #[error("refit rules: sticking.with_their_hand names '{0}'; allowed are voices such as ride")]
    UnknownVoice(String),
}

/// The embedded rules, as TOML.
pub const EMBEDDED_RULES: &str = include_str!("data/refit.toml");

static BUILTIN: LazyLock<RefitRules> =
    LazyLock::new(|| match RefitRules::from_toml(EMBEDDED_RULES) {
        Ok(rules) => rules,
        Err(error) => unreachable!("embedded {error}"),
    });

impl RefitRules {
    /// The rules that come with the program.
    pub fn builtin() -> &'static RefitRules {
        &BUILTIN
    }

    /// Reads a whole rule set, laid out as the embedded one.
    ///
    /// # Errors
    /// See [`RefitRulesError`]; every message names the key and what is allowed.
    pub fn from_toml(text: &str) -> Result<RefitRules, RefitRulesError> {
        let rules: RefitRules = toml_edit::de::from_str(text)
            .map_err(|e| RefitRulesError::Unreadable(e.to_string().trim().to_owned()))?;
        rules.check()?;
        Ok(rules)
    }

    fn check(&self) -> Result<(), RefitRulesError> {
        let RefitRules {
            figure,
            leave_out: l,
            again: a,
            join: j,
            time,
            sticking: s,
        } = self;
        let counts = [
            ("figure.most_slots", figure.most_slots, 1, 64),
            ("again.most_slots", a.most_slots, 1, 64),
            ("sticking.alone", s.alone, 2, 64),
        ];
        let prices = [
            ("leave_out.rest", l.rest),
            ("leave_out.ghost", l.ghost),
            ("leave_out.stroke", l.stroke),
            ("leave_out.foot", l.foot),
            ("leave_out.accent", l.accent),
            ("leave_out.new_voice", l.new_voice),
            ("leave_out.beat_foot", l.beat_foot),
            ("leave_out.gap", l.gap),
            ("again.stay", a.stay),
            ("again.figure", a.figure),
            ("again.elsewhere", a.elsewhere),
            ("again.accent", a.accent),
            ("again.beat_foot", a.beat_foot),
            ("again.turn_back", a.turn_back),
            ("again.rest", a.rest),
            ("join.same_foot", j.same_foot),
            ("join.both_hands", j.both_hands),
            ("join.same_hand", j.same_hand),
            ("time.moved", time.moved),
            ("sticking.other_hand", s.other_hand),
            ("sticking.change_over", s.change_over),
            ("sticking.reach", s.reach),
            ("sticking.double", s.double),
            ("sticking.hurry", s.hurry),
            ("sticking.turn_round", s.turn_round),
            ("sticking.leave_out", s.leave_out),
            ("sticking.leave_out_again", s.leave_out_again),
        ];
        let prices = prices.into_iter().map(|(key, read)| (key, read, 0, 1000));
        for (key, read, least, most) in counts.into_iter().chain(prices) {
            if !(least..=most).contains(&read) {
                return Err(RefitRulesError::OutOfRange {
                    key,
                    read,
                    least,
                    most,
                });
            }
        }
        match s
            .with_their_hand
            .iter()
            .find(|name| Voice::from_name(name).is_none())
        {
            Some(name) => Err(RefitRulesError::UnknownVoice(name.clone())),
            None => Ok(()),
        }
    }
}
