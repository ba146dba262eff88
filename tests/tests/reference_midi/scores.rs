//! Scores as text, and the same music as a plain description.

use barform_dice::Dice;

use super::patterns::{Beats, Pattern, beats_text, random_spans};
use serde_json::{Value, json};
use std::fmt::Write as _;

/// A score to be turned into a MIDI file.
pub struct Case {
    /// The score file.
    pub text: String,
    /// Further words of the command line.
    pub options: Vec<String>,
    /// What it means, for Python.
    pub music: Value,
}

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
    let mut dice = Dice::of(number);
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
        format!("--count-in={lead}"),
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
    let options = ["--passes=2", "--count-in=1", "--click"]
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
    let mut dice = Dice::of(0);
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
    let options = ["--passes=2", "--count-in=1", "--click"]
        .map(str::to_owned)
        .to_vec();
    Case {
        text: format!("{head}\n{text}"),
        options,
        music,
    }
}
