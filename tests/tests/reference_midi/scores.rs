//! Scores as text, and the same music as a plain description.

use num_rational::Ratio;
use serde_json::{Value, json};
use std::fmt::Write as _;

/// Exact time in beats.
type Beats = Ratio<i64>;

/// A score to be turned into a MIDI file.
pub struct Case {
    /// The score file.
    pub text: String,
    /// Further words of the command line.
    pub options: Vec<String>,
    /// What it means, for Python.
    pub music: Value,
}

/// A fixed sequence of numbers (splitmix64, Steele et al. 2014), so that every
/// run tests the same scores.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }

    fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }

    fn pick<T: Clone>(&mut self, from: &[T]) -> T {
        from[self.below(from.len())].clone()
    }
}

/// Slots and length of each span.
type Spans = Vec<(i64, Beats)>;

fn beats_text(b: Beats) -> String {
    if b.is_integer() {
        b.numer().to_string()
    } else {
        format!("{}/{}", b.numer(), b.denom())
    }
}

fn spans_text(spans: &Spans) -> String {
    let words: Vec<String> = spans
        .iter()
        .map(|(n, length)| {
            if *length == Beats::from_integer(1) {
                n.to_string()
            } else {
                format!("{n}@{}", beats_text(*length))
            }
        })
        .collect();
    words.join(" ")
}

fn spans_json(spans: &Spans) -> Value {
    spans
        .iter()
        .map(|(n, length)| json!([n, beats_text(*length)]))
        .collect()
}

struct Pattern {
    spans: Spans,
    sticking: Vec<String>,
    voices: Vec<String>,
    slots: Vec<Value>,
}

impl Pattern {
    fn length(&self) -> Beats {
        self.spans.iter().map(|(_, length)| *length).sum()
    }

    fn text(&self) -> String {
        format!(
            "grid = \"{}\"\nsticking = \"{}\"\nvoices = \"{}\"\n",
            spans_text(&self.spans),
            self.sticking.join(" "),
            self.voices.join(" ")
        )
    }

    fn json(&self) -> Value {
        json!({ "spans": spans_json(&self.spans), "slots": self.slots })
    }

    /// One stroke and rests of exactly this length, to reach a bar line.
    fn filler(length: Beats) -> Pattern {
        Pattern {
            spans: vec![(1, length)],
            sticking: vec!["R".into()],
            voices: vec!["ride".into()],
            slots: vec![json!([{"voice": "ride", "how": "", "level": "normal",
                "graces": 0, "buzz": false, "foot": false}])],
        }
    }

    fn random(dice: &mut Dice, spans: Spans, feet_only: bool) -> Pattern {
        let count: i64 = spans.iter().map(|(n, _)| n).sum();
        let mut pattern = Pattern {
            spans,
            sticking: Vec::new(),
            voices: Vec::new(),
            slots: Vec::new(),
        };
        for _ in 0..count {
            let mut limbs = Vec::new();
            let offered: &[&str] = if feet_only {
                &["K", "H"]
            } else {
                &["R", "L", "K", "H"]
            };
            let most = if dice.one_in(5) { 2 } else { 1 };
            if !dice.one_in(4) {
                for _ in 0..most {
                    let limb = dice.pick(offered);
                    if !limbs.contains(&limb) {
                        limbs.push(limb);
                    }
                }
            }
            pattern.add_slot(dice, &limbs);
        }
        pattern
    }

