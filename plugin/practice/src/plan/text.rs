//! Values of a plan that are written as words.

use super::lists::Turn;
use barform_score::music::{Articulation, Beats, Letter, Subdivision, Voice};
use barform_score::score::{VoiceToken, read_grid};
use serde::de::{Deserializer, Visitor};
use serde::{Deserialize, Serialize, Serializer};
use std::fmt;
use std::marker::PhantomData;
use std::str::FromStr;

/// Words that cannot be read: what was read and what is allowed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{read}' is not a valid {what}; write for example {allowed}")]
pub struct TextError {
    /// What it should be.
    pub what: &'static str,
    /// What was read, cut short.
    pub read: String,
    /// Examples of what is allowed.
    pub allowed: &'static str,
}

impl TextError {
    /// An error about `read`.
    pub(super) fn new(what: &'static str, read: &str, allowed: &'static str) -> TextError {
        let read = read.chars().take(40).collect();
        TextError {
            what,
            read,
            allowed,
        }
    }
}

/// Something of the score's own words, written here as there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Named<T>(
    /// What is named.
    pub T,
);

/// How one of the score's own values is written.
pub trait Words: Sized {
    /// Reads it.
    ///
    /// # Errors
    /// [`TextError`].
    fn read(text: &str) -> Result<Self, TextError>;
    /// Writes it.
    fn written(&self) -> String;
}

impl Words for Letter {
    fn read(text: &str) -> Result<Letter, TextError> {
        Letter::new(text).ok_or_else(|| TextError::new("letter", text, "A, B2 or C'"))
    }

    fn written(&self) -> String {
        self.to_string()
    }
}

impl Words for Beats {
    fn read(text: &str) -> Result<Beats, TextError> {
        let beats = text.trim().parse().ok();
        beats.ok_or_else(|| TextError::new("number of beats", text, "2, 1.5 or 3/2"))
    }

    fn written(&self) -> String {
        self.to_string()
    }
}

impl Words for Subdivision {
    fn read(text: &str) -> Result<Subdivision, TextError> {
        let grid = || read_grid(text).ok().map(Subdivision);
        Subdivision::from_name(text)
            .or_else(grid)
            .ok_or_else(|| TextError::new("subdivision", text, "8ths, 16th-triplets or 3@2"))
    }

    fn written(&self) -> String {
        self.to_string()
    }
}

impl Words for VoiceToken {
    fn read(text: &str) -> Result<VoiceToken, TextError> {
        let wrong = || TextError::new("voice", text, "cowbell, click or hat:bell");
        let (voice, how) = text.split_once(':').unwrap_or((text, ""));
        let voice = Voice::from_name(voice).ok_or_else(wrong)?;
        let articulation = match how {
            "" => Articulation::Plain,
            how => Articulation::from_name(how).ok_or_else(wrong)?,
        };
        if !voice.articulations().contains(&articulation) {
            return Err(wrong());
        }
        Ok(VoiceToken {
            voice,
            articulation,
        })
    }

    fn written(&self) -> String {
        let how = self.articulation.name();
        let colon = if how.is_empty() { "" } else { ":" };
        format!("{}{colon}{how}", self.voice.name())
    }
}

impl<T: Words> FromStr for Named<T> {
    type Err = TextError;

    fn from_str(text: &str) -> Result<Named<T>, TextError> {
        T::read(text).map(Named)
    }
}

impl<T: Words> fmt::Display for Named<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0.written())
    }
}

impl<T: Words> Serialize for Named<T> {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl<'de, T: Words> Deserialize<'de> for Named<T> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        words(from)
    }
}

/// Reads a value from its words, or from a number where it is one.
pub(super) fn words<'de, D, T>(from: D) -> Result<T, D::Error>
where
    D: Deserializer<'de>,
    T: FromStr<Err: fmt::Display>,
{
    struct Read<T>(PhantomData<T>);
    impl<T: FromStr<Err: fmt::Display>> Visitor<'_> for Read<T> {
        type Value = T;

        fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            f.write_str("words in quotes, or a number")
        }

        fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<T, E> {
            text.parse().map_err(E::custom)
        }

        fn visit_i64<E: serde::de::Error>(self, number: i64) -> Result<T, E> {
            number.to_string().parse().map_err(E::custom)
        }

        fn visit_u64<E: serde::de::Error>(self, number: u64) -> Result<T, E> {
            number.to_string().parse().map_err(E::custom)
        }

        fn visit_f64<E: serde::de::Error>(self, number: f64) -> Result<T, E> {
            // The shortest decimal that gives this number: the one written.
            number.to_string().parse().map_err(E::custom)
        }
    }
    from.deserialize_any(Read(PhantomData))
}

/// Gives types with `FromStr` and `Display` the words as their only form.
macro_rules! by_words {
    ($($type:ty),+) => {$(
        impl serde::Serialize for $type {
            fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                to.collect_str(self)
            }
        }
        impl<'de> serde::Deserialize<'de> for $type {
            fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                crate::plan::text::words(from)
            }
        }
    )+};
}
pub(super) use by_words;

/// A share in per cent, 20 to 400: no tempo step becomes slower than a MIDI file
/// can say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Percent(
    /// In per cent.
    pub Beats,
);

impl Percent {
    /// As a factor.
    pub fn factor(self) -> Beats {
        Beats::new(self.0.numer(), self.0.denom() * 100)
    }
}

impl FromStr for Percent {
    type Err = TextError;

    fn from_str(text: &str) -> Result<Percent, TextError> {
        let digits = text.trim().strip_suffix('%').unwrap_or(text).trim();
        let value = digits.parse::<Beats>().ok();
        value
            .filter(|v| *v >= Beats::whole(20) && *v <= Beats::whole(400))
            .map(Percent)
            .ok_or_else(|| TextError::new("percentage", text, "80% (20% to 400%)"))
    }
}

impl fmt::Display for Percent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}%", decimal(self.0))
    }
}

by_words!(Percent);

/// A number as a decimal where that is exact, else as a fraction.
pub(super) fn decimal(value: Beats) -> String {
    let short = value.to_f64().to_string();
    if short.parse() == Ok(value) {
        short
    } else {
        value.to_string()
    }
}

/// Turns, separated by commas.
pub(super) mod turns {
    use super::{Turn, words};
    use crate::plan::TextError;
    use serde::{Deserializer, Serializer};
    use std::str::FromStr;

    struct Turns(Vec<Turn>);

    impl FromStr for Turns {
        type Err = TextError;

        fn from_str(text: &str) -> Result<Turns, TextError> {
            Turn::list(text).map(Turns)
        }
    }

    pub fn serialize<S: Serializer>(turns: &[Turn], to: S) -> Result<S::Ok, S::Error> {
        let all: Vec<String> = turns.iter().map(Turn::to_string).collect();
        to.serialize_str(&all.join(", "))
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<Turn>, D::Error> {
        words::<D, Turns>(from).map(|turns| turns.0)
    }
}
