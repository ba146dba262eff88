//! The small languages inside the strings: grids, sticking, voices.

use super::super::error::{Mend, ScoreErrorKind as Kind, brief};
use super::super::limits::{MAX_SLOTS, MAX_TOGETHER};
use super::super::model::{StickSlot, StickToken, VoiceSlot, VoiceToken};
use super::super::nearest::did_you_mean;
use super::source::{TextFault, words};
use crate::music::{Articulation, Beats, Graces, Grid, Hand, Level, Limb, Span, Voice};
use std::ops::Range;

/// What was read, and where each entry of it stands in the text.
pub(in crate::score) type Entries<T> = (T, Vec<Range<usize>>);

const GRID: &str = "slots per beat such as 6, or slots@beats such as 3@2, 1@1/2; \
                    slots 1 to 64, beats above 0";

/// Reads a grid such as `6 6`, `3@2` or `1@1/2 3@1/2`.
pub(in crate::score) fn grid(text: &str) -> Result<Entries<Grid>, TextFault> {
    let mut spans = Vec::new();
    let mut places = Vec::new();
    for (range, word) in words(text) {
        let bad = |mend: Option<String>| {
            let kind = Kind::Unreadable {
                what: "span of a grid",
                read: brief(word),
                allowed: GRID.into(),
                mend: Mend(mend),
            };
            TextFault::new(range.clone(), kind)
        };
        let (slots, length) = word.split_once('@').unwrap_or((word, "1"));
        let digits = !slots.is_empty() && slots.bytes().all(|b| b.is_ascii_digit());
        if !digits {
            return Err(bad(None));
        }
        let slots = match slots.parse::<u8>() {
            Ok(n) if n <= 64 => n,
            _ => return Err(bad(Some("split it into several spans".into()))),
        };
        let length: Beats = length.parse().map_err(|_| bad(None))?;
        spans.push(Span::new(slots, length).ok_or_else(|| bad(None))?);
        places.push(range.clone());
        check_slots(spans.len(), range)?;
    }
    match Grid::new(spans) {
        Some(grid) => Ok((grid, places)),
        None => Err(TextFault::new(
            0..text.len(),
            Kind::Unreadable {
                what: "grid",
                read: brief(text),
                allowed: GRID.into(),
                mend: Mend::default(),
            },
        )),
    }
}

/// Stops at the first entry that no grid could have a slot for.
fn check_slots(count: usize, range: Range<usize>) -> Result<(), TextFault> {
    if count <= MAX_SLOTS {
        return Ok(());
    }
    let kind = Kind::TooMany {
        what: "slots or spans on one line",
        read: "more than 1024".into(),
        most: MAX_SLOTS as u64,
        mend: Mend(Some("split the cell".into())),
    };
    Err(TextFault::new(range, kind))
}

const STICK: &str = "R L K H for a stroke, - for a rest; > after for an accent, ( ) around for a \
                     ghost note, up to three r l in front for grace notes, z after for a buzz, \
                     + between strokes at once";

/// Reads a sticking line.
pub(in crate::score) fn sticking(text: &str) -> Result<Entries<Vec<StickSlot>>, TextFault> {
    let mut slots = Vec::new();
    let mut places = Vec::new();
    for (range, word) in words(text) {
        check_slots(slots.len() + 1, range.clone())?;
        slots.push(stick_slot(word, range.start)?);
        places.push(range);
    }
    Ok((slots, places))
}

/// Reads one slot of a sticking line that starts at byte `base`.
fn stick_slot(word: &str, base: usize) -> Result<StickSlot, TextFault> {
    if word == "-" {
        return Ok(Vec::new());
    }
    let mut slot: StickSlot = Vec::with_capacity(1);
    let mut at = base;
    for part in word.split('+') {
        let range = at..at + part.len();
        at = range.end + 1;
        let unreadable = |mend| Kind::Unreadable {
            what: "stroke on a sticking line",
            read: brief(if part.is_empty() { word } else { part }),
            allowed: STICK.into(),
            mend: Mend(mend),
        };
        let token = stick_token(part)
            .ok_or_else(|| TextFault::new(range.clone(), unreadable(mend_stick(part))))?;
        if let Err(why) = playable(&slot, token) {
            return Err(TextFault::new(range, unreadable(Some(why))));
        }
        slot.push(token);
    }
    Ok(slot)
}

/// Why a limb cannot play this as well; also used for slots built in code.
pub(in crate::score) fn playable(slot: &[StickToken], token: StickToken) -> Result<(), String> {
    if slot.iter().any(|t| t.limb == token.limb) {
        return Err(format!(
            "{} is there already: each limb once",
            token.limb.letter()
        ));
    }
    if slot.len() >= MAX_TOGETHER {
        return Err(format!("at most {MAX_TOGETHER} strokes at once"));
    }
    if token.limb.is_foot() && (token.buzz || !token.graces.is_empty()) {
        return Err("grace notes and buzz are for hands".into());
    }
    Ok(())
}