    fn add_slot(&mut self, dice: &mut Dice, limbs: &[&str]) {
        let (mut sticks, mut voices, mut strokes) = (Vec::new(), Vec::new(), Vec::new());
        for limb in limbs {
            let foot = matches!(*limb, "K" | "H");
            let (voice, how) = match *limb {
                "K" => ("kick", ""),
                "H" => dice.pick(&[("hatfoot", ""), ("hatfoot", "open")]),
                _ => dice.pick(&HAND_VOICES),
            };
            let graces = if foot {
                0
            } else {
                dice.pick(&[0, 0, 0, 0, 1, 2, 3])
            };
            let buzz = !foot && dice.one_in(8);
            let level = dice.pick(&["normal", "normal", "ghost", "accent"]);
            let lead = if *limb == "R" { "l" } else { "r" };
            let z = if buzz { "z" } else { "" };
            let stick = format!("{}{limb}{z}", lead.repeat(graces));
            sticks.push(match level {
                "ghost" => format!("({stick})"),
                "accent" => format!("{stick}>"),
                _ => stick,
            });
            voices.push(if how.is_empty() {
                voice.into()
            } else {
                format!("{voice}:{how}")
            });
            strokes.push(json!({
                "voice": voice, "how": how, "level": level, "graces": graces, "buzz": buzz,
                "foot": foot,
            }));
        }
        let or_rest = |words: Vec<String>| {
            if words.is_empty() {
                "-".to_owned()
            } else {
                words.join("+")
            }
        };
        self.sticking.push(or_rest(sticks));
        self.voices.push(or_rest(voices));
        self.slots.push(Value::Array(strokes));
    }
}

/// Voices for hands with every articulation that General MIDI Level 1 names.
const HAND_VOICES: [(&str, &str); 18] = [
    ("snare", ""),
    ("snare", ""),
    ("snare", "cross"),
    ("snare", "rim"),
    ("hat", ""),
    ("hat", "open"),
    ("tom1", ""),
    ("tom2", ""),
    ("tom3", ""),
    ("tom4", ""),
    ("tom5", ""),
    ("tom6", ""),
    ("ride", ""),
    ("ride", "bell"),
    ("crash", ""),
    ("crash2", ""),
    ("splash", ""),
    ("china", ""),
];

const LETTERS: [&str; 6] = ["A", "B", "C", "D", "E2", "F"];

const METERS: [(i64, i64); 10] = [
    (4, 4),
    (4, 4),
    (3, 4),
    (5, 4),
    (7, 8),
    (6, 8),
    (12, 8),
    (2, 2),
    (11, 16),
    (1, 4),
];

/// Subdivisions as the form's brackets name them, with slots and beats.
const SUBDIVISIONS: [(&str, i64, i64); 8] = [
    ("8ths", 2, 1),
    ("8th-triplets", 3, 1),
    ("16ths", 4, 1),
    ("quintuplets", 5, 1),
    ("16th-triplets", 6, 1),
    ("32nds", 8, 1),
    ("quarter-triplets", 3, 2),
    ("7", 7, 1),
];

/// A form under construction: its text, and its letters written out.
struct Form {
    text: String,
    items: Vec<Value>,
    length: Beats,
}

fn random_spans(dice: &mut Dice) -> Spans {
    let one = Beats::from_integer(1);
    let half = Beats::new(1, 2);
    let kinds: [Spans; 12] = [
        vec![(4, one)],
        vec![(6, one)],
        vec![(2, one), (3, one)],
        vec![(6, one), (6, one), (6, one)],
        vec![(1, half), (3, half)],
        vec![(3, Beats::from_integer(2))],
        vec![(5, one)],
        vec![(7, one), (1, one)],
        vec![(8, one)],
        vec![(5, Beats::new(3, 2))],
        vec![(4, Beats::new(3, 4))],
        vec![(9, Beats::from_integer(2))],
    ];
    dice.pick(&kinds)
}

/// One letter of a form with what its brackets say.
fn random_item(dice: &mut Dice, cells: &[(String, Pattern)], form: &mut Form, rate: Beats) {
    let (letter, cell) = &cells[dice.below(cells.len())];
    let mut brackets = Vec::new();
    let mut subdivision = Value::Null;
    let mut length = cell.length();
    if dice.one_in(5) {
        let (name, slots, span) = dice.pick(&SUBDIVISIONS);
        let slot = Beats::new(span, slots);
        let carry = dice.one_in(2);
        if carry {
            length = slot * Beats::from_integer(cell.slots.len() as i64);
        }
        // What a refit chooses is tested elsewhere; here only that onto its own
        // grid a cell is as it was.
        let own = cell
            .spans
            .iter()
            .all(|(n, length)| *length / Beats::from_integer(*n) == slot);
        if carry || own {
            brackets.push(if carry {
                format!("{name} carry")
            } else {
                name.to_owned()
            });
            subdivision = json!({"slot": beats_text(slot), "carry": carry});
        }
    }
    let mut own = Beats::from_integer(1);
    if dice.one_in(8) {
        own = dice.pick(&[Beats::from_integer(2), Beats::new(1, 2)]);
        brackets.push(format!("rate {}", beats_text(own)));
    }
    let rate = rate * own;
    let shown = if brackets.is_empty() {
        String::new()
    } else {
        format!("[{}]", brackets.join(", "))
    };
    let _ = write!(form.text, "{letter}{shown} ");
    form.items.push(json!({
        "letter": letter, "subdivision": subdivision, "rate": beats_text(rate),
    }));
    form.length += length / rate;
}

