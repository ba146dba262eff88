//! Cells: text for a score file, and the same strokes in plain words.

use barform_dice::Dice;
use num_rational::Ratio;
use serde_json::{Value, json};

/// Exact time in beats.
pub type Beats = Ratio<i64>;

/// Slots and length of each span.
pub type Spans = Vec<(i64, Beats)>;

pub fn beats_text(b: Beats) -> String {
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

pub struct Pattern {
    pub spans: Spans,
    pub sticking: Vec<String>,
    pub voices: Vec<String>,
    pub slots: Vec<Value>,
}

impl Pattern {
    pub fn length(&self) -> Beats {
        self.spans.iter().map(|(_, length)| *length).sum()
    }

    pub fn text(&self) -> String {
        format!(
            "grid = \"{}\"\nsticking = \"{}\"\nvoices = \"{}\"\n",
            spans_text(&self.spans),
            self.sticking.join(" "),
            self.voices.join(" ")
        )
    }

    pub fn json(&self) -> Value {
        json!({ "spans": spans_json(&self.spans), "slots": self.slots })
    }

    /// One stroke and rests of exactly this length, to reach a bar line.
    pub fn filler(length: Beats) -> Pattern {
        Pattern {
            spans: vec![(1, length)],
            sticking: vec!["R".into()],
            voices: vec!["ride".into()],
            slots: vec![json!([{"voice": "ride", "how": "", "level": "normal",
                "graces": 0, "buzz": false, "foot": false}])],
        }
    }

    pub fn random(dice: &mut Dice, spans: Spans, feet_only: bool) -> Pattern {
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

/// How a cell's time is cut.
pub fn random_spans(dice: &mut Dice) -> Spans {
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
