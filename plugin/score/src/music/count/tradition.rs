//! Traditions: tables of words for even divisions of one counted unit.

use crate::music::MAX_SLOTS_PER_SPAN;
use serde::Deserialize;
use std::collections::BTreeMap;

/// Longest word, in characters: what fits under a note head.
const MAX_WORD_CHARS: usize = 12;

/// A way to count: the words of each even division of one counted unit.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Tradition {
    name: String,
    about: String,
    source: String,
    division: Tables,
    pulse: Tables,
}

/// Words by the number of slots per unit.
type Tables = BTreeMap<u8, Vec<Word>>;

/// What is said on one slot.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Word {
    /// The number of the unit.
    Number,
    /// Nothing.
    Silent,
    /// This.
    Say(String),
}

impl Word {
    /// Whether it is a figure, which could be taken for the number of a unit.
    pub fn is_figure(&self) -> bool {
        matches!(self, Word::Say(word) if word.bytes().all(|b| b.is_ascii_digit()))
    }
}

impl Tradition {
    /// Its name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// What it is, in a line.
    pub fn about(&self) -> &str {
        &self.about
    }

    /// Where it comes from, in a line.
    pub fn source(&self) -> &str {
        &self.source
    }

    /// The divisions it names in simple meters, each with its words as written
    /// in the tables.
    pub fn divisions(&self) -> impl Iterator<Item = (u8, String)> + '_ {
        self.division.iter().map(|(n, words)| {
            let words: Vec<&str> = words
                .iter()
                .map(|word| match word {
                    Word::Number => "#",
                    Word::Silent => "_",
                    Word::Say(word) => word,
                })
                .collect();
            (*n, words.join(" "))
        })
    }

    /// The words of a division, if it is named.
    pub(super) fn words(&self, slots: u8, pulse: bool) -> Option<&[Word]> {
        let own = if pulse { self.pulse.get(&slots) } else { None };
        own.or_else(|| self.division.get(&slots)).map(Vec::as_slice)
    }
}

/// Tables of several traditions as written: read with serde, checked when a
/// tradition is taken from them.
#[derive(Debug, Clone, PartialEq, Eq, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CountTables {
    default: String,
    #[serde(default)]
    tradition: BTreeMap<String, Written>,
}

/// One tradition as written.
#[derive(Debug, Clone, PartialEq, Eq, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    like: Option<String>,
    about: Option<String>,
    source: Option<String>,
    #[serde(default)]
    division: BTreeMap<String, String>,
    #[serde(default)]
    pulse: BTreeMap<String, String>,
}

/// What is wrong with a table of words: which key, and what is allowed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}: {problem}", key.join("."))]
pub struct WordsError {
    /// The keys from the top, outermost first.
    pub key: Vec<String>,
    /// What was read and what is allowed.
    pub problem: String,
}

impl CountTables {
    /// The name of the default tradition.
    pub fn default_name(&self) -> &str {
        &self.default
    }

    /// The names of all traditions, in order of the alphabet.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.tradition.keys().map(String::as_str)
    }

    /// The tradition of a name, with everything it takes from others.
    ///
    /// # Errors
    /// [`WordsError`] if the name is not known, `like` leads in a circle or to
    /// nowhere, or a table does not hold one word per slot.
    pub fn tradition(&self, name: &str) -> Result<Tradition, WordsError> {
        let known = || self.names().collect::<Vec<_>>().join(" ");
        let mut chain: Vec<(&str, &Written)> = Vec::new();
        let mut next = Some(name);
        while let Some(name) = next {
            let asked_by = || match chain.last() {
                Some((child, _)) => vec!["tradition".into(), (*child).into(), "like".into()],
                None => vec!["tradition".into()],
            };
            let Some((name, written)) = self.tradition.get_key_value(name) else {
                let problem = format!("no tradition '{name}'; known are {}", known());
                return Err(WordsError {
                    key: asked_by(),
                    problem,
                });
            };
            if chain.iter().any(|(seen, _)| seen == name) {
                let problem = format!("'{name}' is, through 'like', like itself");
                return Err(WordsError {
                    key: asked_by(),
                    problem,
                });
            }
            chain.push((name, written));
            next = written.like.as_deref();
        }
        let mut whole = Tradition {
            name: name.to_owned(),
            ..Tradition::default()
        };
        for (name, written) in chain.into_iter().rev() {
            whole.about = written.about.clone().unwrap_or(whole.about);
            whole.source = written.source.clone().unwrap_or(whole.source);
            for (table, lines, into) in [
                ("division", &written.division, &mut whole.division),
                ("pulse", &written.pulse, &mut whole.pulse),
            ] {
                for (slots, line) in lines {
                    let (n, words) = read_words(slots, line).map_err(|problem| {
                        let key = ["tradition", name, table, slots]
                            .map(str::to_owned)
                            .to_vec();
                        WordsError { key, problem }
                    })?;
                    into.insert(n, words);
                }
            }
        }
        Ok(whole)
    }
}

/// Reads one line such as `4 = "# e & a"`.
fn read_words(slots: &str, line: &str) -> Result<(u8, Vec<Word>), String> {
    let n = slots
        .parse()
        .ok()
        .filter(|n| (1..=MAX_SLOTS_PER_SPAN).contains(n));
    let n: u8 = n.ok_or_else(|| {
        format!("'{slots}' is no division; allowed are whole numbers 1 to {MAX_SLOTS_PER_SPAN}")
    })?;
    let words: Vec<&str> = line.split_whitespace().collect();
    if words.len() != usize::from(n) {
        let found = words.len();
        return Err(format!(
            "{found} words; a division in {n} has exactly {n}, # and _ included"
        ));
    }
    let read = |(i, word): (usize, &str)| match word {
        "#" if i == 0 => Ok(Word::Number),
        "_" => Ok(Word::Silent),
        _ if word.contains(['#', '+', '/']) || word.chars().any(char::is_control) => Err(format!(
            "'{word}' as word {}; # stands alone and first, and no word has + or / in it",
            i + 1
        )),
        _ if word.chars().count() > MAX_WORD_CHARS => Err(format!(
            "'{word}' is long; allowed are 1 to {MAX_WORD_CHARS} characters"
        )),
        _ => Ok(Word::Say(word.to_owned())),
    };
    let words = words
        .into_iter()
        .enumerate()
        .map(read)
        .collect::<Result<_, _>>()?;
    Ok((n, words))
}