fn random_form(dice: &mut Dice, cells: &[(String, Pattern)]) -> Form {
    let one = Beats::from_integer(1);
    let mut form = Form {
        text: String::new(),
        items: Vec::new(),
        length: Beats::from_integer(0),
    };
    for _ in 0..=dice.below(4) {
        if !dice.one_in(3) {
            random_item(dice, cells, &mut form, one);
            continue;
        }
        let rate = if dice.one_in(4) {
            Beats::from_integer(2)
        } else {
            one
        };
        let mut group = Form {
            text: String::new(),
            items: Vec::new(),
            length: Beats::from_integer(0),
        };
        for _ in 0..=dice.below(2) {
            random_item(dice, cells, &mut group, rate);
        }
        let times = 1 + dice.below(3);
        let brackets = if rate == one { "" } else { "[rate 2]" };
        let _ = write!(form.text, "({})x{times}{brackets} ", group.text.trim());
        for _ in 0..times {
            form.items.extend(group.items.iter().cloned());
        }
        form.length += group.length * Beats::from_integer(times as i64);
    }
    form
}

/// A score from a number: always the same.
pub fn random_case(number: u64) -> Case {
    let mut dice = Dice(number);
    let zero = Beats::from_integer(0);
    let mut cells: Vec<(String, Pattern)> = Vec::new();
    for letter in LETTERS.iter().take(2 + dice.below(4)) {
        let spans = random_spans(&mut dice);
        cells.push((
            (*letter).to_owned(),
            Pattern::random(&mut dice, spans, false),
        ));
    }
    let chosen = cells.len();
    let meter = dice.pick(&METERS);
    let bar = |(n, d): (i64, i64)| Beats::new(4 * n, d);
    let pickup = match dice.below(3) {
        0 => dice.pick(&[Beats::new(1, 2), Beats::from_integer(1), Beats::new(1, 3)]),
        _ => zero,
    };
    let pickup = if pickup < bar(meter) { pickup } else { zero };
    let mut sections = Vec::new();
    let mut text = String::new();
    let mut into_bar = zero - pickup;
    let mut now = meter;
    let many = 1 + dice.below(3);
    for n in 0..many {
        let mut form = random_form(&mut dice, &cells[..chosen]);
        // The next section may change the meter only on a bar line; so does
        // this one end.
        let next = dice.pick(&METERS);
        into_bar += form.length;
        if into_bar < zero {
            // Shorter than the pickup: fill up to the first bar line.
            form.fill(&mut cells, zero - into_bar);
            into_bar = zero;
        }
        into_bar -= bar(now) * (into_bar / bar(now)).floor();
        if n + 1 < many && into_bar != zero {
            form.fill(&mut cells, bar(now) - into_bar);
            into_bar = zero;
        }
        let own = (n > 0).then_some(now);
        let name = ["Head", "Middle part", "Schluß"][n];
        let _ = writeln!(text, "[[section]]\nname = \"{name}\"");
        if let Some((count, unit)) = own {
            let _ = writeln!(text, "meter = \"{count}/{unit}\"");
        }
        let _ = writeln!(text, "form = \"{}\"\n", form.text.trim());
        sections.push(json!({"name": name, "meter": [now.0, now.1], "items": form.items}));
        now = next;
    }
    let (mut ostinatos, mut cell_text) = (Vec::new(), String::new());
    for name in ["low", "high"].iter().take(dice.below(3)) {
        let spans = random_spans(&mut dice);
        let pattern = Pattern::random(&mut dice, spans, true);
        let _ = writeln!(cell_text, "[ostinato.{name}]\n{}", pattern.text());
        ostinatos.push(json!({"name": name, "pattern": pattern.json()}));
    }
    let mut cell_music = serde_json::Map::new();
    for (letter, cell) in &cells {
        let _ = writeln!(cell_text, "[cell.\"{letter}\"]\n{}", cell.text());
        cell_music.insert(letter.clone(), cell.json());
    }
    let tempo = dice.pick(&["120", "92", "60", "185/2", "133", "200"]);
    let written_tempo = if tempo == "185/2" { "92.5" } else { tempo };
    let head = format!(
        "barform = 1\ntitle = \"Étude {number}\"\ntempo = {written_tempo}\nmeter = \"{}/{}\"\n\
         pickup = \"{}\"\n\n",
        meter.0,
        meter.1,
        beats_text(pickup)
    );
    let passes = 1 + dice.below(3);
    let lead = dice.below(3);
    let click = dice.one_in(2);
    let grace_ms = dice.pick(&[25, 18, 40]);
    let mut options = vec![
        format!("--passes={passes}"),
        format!("--lead={lead}"),
        format!("--grace={grace_ms}"),
    ];
    options.extend(click.then(|| "--click".to_owned()));
    let music = json!({
        "title": format!("Étude {number}"), "tempo": tempo, "meter": [meter.0, meter.1],
        "pickup": beats_text(pickup), "cells": cell_music, "sections": sections,
        "ostinatos": ostinatos, "passes": passes, "lead": lead, "click": click,
        "grace_us": grace_ms * 1000, "buzz_us": 30_000, "gate_us": 60_000,
    });
    Case {
        text: format!("{head}{text}{cell_text}"),
        options,
        music,
    }
}

