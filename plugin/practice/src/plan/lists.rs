//! The small words of a plan: what is played, how long, by whom.

use super::text::{TextError, by_words};
use barform_score::music::{Letter, Limb, Voice};
use std::fmt;
use std::str::FromStr;

/// What is played, round and round.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Play {
    /// The whole form.
    #[default]
    Form,
    /// One letter.
    Letter(Letter),
    /// A stretch of the form, by its printed bar numbers, both ends included.
    Bars(u32, u32),
    /// The last beats of a letter into the first of the one that follows it.
    Join(Letter, Letter),
    /// Every pair of letters that follow one another in the form, one after the
    /// other.
    Joins,
    /// Forms drawn at random.
    Drawn,
}

impl FromStr for Play {
    type Err = TextError;

    fn from_str(text: &str) -> Result<Play, TextError> {
        let allowed = "form, letter A, bars 3 to 6, join A B, joins or drawn";
        let wrong = || TextError::new("part to play", text, allowed);
        let letter = |word: &str| Letter::new(word).ok_or_else(wrong);
        let number = |word: &str| word.parse::<u32>().map_err(|_| wrong());
        let words: Vec<&str> = text.split_whitespace().collect();
        Ok(match words[..] {
            ["form"] => Play::Form,
            ["letter", one] => Play::Letter(letter(one)?),
            ["bar", one] => Play::Bars(number(one)?, number(one)?),
            ["bars", first, "to", last] => {
                let (first, last) = (number(first)?, number(last)?);
                if first > last {
                    return Err(wrong());
                }
                Play::Bars(first, last)
            }
            ["join", from, to] => Play::Join(letter(from)?, letter(to)?),
            ["joins"] => Play::Joins,
            ["drawn"] => Play::Drawn,
            _ => return Err(wrong()),
        })
    }
}

impl fmt::Display for Play {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Play::Form => f.write_str("form"),
            Play::Letter(letter) => write!(f, "letter {letter}"),
            Play::Bars(first, last) if first == last => write!(f, "bar {first}"),
            Play::Bars(first, last) => write!(f, "bars {first} to {last}"),
            Play::Join(from, to) => write!(f, "join {from} {to}"),
            Play::Joins => f.write_str("joins"),
            Play::Drawn => f.write_str("drawn"),
        }
    }
}

/// How long something lasts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stay {
    /// So many bars, at least 1.
    Bars(u16),
    /// So many times what is played, at least 1.
    Passes(u16),
}

impl Default for Stay {
    fn default() -> Stay {
        Stay::Passes(1)
    }
}

impl FromStr for Stay {
    type Err = TextError;

    fn from_str(text: &str) -> Result<Stay, TextError> {
        let wrong = || TextError::new("length", text, "2 passes or 8 bars");
        let (number, what) = text.trim().split_once(' ').ok_or_else(wrong)?;
        let number = number.parse::<u16>().ok();
        let number = number
            .filter(|n| (1..=9_999).contains(n))
            .ok_or_else(wrong)?;
        match what.trim() {
            "bar" | "bars" => Ok(Stay::Bars(number)),
            "pass" | "passes" => Ok(Stay::Passes(number)),
            _ => Err(wrong()),
        }
    }
}

impl fmt::Display for Stay {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Stay::Bars(1) => f.write_str("1 bar"),
            Stay::Bars(n) => write!(f, "{n} bars"),
            Stay::Passes(1) => f.write_str("1 pass"),
            Stay::Passes(n) => write!(f, "{n} passes"),
        }
    }
}

/// What follows the last tempo step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Then {
    /// Nothing.
    #[default]
    End,
    /// The steps back down.
    Down,
    /// The last step, so many times more.
    Hold(u16),
}

impl FromStr for Then {
    type Err = TextError;

    fn from_str(text: &str) -> Result<Then, TextError> {
        let wrong = || TextError::new("ending", text, "end, down or hold 4");
        match text.trim() {
            "end" => Ok(Then::End),
            "down" => Ok(Then::Down),
            other => {
                let number = other
                    .strip_prefix("hold ")
                    .and_then(|n| n.trim().parse().ok());
                let number = number.filter(|n| (1..=999).contains(n));
                number.map(Then::Hold).ok_or_else(wrong)
            }
        }
    }
}

impl fmt::Display for Then {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Then::End => f.write_str("end"),
            Then::Down => f.write_str("down"),
            Then::Hold(n) => write!(f, "hold {n}"),
        }
    }
}

/// So many silent bars in a round of so many.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Gap {
    /// Silent ones, at most `of`.
    pub silent: u8,
    /// Bars in a round, at least 1.
    pub of: u8,
}

impl FromStr for Gap {
    type Err = TextError;

    fn from_str(text: &str) -> Result<Gap, TextError> {
        let wrong = || TextError::new("number of silent bars", text, "1 of 4");
        let (silent, of) = text.split_once(" of ").ok_or_else(wrong)?;
        let number = |word: &str| word.trim().parse::<u8>().map_err(|_| wrong());
        let (silent, of) = (number(silent)?, number(of)?);
        if silent > of || of == 0 {
            return Err(wrong());
        }
        Ok(Gap { silent, of })
    }
}

impl fmt::Display for Gap {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} of {}", self.silent, self.of)
    }
}

/// A click that grows softer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fade {
    /// By so many per cent of its level, `1 ..= 100`.
    pub percent: u8,
    /// After every so many bars, at least 1.
    pub bars: u16,
}

