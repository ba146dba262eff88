//! Reads the form language: `A B | (A[16ths] B')x4 |`.

use super::super::error::{Mend, ScoreErrorKind as Kind, brief};
use super::super::form::{FormItem, Overrides, Rate};
use super::super::limits::{MAX_DEPTH, MAX_REPEATS};
use super::super::nearest::did_you_mean;
use super::source::{TextFault, words};
use super::tokens::{Entries, grid, list};
use crate::music::{Fit, Letter, Subdivision};
use std::ops::Range;

const ALLOWED: &str = "allowed are letters (A, B2, C'), groups (A B)x4, bar lines | and \
                       brackets [16ths carry, rate 1/2, level 80%, voicing NAME]";

/// Reads a form; the ranges are its items', a group before what is in it.
pub(in crate::score) fn form(text: &str) -> Result<Entries<Vec<FormItem>>, TextFault> {
    let mut parser = Parser {
        text,
        at: 0,
        places: Vec::new(),
    };
    let items = parser.items(0, 0)?;
    Ok((items, parser.places))
}

struct Parser<'a> {
    text: &'a str,
    /// Next byte.
    at: usize,
    places: Vec<Range<usize>>,
}

fn fault(range: Range<usize>, problem: String, allowed: &str, mend: Option<String>) -> TextFault {
    TextFault::new(
        range,
        Kind::Form {
            problem,
            allowed: allowed.into(),
            mend: Mend(mend),
        },
    )
}