/// `lR>`, `(rlL)`, `Rz`: graces, limb, buzz, accent, in that order; the last
/// two may change places.
fn stick_token(part: &str) -> Option<StickToken> {
    let (inner, ghost) = match part.strip_prefix('(') {
        Some(rest) => (rest.strip_suffix(')')?, true),
        None => (part, false),
    };
    let mut chars = inner.chars().peekable();
    let mut hands = Vec::with_capacity(Graces::MAX);
    while let Some(hand) = chars.peek().copied().and_then(grace) {
        if hands.len() == Graces::MAX {
            return None;
        }
        hands.push(hand);
        chars.next();
    }
    let limb = Limb::from_letter(chars.next()?)?;
    let (mut buzz, mut accent) = (false, false);
    for c in chars {
        match c {
            'z' if !buzz => buzz = true,
            '>' if !accent && !ghost => accent = true,
            _ => return None,
        }
    }
    let level = match (ghost, accent) {
        (true, _) => Level::Ghost,
        (_, true) => Level::Accent,
        _ => Level::Normal,
    };
    Some(StickToken {
        limb,
        level,
        graces: Graces::from_hands(&hands)?,
        buzz,
    })
}

fn grace(letter: char) -> Option<Hand> {
    match letter {
        'r' => Some(Hand::Right),
        'l' => Some(Hand::Left),
        _ => None,
    }
}

/// The nearest token to one that cannot be read.
fn mend_stick(part: &str) -> Option<String> {
    if part.is_empty() {
        return Some("write a stroke on both sides of +".into());
    }
    let core: String = part.chars().filter(|c| !"()>".contains(*c)).collect();
    if part.contains('>') && part.contains('(') {
        return Some(format!(
            "a ghost note has no accent: write ({core}) or {core}>"
        ));
    }
    if stick_token(&format!("({core})")).is_some() && part.contains(['(', ')']) {
        return Some(format!("did you mean ({core})?"));
    }
    if stick_token(&format!("{core}>")).is_some() && part.starts_with('>') {
        return Some(format!("did you mean {core}>?"));
    }
    if core.len() > 1
        && core
            .chars()
            .all(|c| Limb::from_letter(c).is_some() || c == '-')
    {
        let apart: Vec<String> = core.chars().map(String::from).collect();
        return Some(format!(
            "put blanks between slots: {}",
            brief(&apart.join(" "))
        ));
    }
    let upper = part.to_uppercase();
    stick_token(&upper).map(|_| format!("did you mean {upper}? lower case is a grace note"))
}

/// Reads a voices line.
pub(in crate::score) fn voices(text: &str) -> Result<Entries<Vec<VoiceSlot>>, TextFault> {
    let mut slots = Vec::new();
    let mut places = Vec::new();
    for (range, word) in words(text) {
        check_slots(slots.len() + 1, range.clone())?;
        slots.push(match word {
            "." => VoiceSlot::Same,
            "-" => VoiceSlot::Rest,
            _ => VoiceSlot::Voices(voice_list(word, range.start)?),
        });
        places.push(range);
    }
    Ok((slots, places))
}

fn voice_list(word: &str, base: usize) -> Result<Vec<VoiceToken>, TextFault> {
    let mut list = Vec::with_capacity(1);
    let mut at = base;
    for part in word.split('+') {
        let token = voice_token(part, at)?;
        if list.len() == MAX_TOGETHER {
            let kind = Kind::TooMany {
                what: "voices on one slot",
                read: "5 or more".into(),
                most: MAX_TOGETHER as u64,
                mend: Mend::default(),
            };
            return Err(TextFault::new(at..at + part.len(), kind));
        }
        list.push(token);
        at += part.len() + 1;
    }
    Ok(list)
}

/// Reads `hat:open`, starting at byte `base`.
pub(in crate::score) fn voice_token(part: &str, base: usize) -> Result<VoiceToken, TextFault> {
    let (name, way) = part
        .split_once(':')
        .map_or((part, None), |(n, w)| (n, Some(w)));
    let voice = Voice::from_name(name)
        .filter(|v| *v != Voice::Click)
        .ok_or_else(|| {
            let names = || Voice::ALL.into_iter().map(Voice::name);
            let kind = Kind::Unknown {
                what: "voice",
                read: brief(name),
                known: list(names()),
                mend: did_you_mean(name, names()),
            };
            TextFault::new(base..base + name.len(), kind)
        })?;
    let articulation = match way {
        None => Articulation::Plain,
        Some(way) => articulation(voice, way, base + name.len() + 1)?,
    };
    Ok(VoiceToken {
        voice,
        articulation,
    })
}

/// Reads the word after the colon.
fn articulation(voice: Voice, way: &str, base: usize) -> Result<Articulation, TextFault> {
    let known = voice.articulations();
    let hit = Articulation::from_name(way).filter(|a| known.contains(a));
    hit.ok_or_else(|| {
        let names = || known.iter().map(|a| a.name()).filter(|n| !n.is_empty());
        let none = names().next().is_none();
        let kind = Kind::Unknown {
            what: "articulation",
            read: format!("{}:{}", voice.name(), brief(way)),
            known: if none {
                "none for this voice".into()
            } else {
                list(names())
            },
            mend: match did_you_mean(way, names()) {
                Mend(None) => Mend(Some(format!("write {} alone", voice.name()))),
                mend => mend,
            },
        };
        TextFault::new(base..base + way.len(), kind)
    })
}

/// Names in a row, cut where there are many.
pub(in crate::score) fn list<'a>(names: impl Iterator<Item = &'a str>) -> String {
    const MOST: usize = 20;
    let mut out = String::new();
    for (i, name) in names.enumerate() {
        if i == MOST {
            out.push_str(" …");
            break;
        }
        if i > 0 {
            out.push(' ');
        }
        out.push_str(name);
    }
    out
}