impl FromStr for Fade {
    type Err = TextError;

    fn from_str(text: &str) -> Result<Fade, TextError> {
        let wrong = || TextError::new("fade", text, "20% every 4 bars");
        let words: Vec<&str> = text.split_whitespace().collect();
        let (percent, bars) = match words[..] {
            [percent, "every", bars, "bars"] => (percent, bars),
            [percent, "every", "bar"] => (percent, "1"),
            _ => return Err(wrong()),
        };
        let percent = percent.strip_suffix('%').unwrap_or(percent).parse().ok();
        let percent = percent
            .filter(|p| (1..=100).contains(p))
            .ok_or_else(wrong)?;
        let bars = bars.parse().ok().filter(|b| *b > 0).ok_or_else(wrong)?;
        Ok(Fade { percent, bars })
    }
}

impl fmt::Display for Fade {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.bars {
            1 => write!(f, "{}% every bar", self.percent),
            bars => write!(f, "{}% every {bars} bars", self.percent),
        }
    }
}

/// What a gap silences.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// The click.
    Click,
    /// The ostinatos.
    Ostinato,
    /// What is played.
    Form,
    /// All three.
    All,
}

impl Part {
    const NAMES: [(Part, &'static str); 4] = [
        (Part::Click, "click"),
        (Part::Ostinato, "ostinato"),
        (Part::Form, "form"),
        (Part::All, "all"),
    ];
}

impl FromStr for Part {
    type Err = TextError;

    fn from_str(text: &str) -> Result<Part, TextError> {
        let hit = Part::NAMES.into_iter().find(|(_, name)| *name == text);
        hit.map(|(part, _)| part)
            .ok_or_else(|| TextError::new("part", text, "click, ostinato, form or all"))
    }
}

impl fmt::Display for Part {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = Part::NAMES.into_iter().find(|(part, _)| part == self);
        f.write_str(name.map_or("", |(_, name)| name))
    }
}

/// Whose turn it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum TurnOf {
    /// The form sounds.
    Barform,
    /// The form goes on, left open.
    Player,
    /// The turn before comes once more, left open: the player answers.
    Echo,
}

/// A turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Turn {
    /// Whose it is.
    pub of: TurnOf,
    /// How long; an echo is as long as the turn before.
    pub length: Stay,
}

impl Turn {
    /// Reads turns separated by commas.
    ///
    /// # Errors
    /// [`TextError`]; also for an echo of nothing.
    pub fn list(text: &str) -> Result<Vec<Turn>, TextError> {
        let allowed = "barform 4 bars, player 4 bars; or barform 2 bars, echo";
        let wrong = || TextError::new("list of turns", text, allowed);
        let mut turns: Vec<Turn> = Vec::new();
        for word in text.split(',') {
            let word = word.trim();
            let (of, length) = match word.split_once(' ') {
                Some(("barform", length)) => (TurnOf::Barform, length.parse()?),
                Some(("player", length)) => (TurnOf::Player, length.parse()?),
                None if word == "echo" => {
                    let before = turns.last().filter(|t| t.of == TurnOf::Barform);
                    (TurnOf::Echo, before.ok_or_else(wrong)?.length)
                }
                _ => return Err(wrong()),
            };
            turns.push(Turn { of, length });
        }
        if turns.len() > 100 {
            return Err(wrong());
        }
        Ok(turns)
    }
}

impl fmt::Display for Turn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.of {
            TurnOf::Barform => write!(f, "barform {}", self.length),
            TurnOf::Player => write!(f, "player {}", self.length),
            TurnOf::Echo => f.write_str("echo"),
        }
    }
}

/// A layer of what is played.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layer {
    /// Everything.
    All,
    /// The form's strokes of the hands.
    Hands,
    /// The form's strokes of the feet.
    Feet,
    /// All ostinatos.
    Ostinato,
    /// The form's accents.
    Accents,
    /// The form's strokes of one limb.
    Limb(Limb),
    /// The form's strokes on one voice.
    Voice(Voice),
}

impl FromStr for Layer {
    type Err = TextError;

    fn from_str(text: &str) -> Result<Layer, TextError> {
        let limb = |text: &str| match text.as_bytes() {
            [letter] => Limb::from_letter(char::from(*letter)),
            _ => None,
        };
        Ok(match text {
            "all" => Layer::All,
            "hands" => Layer::Hands,
            "feet" => Layer::Feet,
            "ostinato" => Layer::Ostinato,
            "accents" => Layer::Accents,
            _ => {
                let voice = || Voice::from_name(text).filter(|v| *v != Voice::Click);
                let allowed =
                    "all, hands, feet, ostinato, accents, R, L, K, H, or a voice as snare";
                limb(text)
                    .map(Layer::Limb)
                    .or_else(|| voice().map(Layer::Voice))
                    .ok_or_else(|| TextError::new("layer", text, allowed))?
            }
        })
    }
}

impl fmt::Display for Layer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Layer::All => f.write_str("all"),
            Layer::Hands => f.write_str("hands"),
            Layer::Feet => f.write_str("feet"),
            Layer::Ostinato => f.write_str("ostinato"),
            Layer::Accents => f.write_str("accents"),
            Layer::Limb(limb) => write!(f, "{}", limb.letter()),
            Layer::Voice(voice) => f.write_str(voice.name()),
        }
    }
}

by_words!(Play, Stay, Then, Gap, Fade, Part, Layer);