impl Parser<'_> {
    fn rest(&self) -> &str {
        &self.text[self.at..]
    }

    fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    fn skip_blanks(&mut self) {
        self.at = self.text.len() - self.rest().trim_start().len();
    }

    /// Items up to the end of the text or, inside a group that opened at byte
    /// `opened`, up to its parenthesis.
    fn items(&mut self, depth: usize, opened: usize) -> Result<Vec<FormItem>, TextFault> {
        let mut items = Vec::new();
        loop {
            self.skip_blanks();
            let start = self.at;
            let Some(c) = self.peek() else {
                if depth == 0 {
                    return Ok(items);
                }
                let mend = Some("write ) where the group ends".into());
                return Err(fault(
                    opened..opened + 1,
                    "'(' is never closed".into(),
                    ALLOWED,
                    mend,
                ));
            };
            let here = start..start + c.len_utf8();
            match c {
                '|' => {
                    self.at += 1;
                    self.places.push(here);
                    items.push(FormItem::BarLine);
                }
                '(' => {
                    if depth == MAX_DEPTH {
                        let allowed = format!("at most {MAX_DEPTH} are allowed");
                        let problem = format!("more than {MAX_DEPTH} groups inside each other");
                        return Err(fault(here, problem, &allowed, None));
                    }
                    self.at += 1;
                    let index = self.places.len();
                    self.places.push(here);
                    let inner = self.items(depth + 1, start)?;
                    let times = self.times()?;
                    let overrides = self.brackets()?;
                    self.places[index].end = self.at;
                    items.push(FormItem::Group {
                        items: inner,
                        times,
                        overrides,
                    });
                }
                ')' if depth > 0 => {
                    self.at += 1;
                    return Ok(items);
                }
                'A'..='Z' => {
                    let letter = self.letter()?;
                    let index = self.places.len();
                    self.places.push(start..self.at);
                    let overrides = self.brackets()?;
                    self.places[index].end = self.at;
                    items.push(FormItem::Letter { letter, overrides });
                }
                _ => return Err(self.unexpected(here, c)),
            }
        }
    }

    fn unexpected(&self, here: Range<usize>, c: char) -> TextFault {
        let mend = match c {
            ')' => Some("remove it, or open the group with (".into()),
            'x' | '×' => Some("a repeat stands after a group: (A B)x4".into()),
            '[' => Some("brackets stand after a letter or a group, once: (A)x2[16ths]".into()),
            ']' => Some("remove it, or open the brackets with [".into()),
            '\'' => Some("a prime stands right after its letter: A'".into()),
            'a'..='z' => Some(format!("did you mean {}?", c.to_ascii_uppercase())),
            _ => None,
        };
        let rest = &self.text[here.start..];
        let word = rest
            .find(|c: char| !c.is_alphanumeric())
            .unwrap_or(rest.len());
        let end = here.end.max(here.start + word);
        let problem = format!("'{}' in a form", brief(&self.text[here.start..end]));
        fault(here.start..end, problem, ALLOWED, mend)
    }

    /// A capital, up to two digits, up to eight primes.
    fn letter(&mut self) -> Result<Letter, TextFault> {
        let rest = self.rest();
        let digits = rest[1..].len()
            - rest[1..]
                .trim_start_matches(|c: char| c.is_ascii_digit())
                .len();
        let after = &rest[1 + digits..];
        let primes = after.len() - after.trim_start_matches(['\'', '′', '″', '’']).len();
        let range = self.at..self.at + 1 + digits + primes;
        self.at = range.end;
        let read = &self.text[range.clone()];
        Letter::new(read).ok_or_else(|| {
            let kind = Kind::Unreadable {
                what: "letter",
                read: brief(read),
                allowed: LETTER.into(),
                mend: Mend::default(),
            };
            TextFault::new(range, kind)
        })
    }

    /// `x4` after a group; once where nothing is said.
    fn times(&mut self) -> Result<u32, TextFault> {
        let mark = self.at;
        self.skip_blanks();
        let Some(x) = self.peek().filter(|c| matches!(c, 'x' | '×')) else {
            self.at = mark;
            return Ok(1);
        };
        let start = self.at;
        self.at += x.len_utf8();
        let digits = self.rest().len()
            - self
                .rest()
                .trim_start_matches(|c: char| c.is_ascii_digit())
                .len();
        let number = &self.rest()[..digits];
        let times = number
            .parse::<u32>()
            .ok()
            .filter(|n| (1..=MAX_REPEATS).contains(n));
        let range = start..self.at + digits;
        let times = times.ok_or_else(|| {
            let kind = Kind::Unreadable {
                what: "repeat",
                read: brief(&self.text[range.clone()]),
                allowed: format!("x1 to x{MAX_REPEATS}"),
                mend: Mend::default(),
            };
            TextFault::new(range.clone(), kind)
        })?;
        self.at = range.end;
        Ok(times)
    }

    /// What stands in brackets after a letter or a group, if anything.
    fn brackets(&mut self) -> Result<Overrides, TextFault> {
        let mark = self.at;
        self.skip_blanks();
        if self.peek() != Some('[') {
            self.at = mark;
            return Ok(Overrides::default());
        }
        let open = self.at;
        let Some(length) = self.rest().find(']') else {
            let mend = Some("write ] where the brackets end".into());
            return Err(fault(
                open..open + 1,
                "'[' is never closed".into(),
                ALLOWED,
                mend,
            ));
        };
        let inner = &self.text[open + 1..open + length];
        self.at = open + length + 1;
        let mut overrides = Overrides::default();
        let mut at = open + 1;
        for part in inner.split(',') {
            one_override(part, &mut overrides).map_err(|mut f| {
                f.range = f.range.start + at..f.range.end + at;
                f
            })?;
            at += part.len() + 1;
        }
        Ok(overrides)
    }
}

/// What a letter is, for messages.
pub(in crate::score) const LETTER: &str =
    "one capital A to Z, up to two digits, up to eight primes ' (A, B2, C')";

const OVERRIDES: &str = "allowed are a subdivision or grid (refit, or carry), rate 1/2, 1 or 2, \
                         level 10% to 150%, voicing NAME, with commas between";

