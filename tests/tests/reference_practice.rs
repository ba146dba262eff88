//! Practice tracks as MIDI files, read by the reference library `mido`.
//!
//! A small generator writes scores and asks for tracks, and describes both
//! plainly. Python works the track out from the description alone.

use anyhow::Result;
use barform_dice::Dice;
use barform_tests::command;
use serde_json::{Value, json};
use std::fs;
use std::path::Path;

const CASES: u64 = 120;

fn case(folder: &Path, number: u64) -> Result<Value> {
    let mut random = Dice::of(number);
    let mut text = "barform = 1\n".to_owned();
    let mut cells = serde_json::Map::new();
    for letter in ["A", "B", "C"] {
        let slots = 1 + random.below(8);
        let limbs: Vec<char> = (0..slots)
            .map(|_| random.pick(&['R', 'L', 'K', '-']))
            .collect();
        let spaced: Vec<String> = limbs.iter().map(char::to_string).collect();
        let sticking = spaced.join(" ");
        text += &format!("[cell.{letter}]\ngrid = \"{slots}\"\nsticking = \"{sticking}\"\n");
        cells.insert(
            letter.to_owned(),
            limbs.into_iter().collect::<String>().into(),
        );
    }
    let beats = 4 * (1 + random.below(3));
    let form: Vec<&str> = (0..beats).map(|_| random.pick(&["A", "B", "C"])).collect();
    text = text.replacen('\n', &format!("\nform = \"{}\"\n", form.join(" ")), 1);
    // Tempos that whole microseconds cannot hold among them.
    let tempos: Vec<String> = (0..1 + random.below(4))
        .map(|_| format!("{}.{}", 40 + random.below(200), random.below(10)))
        .collect();
    let passes = 1 + random.below(12);
    let count_in = random.below(3);
    let of = 1 + random.below(4);
    let silent = random.below(of + 1);
    let turns: Vec<(&str, usize)> = match random.below(2) {
        0 => Vec::new(),
        _ => vec![
            ("barform", 1 + random.below(3)),
            ("player", 1 + random.below(3)),
        ],
    };
    let score = folder.join(format!("{number}.barform"));
    let file = folder.join(format!("{number}.mid"));
    fs::write(&score, &text)?;
    let mut barform = command::barform()?;
    barform
        .args(["practice", "track"])
        .arg(&score)
        .arg("--output")
        .arg(&file);
    barform.args(["--tempo", &tempos.join(" ")]);
    barform.args(["--each", &format!("{passes} passes")]);
    barform.args(["--count-in", &count_in.to_string()]);
    barform.args(["--gaps", &format!("{silent} of {of}")]);
    if !turns.is_empty() {
        let words: Vec<String> = turns
            .iter()
            .map(|(who, n)| format!("{who} {n} bars"))
            .collect();
        barform.args(["--trade", &words.join(", ")]);
    }
    command::checked(barform.output()?, &text)?;
    Ok(json!({
        "file": file, "cells": cells, "form": form, "tempos": tempos, "passes": passes,
        "count_in": count_in, "gap": [silent, of], "turns": turns,
    }))
}

#[test]
fn tracks_are_read_as_they_were_described() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let cases: Vec<Value> = (0..CASES)
        .map(|number| case(folder.path(), number))
        .collect::<Result<_>>()?;
    let list = folder.path().join("cases.json");
    fs::write(&list, serde_json::to_vec(&cases)?)?;
    let read: Value = serde_json::from_str(&command::python("read_practice.py", &[&list])?)?;
    let seen = |what: &str| read[what].as_u64().unwrap_or(0);
    assert_eq!(seen("cases"), CASES);
    for what in ["steps", "gaps", "trades"] {
        assert!(seen(what) >= 10, "{what}: {read}");
    }
    assert!(seen("notes") > 10_000, "{read}");
    Ok(())
}
