//! Sheets for the tests of layout: from text, and at random.
#![allow(dead_code)] // Each test file uses its own part.

pub mod touch;

use barform_app::score::Score;
use barform_app::sheet::engrave::{Paper, Style, engrave};
use barform_app::sheet::notate::{Fold, Options, written};
use barform_app::sheet::{Drawing, Glyph, Item, Kind, Role, Shape, Written, WrittenStroke};
use barform_app::timeline::Timeline;
use proptest::prelude::*;

/// What is written for a score.
pub fn music(text: &str, fold: Fold) -> Written {
    let score = Score::parse(text, "test.barform").unwrap_or_else(|e| panic!("{e}\n{text}"));
    let timeline = Timeline::compile(&score).expect("compiles");
    let options = Options {
        fold,
        ..Options::default()
    };
    written(&score, &timeline, &options).unwrap_or_else(|e| panic!("{e}\n{text}"))
}

/// A score of one cell, one bar of 4/4, drawn.
pub fn one_bar(grid: &str, sticking: &str, voices: &str) -> Drawing {
    draw(
        &music(&one_cell(grid, sticking, voices), Fold::Full),
        &Style::default(),
    )
}

/// The text of a score of one cell.
pub fn one_cell(grid: &str, sticking: &str, voices: &str) -> String {
    format!(
        "barform = 1\ntitle = \"Test\"\ntempo = 90\nmeter = \"4/4\"\nform = \"A\"\n\
         [cell.A]\ngrid = \"{grid}\"\nsticking = \"{sticking}\"\nvoices = \"{voices}\"\n"
    )
}

/// A sheet with the usual kit.
pub fn draw(written: &Written, style: &Style) -> Drawing {
    let kit = barform_app::music::Kit::general_midi();
    engrave(written, &kit, style).expect("can be drawn")
}

/// Items of a role, over all pages.
pub fn of(drawing: &Drawing, role: Role) -> Vec<&Item> {
    let items = drawing.pages.iter().flat_map(|p| &p.items);
    items.filter(|i| i.role == role).collect()
}

/// All glyphs of a kind.
pub fn glyphs(drawing: &Drawing, wanted: Glyph) -> Vec<&Item> {
    let items = drawing.pages.iter().flat_map(|p| &p.items);
    items
        .filter(|i| matches!(i.shape, Shape::Glyph { glyph, .. } if glyph == wanted))
        .collect()
}

/// Origin of a glyph or of words.
pub fn at_y(item: &Item) -> f32 {
    match item.shape {
        Shape::Glyph { at, .. } | Shape::Text { at, .. } => at.y,
        _ => panic!("a glyph or words"),
    }
}

/// Words of an item.
pub fn words(item: &Item) -> Option<&str> {
    match &item.shape {
        Shape::Text { text, .. } => Some(text),
        _ => None,
    }
}

/// All strokes in order.
pub fn strokes(written: &Written) -> Vec<WrittenStroke> {
    let lines = written.bars.iter().flat_map(|b| [&b.hands, &b.feet]);
    lines
        .flat_map(|l| &l.elements)
        .flat_map(|e| match &e.kind {
            Kind::Notes(strokes) => strokes.clone(),
            Kind::Rest { .. } => Vec::new(),
        })
        .collect()
}

/// Every paper and size that is offered.
pub fn styles() -> Vec<Style> {
    let custom = Paper {
        width_mm: 148.0,
        height_mm: 210.0,
    };
    let mut styles = Vec::new();
    for paper in [Paper::A4, Paper::LETTER, custom] {
        for landscape in [false, true] {
            let style = Style {
                paper,
                landscape,
                ..Style::default()
            };
            styles.push(style);
            styles.push(style.large_print());
        }
    }
    styles
}