/// One comma's worth of brackets.
fn one_override(part: &str, into: &mut Overrides) -> Result<(), TextFault> {
    let mut all = words(part);
    let Some((first, head)) = all.next() else {
        return Err(fault(
            0..part.len(),
            "nothing between brackets or commas".into(),
            OVERRIDES,
            None,
        ));
    };
    let twice = |what: &str| {
        fault(
            first.clone(),
            format!("a second {what} in one pair of brackets"),
            OVERRIDES,
            None,
        )
    };
    if !matches!(head, "rate" | "level" | "voicing") {
        if into.subdivision.is_some() {
            return Err(twice("subdivision"));
        }
        into.subdivision = Some(subdivision(part)?);
        return Ok(());
    }
    let (Some((range, value)), None) = (all.next(), all.next()) else {
        let problem = format!("'{head}' with no value or more than one");
        return Err(fault(first, problem, OVERRIDES, None));
    };
    let shift = |mut f: TextFault| {
        f.range = range.clone();
        f
    };
    match head {
        "rate" if into.rate.is_some() => return Err(twice("rate")),
        "level" if into.level.is_some() => return Err(twice("level")),
        "voicing" if into.voicing.is_some() => return Err(twice("voicing")),
        "rate" => into.rate = Some(rate(value).map_err(shift)?),
        "level" => into.level = Some(level(value).map_err(shift)?),
        _ => into.voicing = Some(value.to_owned()),
    }
    Ok(())
}

/// Reads `16ths`, `16ths carry` or a grid such as `3@2 carry`.
pub(in crate::score) fn subdivision(text: &str) -> Result<(Subdivision, Fit), TextFault> {
    let all: Vec<_> = words(text).take(80).collect();
    let (fit, named) = match all.as_slice() {
        [rest @ .., (_, "carry")] => (Fit::Carry, rest),
        [rest @ .., (_, "refit")] => (Fit::Refit, rest),
        rest => (Fit::Refit, rest),
    };
    let names = || Subdivision::NAMES.into_iter().map(|(name, ..)| name);
    let nearest = || names().chain(["refit", "carry"]);
    let unknown = |range: Range<usize>, read: &str| {
        let kind = Kind::Unknown {
            what: "subdivision",
            read: brief(read),
            known: format!("{}, or a grid such as 6 or 3@2", list(names())),
            mend: did_you_mean(read, nearest()),
        };
        TextFault::new(range, kind)
    };
    let [(first, name), others @ ..] = named else {
        return Err(unknown(0..text.len(), text));
    };
    if let Some(subdivision) = Subdivision::from_name(name) {
        let Some((range, word)) = others.first() else {
            return Ok((subdivision, fit));
        };
        let kind = Kind::Unreadable {
            what: "way to fit a subdivision",
            read: brief(word),
            allowed: "refit or carry".into(),
            mend: did_you_mean(word, ["refit", "carry"]),
        };
        return Err(TextFault::new(range.clone(), kind));
    }
    let end = named.last().map_or(first.end, |(range, _)| range.end);
    grid(&text[first.start..end])
        .map(|(grid, _)| (Subdivision(grid), fit))
        .map_err(|mut f| {
            f.range = f.range.start + first.start..f.range.end + first.start;
            // A word is a misspelt name, not a grid.
            let misspelt = all.iter().find(|(range, word)| {
                *range == f.range && word.contains(|c: char| c.is_alphabetic())
            });
            misspelt.map_or(f, |(range, word)| unknown(range.clone(), word))
        })
}

/// Reads `1/2`, `1` or `2`.
pub(in crate::score) fn rate(text: &str) -> Result<Rate, TextFault> {
    match text.trim() {
        "1/2" | "0.5" => Ok(Rate::Half),
        "1" => Ok(Rate::Normal),
        "2" => Ok(Rate::Double),
        other => Err(TextFault::new(
            0..text.len(),
            Kind::Unreadable {
                what: "rate",
                read: brief(other),
                allowed: "1/2, 1 or 2".into(),
                mend: Mend::default(),
            },
        )),
    }
}

/// Reads `80%` or `80`.
fn level(text: &str) -> Result<u8, TextFault> {
    text.strip_suffix('%').unwrap_or(text).parse().map_err(|_| {
        let kind = Kind::Unreadable {
            what: "level",
            read: brief(text),
            allowed: "10% to 150%".into(),
            mend: Mend::default(),
        };
        TextFault::new(0..text.len(), kind)
    })
}