impl Form {
    /// Adds a cell of exactly this length.
    fn fill(&mut self, cells: &mut Vec<(String, Pattern)>, length: Beats) {
        let letter = format!("Z{}", cells.len());
        let _ = write!(self.text, "{letter} ");
        self.items
            .push(json!({"letter": letter, "subdivision": null, "rate": "1"}));
        self.length += length;
        cells.push((letter, Pattern::filler(length)));
    }
}

/// The built-in score; Python reads its text itself.
pub fn demo_case(text: String) -> Case {
    let music = json!({
        "score": text, "passes": 2, "lead": 1, "click": true,
        "grace_us": 25_000, "buzz_us": 30_000, "gate_us": 60_000,
    });
    let options = ["--passes=2", "--lead=1", "--click"]
        .map(str::to_owned)
        .to_vec();
    Case {
        text,
        options,
        music,
    }
}

/// Tuplets of 11, 13, 17, 19 and 23 in one form: their common division has no
/// place in 15 bits.
pub fn unfriendly_case() -> Case {
    let mut dice = Dice(0);
    let one = Beats::from_integer(1);
    let (mut text, mut cells, mut items) = (String::new(), serde_json::Map::new(), Vec::new());
    for (letter, n) in ["A", "B", "C", "D", "E"].iter().zip([11, 13, 17, 19, 23]) {
        let pattern = Pattern::random(&mut dice, vec![(n, one)], false);
        let _ = writeln!(text, "[cell.{letter}]\n{}", pattern.text());
        cells.insert((*letter).to_owned(), pattern.json());
        items.push(json!({"letter": letter, "subdivision": null, "rate": "1"}));
    }
    let head = "barform = 1\ntitle = \"\"\ntempo = 133\nmeter = \"5/4\"\nform = \"A B C D E |\"\n";
    let music = json!({
        "title": "", "tempo": "133", "meter": [5, 4], "pickup": "0", "cells": cells,
        "sections": [{"name": "", "meter": [5, 4], "items": items}],
        "ostinatos": [], "passes": 2, "lead": 1, "click": true,
        "grace_us": 25_000, "buzz_us": 30_000, "gate_us": 60_000,
    });
    let options = ["--passes=2", "--lead=1", "--click"]
        .map(str::to_owned)
        .to_vec();
    Case {
        text: format!("{head}\n{text}"),
        options,
        music,
    }
}
