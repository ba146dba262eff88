//! What docs/score-file.md says is so.

use barform_app::music::{MAX_SLOTS_PER_SPAN, Subdivision, Voice};
use barform_app::score::*;

const DOCS: &str = include_str!("../../../../docs/score-file.md");

#[test]
fn its_examples_are_read() {
    let examples: Vec<&str> = DOCS
        .split("```toml\n")
        .skip(1)
        .map(|rest| rest.split("```").next().unwrap())
        .collect();
    assert_eq!(examples.len(), 4);
    for example in examples {
        let read = Score::parse(example, "docs");
        assert!(read.is_ok(), "{}\n{example}", read.unwrap_err());
    }
}

#[test]
fn its_limits_hold() {
    let limits = [
        ("file", format!("{MAX_FILE_BYTES} bytes")),
        ("cells, variations included", MAX_CELLS.to_string()),
        ("sections", MAX_SECTIONS.to_string()),
        ("ostinatos", MAX_OSTINATOS.to_string()),
        ("voicings", MAX_VOICINGS.to_string()),
        ("groups inside each other", MAX_DEPTH.to_string()),
        ("repeat of a group", MAX_REPEATS.to_string()),
        (
            "cells in a form, repeats written out",
            MAX_PLACEMENTS.to_string(),
        ),
        (
            "bar-line checks in a form, repeats written out",
            MAX_PLACEMENTS.to_string(),
        ),
        ("slots of a cell or ostinato", MAX_SLOTS.to_string()),
        (
            "slots of one span of a grid",
            MAX_SLOTS_PER_SPAN.to_string(),
        ),
        (
            "length of a cell or ostinato",
            format!("{MAX_CELL_BEATS} beats"),
        ),
        (
            "shortest slot, at its rate",
            format!("1/{SLOTS_PER_BEAT} of a beat"),
        ),
        ("strokes at once", MAX_TOGETHER.to_string()),
        ("title or name", format!("{MAX_NAME_CHARS} characters")),
        ("terms of a fraction", MAX_TERM.to_string()),
    ];
    for (what, most) in limits {
        let row = format!("\n| {what} | {most} |\n");
        assert!(DOCS.contains(&row), "no row {row}");
    }
    let strokes = format!("a buzz as {BUZZ_STROKES} | {MAX_STROKES} |");
    assert!(DOCS.contains(&strokes), "no {strokes}");
}

#[test]
fn its_words_are_all_there() {
    for (name, ..) in Subdivision::NAMES {
        assert!(DOCS.contains(&format!("`{name}`")), "{name}");
    }
    let voices = DOCS.lines().find(|l| l.starts_with("| `snare` |")).unwrap();
    for voice in Voice::ALL {
        // Toms stand as "tom1 … tom6".
        let between = ["tom2", "tom3", "tom4", "tom5"].contains(&voice.name());
        assert!(between || voices.contains(voice.name()), "{}", voice.name());
    }
}
