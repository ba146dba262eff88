//! What is played instead of what is missing, read from data.

use super::toms::is_tom;
use barform_score::music::{Articulation, Beats, Voice};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// A voice, struck as the stroke was or in a way of its own.
type Instead = (Voice, Option<Articulation>);

/// What is played instead of a voice that a kit does not have. Read from TOML;
/// the embedded file `data/revoice.toml` says how.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RevoiceRules {
    /// By voice, with an articulation or for all others.
    instead: BTreeMap<(Voice, Option<Articulation>), Vec<Instead>>,
    /// For toms on a kit without any.
    tom: Vec<Instead>,
    /// Most beats between two strokes of a run.
    pub(super) most_gap: Beats,
}

/// Why a rule set is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RevoiceRulesError {
    /// Not TOML, an unknown key, a missing one or one of the wrong type.
    #[error("re-voicing rules: {0}")]
    Unreadable(String),
    /// A word that is no voice or articulation, or not one allowed there.
    #[error("re-voicing rules: instead.{key}: '{read}' is {problem}")]
    Voice {
        /// The key.
        key: String,
        /// The word.
        read: String,
        /// What is wrong and what is allowed.
        problem: &'static str,
    },
    /// A voice with nothing said about it.
    #[error("re-voicing rules: instead.{0} is missing; [] leaves its strokes out")]
    Missing(&'static str),
    /// A length out of range.
    #[error("re-voicing rules: run.most_gap is {0}; allowed are beats above 0, up to 64")]
    Gap(String),
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    instead: BTreeMap<String, Vec<String>>,
    run: Run,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Run {
    most_gap: String,
}

static BUILTIN: LazyLock<RevoiceRules> =
    LazyLock::new(
        || match RevoiceRules::from_toml(include_str!("../data/revoice.toml")) {
            Ok(rules) => rules,
            Err(error) => unreachable!("embedded {error}"),
        },
    );

impl RevoiceRules {
    /// The rules that come with the program.
    pub fn builtin() -> &'static RevoiceRules {
        &BUILTIN
    }

    /// Reads a whole rule set, laid out as the embedded one.
    ///
    /// # Errors
    /// See [`RevoiceRulesError`].
    pub fn from_toml(text: &str) -> Result<RevoiceRules, RevoiceRulesError> {
        let file: File = toml_edit::de::from_str(text)
            .map_err(|e| RevoiceRulesError::Unreadable(e.to_string().trim().to_owned()))?;
        let gap = file.run.most_gap;
        let most_gap = gap.parse::<Beats>().ok();
        let most_gap = most_gap.filter(|g| g.is_positive() && *g <= Beats::whole(64));
        let most_gap = most_gap.ok_or(RevoiceRulesError::Gap(gap))?;
        let mut rules = RevoiceRules {
            instead: BTreeMap::new(),
            tom: Vec::new(),
            most_gap,
        };
        let mut has_tom = false;
        for (key, words) in &file.instead {
            let mut list = Vec::with_capacity(words.len());
            for word in words {
                list.push(voice(key, word)?);
            }
            if key == "tom" {
                (rules.tom, has_tom) = (list, true);
                continue;
            }
            let of = voice(key, key)?;
            if is_tom(of.0) {
                return Err(fault(key, key, "a tom; toms are under 'tom', all at once"));
            }
            let foot = |voice| matches!(voice, Voice::Kick | Voice::HatFoot);
            if let Some(i) = list.iter().position(|(to, _)| foot(*to) != foot(of.0)) {
                let problem = "played with other limbs; feet stay feet, hands stay hands";
                return Err(fault(key, &words[i], problem));
            }
            rules.instead.insert(of, list);
        }
        let plain = |voice: &Voice| rules.instead.contains_key(&(*voice, None));
        let missing = Voice::ALL
            .into_iter()
            .find(|v| !is_tom(*v) && !plain(v))
            .map(Voice::name);
        match missing.or((!has_tom).then_some("tom")) {
            Some(missing) => Err(RevoiceRulesError::Missing(missing)),
            None => Ok(rules),
        }
    }

    /// What is played instead of a voice, best first.
    pub(super) fn instead(&self, voice: Voice, articulation: Articulation) -> &[Instead] {
        if is_tom(voice) {
            return &self.tom;
        }
        let own = self.instead.get(&(voice, Some(articulation)));
        own.or_else(|| self.instead.get(&(voice, None)))
            .map_or(&[], Vec::as_slice)
    }
}

fn fault(key: &str, read: &str, problem: &'static str) -> RevoiceRulesError {
    RevoiceRulesError::Voice {
        key: key.to_owned(),
        read: read.to_owned(),
        problem,
    }
}

/// Reads `ride` or `ride:bell`.
fn voice(key: &str, word: &str) -> Result<Instead, RevoiceRulesError> {
    let (name, way) = match word.split_once(':') {
        Some((name, way)) => (name, Some(way)),
        None => (word, None),
    };
    let voice = Voice::from_name(name).filter(|v| *v != Voice::Click);
    let voice =
        voice.ok_or_else(|| fault(key, word, "no voice; allowed are voices such as ride"))?;
    let Some(way) = way else {
        return Ok((voice, None));
    };
    let articulation = Articulation::from_name(way);
    let articulation = articulation.filter(|a| voice.articulations().contains(a));
    let problem = "not a way to strike that voice";
    Ok((
        voice,
        Some(articulation.ok_or_else(|| fault(key, word, problem))?),
    ))
}
