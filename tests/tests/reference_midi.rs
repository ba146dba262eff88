//! MIDI files read by two reference libraries, `mido` and `pretty_midi`.
//!
//! A small generator writes scores as text and, beside it, a plain description
//! of the same music. Python works the schedule out from the description alone,
//! with exact fractions, and compares it with what the libraries read.

#[path = "reference_midi/patterns.rs"]
mod patterns;
#[path = "reference_midi/scores.rs"]
mod scores;

use std::fs;
use std::path::Path;

use anyhow::{Context, Result};
use barform_tests::command;
use scores::{Case, demo_case, random_case, unfriendly_case};
use serde_json::{Value, json};

/// Random scores besides those written by hand.
const CASES: u64 = 240;

/// Writes the score, has it turned into a MIDI file, and returns what Python
/// needs to know.
fn write(folder: &Path, name: &str, case: &Case) -> Result<Value> {
    let score = folder.join(format!("{name}.barform"));
    let file = folder.join(format!("{name}.mid"));
    fs::write(&score, &case.text)?;
    let output = command::barform()?
        .arg("midi")
        .arg(&score)
        .arg("--output")
        .arg(&file)
        .args(&case.options)
        .output()?;
    let told = command::checked(output, name).with_context(|| case.text.clone())?;
    Ok(json!({ "name": name, "file": file, "told": told, "music": case.music }))
}

#[test]
fn files_are_read_as_the_music_was_described() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let demo = command::checked(command::barform()?.arg("demo").output()?, "demo")?;
    let mut cases = vec![
        write(folder.path(), "demo", &demo_case(demo))?,
        write(folder.path(), "unfriendly", &unfriendly_case())?,
    ];
    for number in 0..CASES {
        let name = format!("random-{number}");
        cases.push(write(folder.path(), &name, &random_case(number))?);
    }
    let list = folder.path().join("cases.json");
    fs::write(&list, serde_json::to_vec(&cases)?)?;
    let read: Value = serde_json::from_str(&command::python("read_midi.py", &[&list])?)?;

    // The script ends with an error at the first difference; this makes sure
    // that it saw what it was meant to see.
    let seen = |what: &str| read[what].as_u64().unwrap_or(0);
    assert_eq!(seen("cases"), CASES + 2);
    for what in [
        "graces",
        "bounces",
        "merged",
        "clamped",
        "ostinato_notes",
        "clicks",
        "pickups",
        "meter_changes",
        "repeated",
        "inexact_divisions",
        "inexact_tempos",
        "refits",
        "carries",
        "rates",
        "open_notes",
    ] {
        assert!(seen(what) >= 1, "no {what} in any case: {read}");
    }
    assert!(seen("strokes") > 10_000, "{read}");
    Ok(())
}