const GRIDS: [&str; 20] = [
    "1",
    "2",
    "3",
    "4",
    "5",
    "6",
    "7",
    "8",
    "9",
    "12",
    "3@2",
    "5@2",
    "7@2",
    "4 6",
    "2 3",
    "1@1/2 3@1/2",
    "1@3/2 2@1/2",
    "1@2",
    "1@4",
    "3@1/2 2@1/2",
];
const SLOTS: [usize; 20] = [1, 2, 3, 4, 5, 6, 7, 8, 9, 12, 3, 5, 7, 10, 5, 4, 3, 1, 1, 5];
const STICKING: [&str; 22] = [
    "R", "L", "R>", "L>", "(R)", "(L)", "K", "H", "-", "-", "lR", "rL>", "llR", "rrL", "rlrL",
    "Rz", "Lz", "R+K", "R>+K", "R+L", "R>+H", "K>",
];
const HAND_VOICES: [&str; 24] = [
    ".",
    ".",
    ".",
    "snare",
    "snare",
    "snare:rim",
    "snare:cross",
    "hat",
    "hat",
    "hat:open",
    "hat:half",
    "hat:bell",
    "ride",
    "ride:bell",
    "crash",
    "crash:choke",
    "crash2",
    "splash",
    "china",
    "cowbell",
    "tom1",
    "tom2",
    "tom3",
    "tom4",
];

fn cell() -> impl Strategy<Value = String> {
    (0..GRIDS.len()).prop_flat_map(|grid| {
        let slots = SLOTS[grid];
        let strokes = proptest::collection::vec((0..STICKING.len(), 0..HAND_VOICES.len()), slots);
        strokes.prop_map(move |slots| {
            let sticking: Vec<&str> = slots.iter().map(|(s, _)| STICKING[*s]).collect();
            let voices: Vec<&str> = slots
                .iter()
                .map(|(s, v)| {
                    let hands = STICKING[*s].contains(['R', 'L']) && STICKING[*s] != "R+L";
                    if hands { HAND_VOICES[*v] } else { "." }
                })
                .collect();
            let (sticking, voices) = (sticking.join(" "), voices.join(" "));
            format!(
                "grid = \"{}\"\nsticking = \"{sticking}\"\nvoices = \"{voices}\"\n",
                GRIDS[grid]
            )
        })
    })
}

/// The text of a score: some cells, a form of sections, perhaps an ostinato.
pub fn score() -> impl Strategy<Value = String> {
    let names = prop_oneof![
        Just(""),
        Just("Call"),
        Just("Answer, up the kit and home again"),
        Just(
            "Überleitung: größer, höher, weiter — und am Ende noch einmal von vorn, aber leise und mit Besen"
        )
    ];
    let word = prop_oneof![
        6 => (0..4_usize).prop_map(|i| ["A", "B", "C'", "D12"][i].to_owned()),
        1 => (0..3_usize).prop_map(|i| format!("({} A)x3", ["A", "B", "D12"][i])),
        1 => Just("A[16ths]".to_owned()),
        1 => Just("B[rate 1/2]".to_owned()),
    ];
    // Each cell lasts whole beats, so this many passes fill whole bars.
    let meters = prop_oneof![
        Just(("4/4", 4)),
        Just(("3/4", 3)),
        Just(("7/8", 7)),
        Just(("12/8", 6)),
        Just(("5/4", 5)),
        Just(("2/2", 4)),
    ];
    let section = (names, meters, proptest::collection::vec(word, 1..7));
    (
        proptest::collection::vec(cell(), 4),
        proptest::collection::vec(section, 1..4),
        proptest::option::of(0..3_usize),
        any::<bool>(),
    )
        .prop_map(|(cells, sections, ostinato, one_meter)| {
            let mut text = String::from(
                "barform = 1\ntitle = \"At random, for the press\"\ntempo = 92\nmeter = \"4/4\"\n",
            );
            let first = sections[0].1.0;
            for (name, (meter, passes), words) in sections {
                let words = words.join(" ");
                let (meter, form) = if one_meter {
                    (first, words)
                } else {
                    (meter, format!("({words})x{passes}"))
                };
                text += &format!(
                    "[[section]]\nname = \"{name}\"\nmeter = \"{meter}\"\nform = \"{form}\"\n"
                );
            }
            for (letter, cell) in ["A", "B", "\"C'\"", "D12"].iter().zip(cells) {
                text += &format!("[cell.{letter}]\n{cell}");
            }
            if let Some(i) = ostinato {
                let (grid, sticking) = [("1 1", "- H"), ("2", "K H"), ("3", "K - H")][i];
                text += &format!("[ostinato.foot]\ngrid = \"{grid}\"\nsticking = \"{sticking}\"\n");
            }
            text
        })
}

/// Any way of folding.
pub fn fold() -> impl Strategy<Value = Fold> {
    prop_oneof![Just(Fold::Full), Just(Fold::Repeats), Just(Fold::Letters)]
}
