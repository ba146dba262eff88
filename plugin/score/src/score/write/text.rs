//! The small languages inside the strings, backwards.

use super::super::form::{FormItem, Overrides, Rate};
use super::super::model::{StickSlot, StickToken, VoiceSlot, VoiceToken};
use crate::music::{Articulation, Fit, Grid, Level};
use std::fmt::Write as _;

pub(in crate::score::write) fn carry(fit: Fit) -> &'static str {
    match fit {
        Fit::Refit => "",
        Fit::Carry => " carry",
    }
}

pub(in crate::score::write) fn rate_text(rate: Rate) -> &'static str {
    match rate {
        Rate::Half => "1/2",
        Rate::Normal => "1",
        Rate::Double => "2",
    }
}

/// Number of slots up to the end of each span.
pub(in crate::score::write) fn span_ends(grid: Option<&Grid>) -> std::collections::HashSet<usize> {
    let mut sum = 0;
    let spans = grid.map_or(&[][..], |g| g.spans());
    spans
        .iter()
        .map(|s| {
            sum += usize::from(s.slots);
            sum
        })
        .collect()
}

/// A sticking line, as an editor shows it; `grid` only sets wider gaps.
pub fn sticking_text(slots: &[StickSlot], grid: Option<&Grid>) -> String {
    spaced(slots.iter().map(stick_slot_text), grid)
}

/// A voices line, as an editor shows it; `grid` only sets wider gaps.
pub fn voices_text(slots: &[VoiceSlot], grid: Option<&Grid>) -> String {
    spaced(slots.iter().map(voice_slot_text), grid)
}

fn spaced(tokens: impl Iterator<Item = String>, grid: Option<&Grid>) -> String {
    let ends = span_ends(grid);
    let mut out = String::new();
    for (i, token) in tokens.enumerate() {
        let gap = if i == 0 {
            ""
        } else if ends.contains(&i) {
            "  "
        } else {
            " "
        };
        let _ = write!(out, "{gap}{token}");
    }
    out
}

/// One slot of a sticking line.
pub fn stick_slot_text(slot: &StickSlot) -> String {
    if slot.is_empty() {
        return "-".to_owned();
    }
    slot.iter().map(stick_text).collect::<Vec<_>>().join("+")
}

fn stick_text(token: &StickToken) -> String {
    let mut text: String = token
        .graces
        .iter()
        .map(|hand| hand.grace_letter())
        .collect();
    text.push(token.limb.letter());
    if token.buzz {
        text.push('z');
    }
    match token.level {
        Level::Ghost => format!("({text})"),
        Level::Normal => text,
        Level::Accent => format!("{text}>"),
    }
}

/// One slot of a voices line.
pub fn voice_slot_text(slot: &VoiceSlot) -> String {
    match slot {
        VoiceSlot::Same => ".".to_owned(),
        VoiceSlot::Rest => "-".to_owned(),
        VoiceSlot::Voices(list) => list
            .iter()
            .map(|v| voice_text(*v))
            .collect::<Vec<_>>()
            .join("+"),
    }
}

pub(in crate::score::write) fn voice_text(token: VoiceToken) -> String {
    match token.articulation {
        Articulation::Plain => token.voice.name().to_owned(),
        way => format!("{}:{}", token.voice.name(), way.name()),
    }
}

/// Columns after which a long form goes on in a new line.
const FORM_COLUMNS: usize = 72;

/// A form as a score file writes it. Long ones break after a bar line.
pub fn form_text(items: &[FormItem]) -> String {
    let mut out = String::new();
    let mut line = 0;
    for item in items {
        if !out.is_empty() {
            let broken = line > FORM_COLUMNS && out.ends_with('|');
            out.push(if broken { '\n' } else { ' ' });
            line = if broken { 0 } else { line + 1 };
        }
        let before = out.len();
        item_text(&mut out, item);
        line += out.len() - before;
    }
    out
}

fn item_text(out: &mut String, item: &FormItem) {
    match item {
        FormItem::BarLine => out.push('|'),
        FormItem::Letter { letter, overrides } => {
            let _ = write!(out, "{letter}{}", brackets(overrides));
        }
        FormItem::Group {
            items,
            times,
            overrides,
        } => {
            out.push('(');
            for (i, item) in items.iter().enumerate() {
                if i > 0 {
                    out.push(' ');
                }
                item_text(out, item);
            }
            out.push(')');
            if *times != 1 {
                let _ = write!(out, "x{times}");
            }
            out.push_str(&brackets(overrides));
        }
    }
}

/// Overrides in brackets; nothing where nothing is stated.
fn brackets(overrides: &Overrides) -> String {
    let Overrides {
        subdivision,
        rate,
        level,
        voicing,
    } = overrides;
    let parts: Vec<String> = [
        subdivision
            .as_ref()
            .map(|(s, fit)| format!("{s}{}", carry(*fit))),
        rate.map(|r| format!("rate {}", rate_text(r))),
        level.map(|l| format!("level {l}%")),
        voicing.as_ref().map(|v| format!("voicing {v}")),
    ]
    .into_iter()
    .flatten()
    .collect();
    if parts.is_empty() {
        String::new()
    } else {
        format!("[{}]", parts.join(", "))
    }
}
