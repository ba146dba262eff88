//! A score as the text of a score file: canonical and meant to be read.

mod text;

pub use text::{form_text, stick_slot_text, sticking_text, voice_slot_text, voices_text};

use super::form::{FormItem, Overrides};
use super::model::Voicing;
use super::model::{CellDef, Ostinato, Score, Section, StickSlot, VoiceSlot};
use super::read::{NO_KEY, every_voice};
use super::resolve::sources;
use super::timing::{Lay, Timing};
use crate::music::{Articulation, Beats, Grid, Kit, Voice};
use std::fmt::Write as _;
use text::{carry, rate_text, span_ends, voice_text};
use toml_edit::{Key, Value};

/// Keys of one table in order; those without a value are not written. Values
/// are TOML.
pub(super) type Entries = Vec<(&'static str, Option<String>)>;

impl Score {
    /// The score as a score file. Reading it back gives an equal score.
    pub fn to_toml(&self) -> String {
        let mut out = String::from("barform = 1\n");
        table(&mut out, "", top(self));
        if one_form(self).is_none() {
            for section in &self.sections {
                table(&mut out, "[[section]]", section_entries(section));
            }
        }
        for (def, grid) in self.cells.iter().zip(grids(self)) {
            let head = format!("[cell.{}]", key(def.letter.as_str()));
            table(&mut out, &head, cell(def, grid));
        }
        for def in &self.ostinatos {
            table(
                &mut out,
                &format!("[ostinato.{}]", key(&def.name)),
                ostinato(def),
            );
        }
        for def in &self.voicings {
            table(
                &mut out,
                &format!("[voicing.{}]", key(&def.name)),
                voicing(def),
            );
        }
        kit_tables(&mut out, &self.kit);
        timing_tables(&mut out, &self.timing);
        out
    }
}

/// The timing of a take.
fn timing_tables(out: &mut String, timing: &Timing) {
    let ms = |us: i32| number(Beats::new(i64::from(us), 1000));
    let lay = |lay: &Lay| {
        let (mean, spread) = (ms(lay.mean_us), ms(lay.spread_us));
        format!("[{mean}, {spread}, {}]", lay.strokes)
    };
    if !timing.is_empty() {
        table(out, "[timing]", vec![("all", timing.all.as_ref().map(lay))]);
    }
    let voices = timing
        .voices
        .iter()
        .map(|(v, l)| (v.name().to_owned(), lay(l)));
    let limbs = timing
        .limbs
        .iter()
        .map(|(x, l)| (x.letter().to_string(), lay(l)));
    let places = timing
        .places
        .iter()
        .map(|(p, l)| (key(&p.to_string()), lay(l)));
    let tables: [(&str, Vec<(String, String)>); 3] = [
        ("voice", voices.collect()),
        ("limb", limbs.collect()),
        ("place", places.collect()),
    ];
    for (name, entries) in tables.iter().filter(|(_, entries)| !entries.is_empty()) {
        let _ = writeln!(out, "\n[timing.{name}]");
        for (key, value) in entries {
            let _ = writeln!(out, "{key} = {value}");
        }
    }
}

/// A key map as a file of its own: what is not General MIDI's, in the words of a
/// score file. [`super::read_kit`] reads an equal kit back.
pub fn kit_text(kit: &Kit) -> String {
    let mut out = String::from("barform = 1\n");
    kit_tables(&mut out, kit);
    out
}

fn kit_tables(out: &mut String, kit: &Kit) {
    let order = kit_order(kit);
    if order.iter().any(|(_, value)| value.is_some()) {
        table(out, "[kit]", order);
    }
    for voice in every_voice() {
        let entries = kit_voice(kit, voice);
        if entries.iter().any(|(_, value)| value.is_some()) {
            table(out, &format!("[kit.{}]", voice.name()), entries);
        }
    }
}

/// A table under its head; without a head, the keys alone.
pub(super) fn table(out: &mut String, head: &str, entries: Entries) {
    if !head.is_empty() {
        let _ = writeln!(out, "\n{head}");
    }
    // Sticking and voices stand under each other, slot by slot.
    let aligned = entries
        .iter()
        .filter(|(k, v)| v.is_some() && is_line(k))
        .count()
        > 1;
    for (key, value) in entries {
        let Some(value) = value else { continue };
        let width = if aligned && is_line(key) {
            "sticking".len()
        } else {
            0
        };
        let _ = writeln!(out, "{key:width$} = {value}");
    }
}

fn is_line(key: &str) -> bool {
    matches!(key, "sticking" | "voices")
}

/// A name as a TOML key, in quotes where it needs them.
pub(super) fn key(name: &str) -> String {
    Key::new(name).display_repr().into_owned()
}

/// Text as a TOML string.
pub(super) fn quoted(text: &str) -> String {
    Value::from(text).to_string().trim().to_owned()
}

/// A number as TOML: whole or decimal where that is exact, else a fraction in
/// quotes.
fn number(value: Beats) -> String {
    const MILLION: i64 = 1_000_000;
    if value.is_whole() {
        return value.to_string();
    }
    if MILLION % value.denom() != 0 {
        return quoted(&value.to_string());
    }
    let millionths = i128::from(value.numer()) * i128::from(MILLION / value.denom());
    let (sign, size) = (
        if millionths < 0 { "-" } else { "" },
        millionths.unsigned_abs(),
    );
    let frac = format!("{:06}", size % 1_000_000);
    format!("{sign}{}.{}", size / 1_000_000, frac.trim_end_matches('0'))
}

/// The one form of a score that has no sections to speak of.
pub(super) fn one_form(score: &Score) -> Option<&[FormItem]> {
    match score.sections.as_slice() {
        [s] if s.name.is_empty() && s.meter.is_none() && s.overrides.is_empty() => Some(&s.items),
        _ => None,
    }
}

/// The keys at the top, but for the version.
pub(super) fn top(score: &Score) -> Entries {
    vec![
        (
            "title",
            (!score.title.is_empty()).then(|| quoted(&score.title)),
        ),
        ("tempo", Some(number(score.tempo))),
        ("meter", Some(quoted(&score.meter.to_string()))),
        (
            "pickup",
            score.pickup.is_positive().then(|| number(score.pickup)),
        ),
        (
            "form",
            one_form(score).map(|items| quoted(&form_text(items))),
        ),
    ]
}

/// The keys of a section.
pub(super) fn section_entries(section: &Section) -> Entries {
    let Overrides {
        subdivision,
        rate,
        level,
        voicing,
    } = &section.overrides;
    vec![
        (
            "name",
            (!section.name.is_empty()).then(|| quoted(&section.name)),
        ),
        ("meter", section.meter.map(|m| quoted(&m.to_string()))),
        (
            "subdivision",
            subdivision
                .as_ref()
                .map(|(s, fit)| quoted(&format!("{s}{}", carry(*fit)))),
        ),
        ("rate", rate.map(|r| quoted(rate_text(r)))),
        ("level", level.map(|l| l.to_string())),
        ("voicing", voicing.as_deref().map(quoted)),
        ("form", Some(quoted(&form_text(&section.items)))),
    ]
}

/// The grids the cells play on, their own or a parent's.
pub(super) fn grids(score: &Score) -> Vec<Option<&Grid>> {
    let grid = |i: usize| score.cells[i].grid.as_ref();
    match sources(score) {
        Ok(sources) => sources.into_iter().map(|s| s.grid.and_then(grid)).collect(),
        Err(_) => (0..score.cells.len()).map(grid).collect(),
    }
}

/// The keys of a cell.
pub(super) fn cell(def: &CellDef, grid: Option<&Grid>) -> Entries {
    let [sticking, voices] = lines(def.sticking.as_deref(), def.voices.as_deref(), grid);
    vec![
        ("like", def.like.as_ref().map(|l| quoted(l.as_str()))),
        ("grid", def.grid.as_ref().map(|g| quoted(&g.to_string()))),
        ("sticking", sticking),
        ("voices", voices),
    ]
}

/// The keys of an ostinato.
pub(super) fn ostinato(def: &Ostinato) -> Entries {
    let [sticking, voices] = lines(Some(&def.sticking), def.voices.as_deref(), Some(&def.grid));
    vec![
        ("grid", Some(quoted(&def.grid.to_string()))),
        ("sticking", sticking),
        ("voices", voices),
    ]
}

/// The keys of a voicing.
pub(super) fn voicing(def: &Voicing) -> Entries {
    def.map
        .iter()
        .map(|(from, to)| (from.name(), Some(quoted(&voice_text(*to)))))
        .collect()
}

/// The key of the kit itself, where it is not that of General MIDI.
pub(super) fn kit_order(kit: &Kit) -> Entries {
    let names: Vec<&str> = kit.order.iter().map(|v| v.name()).collect();
    let differs = kit.order != Kit::general_midi().order;
    vec![("order", differs.then(|| quoted(&names.join(" "))))]
}

/// The keys of a voice of the kit that are not those of General MIDI.
pub(super) fn kit_voice(kit: &Kit, voice: Voice) -> Entries {
    let standard = Kit::general_midi();
    let (is, was) = (kit.voice(voice), standard.voice(voice));
    let mut entries = Entries::new();
    for way in voice.articulations() {
        let name = if *way == Articulation::Plain {
            "key"
        } else {
            way.name()
        };
        let (is, was) = (is.keys[way.index()], was.keys[way.index()]);
        let text = is.map_or(quoted(NO_KEY), |k| k.number().to_string());
        entries.push((name, (is != was).then_some(text)));
    }
    let channel = is.channel.number().to_string();
    entries.push(("channel", (is.channel != was.channel).then_some(channel)));
    let [g, n, a] = [is.curve.ghost, is.curve.normal, is.curve.accent].map(|v| v.value());
    entries.push((
        "velocity",
        (is.curve != was.curve).then(|| format!("[{g}, {n}, {a}]")),
    ));
    entries
}

/// Sticking and voices in columns, a wider gap between spans of the grid.
fn lines(
    sticking: Option<&[StickSlot]>,
    voices: Option<&[VoiceSlot]>,
    grid: Option<&Grid>,
) -> [Option<String>; 2] {
    let sticking = sticking.map(|s| s.iter().map(stick_slot_text).collect::<Vec<_>>());
    let voices = voices.map(|v| v.iter().map(voice_slot_text).collect::<Vec<_>>());
    let width = |column: &Option<Vec<String>>, i: usize| {
        column
            .as_ref()
            .and_then(|c| c.get(i))
            .map_or(0, |token| token.chars().count())
    };
    let ends = span_ends(grid);
    let line = |tokens: &Vec<String>| {
        let mut out = String::new();
        for (i, token) in tokens.iter().enumerate() {
            let wide = width(&sticking, i).max(width(&voices, i));
            let gap = if ends.contains(&(i + 1)) { "  " } else { " " };
            let _ = write!(out, "{token:wide$}{gap}");
        }
        quoted(out.trim_end())
    };
    [sticking.as_ref().map(line), voices.as_ref().map(line)]
}
