//! MusicXML files validated by the standard's schema and read by two reference
//! libraries, `music21` and `verovio`; and files that `music21` writes, read by
//! the project.
//!
//! A small generator writes scores as text and, beside it, a plain description
//! of the same music. Python works the schedule out from the description alone,
//! with exact fractions, and compares it with what the libraries read.

#[path = "reference_midi/patterns.rs"]
mod patterns;
#[path = "reference_musicxml/repeats.rs"]
mod repeats;
// Its options are for MIDI files.
#[allow(dead_code)]
#[path = "reference_midi/scores.rs"]
mod scores;

use std::fs;
use std::path::Path;

use anyhow::{Context, Result};
use barform_app::export::musicxml as writer;
use barform_app::import::musicxml as reader;
use barform_app::score::Score;
use barform_app::sheet::notate::{self, Fold, NotateError};
use barform_app::timeline::Timeline;
use barform_tests::command;
use repeats::repeated_case;
use scores::{Case, demo_case, random_case, unfriendly_case};
use serde_json::{Value, json};

/// Random scores of each kind besides those written by hand.
const CASES: u64 = 154;

/// Writes a score as MusicXML and returns what Python needs to know; `None` if
/// it has no sensible notation.
fn write(folder: &Path, name: &str, case: &Case, fold: Fold) -> Result<Option<Value>> {
    let score = Score::parse(&case.text, name).with_context(|| case.text.clone())?;
    let timeline = Timeline::compile(&score)?;
    let options = notate::Options {
        fold,
        ..notate::Options::default()
    };
    let written = match notate::written(&score, &timeline, &options) {
        Ok(written) => written,
        Err(NotateError::Score(error)) => return Err(error.into()),
        Err(error) => {
            println!("{name}: {error}");
            return Ok(None);
        }
    };
    let options = writer::Options::default();
    let text = writer::write(&written, &timeline, &score, &options)?;
    let file = folder.join(format!("{name}.musicxml"));
    fs::write(&file, &text)?;
    // The project's own way back, byte for byte, and from the notes alone.
    let back = reader::read(text.as_bytes(), &reader::Options::default())?;
    assert_eq!(back.score, score, "{name}");
    let alone = reader::Options {
        take_carried: false,
        ..reader::Options::default()
    };
    let alone = reader::read(text.as_bytes(), &alone)?;
    Ok(Some(json!({
        "name": name, "file": file, "music": case.music, "repeats": fold == Fold::Repeats,
        "back": described(&alone.score)?,
    })))
}

/// Every stroke of a score in order of time, as plain words.
fn described(score: &Score) -> Result<Value> {
    let timeline = Timeline::compile(score)?;
    let mut strokes = Vec::new();
    for place in &timeline.places {
        let cell = timeline.cell_of(place);
        let bounds = cell.grid.slot_bounds()?;
        for (slot, at) in cell.slots.iter().zip(bounds) {
            for stroke in slot {
                let at = at.checked_add(place.start)?;
                let level = format!("{:?}", stroke.level).to_lowercase();
                strokes.push(json!([
                    at.to_string(),
                    stroke.voice.name(),
                    stroke.articulation.name(),
                    level,
                    stroke.graces.len(),
                    stroke.buzz,
                    stroke.limb.letter().to_string(),
                ]));
            }
        }
    }
    Ok(strokes.into())
}

#[test]
fn files_are_valid_and_read_as_the_music_was_described() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let mut cases = Vec::new();
    let mut without = 0;
    let mut add = |name: &str, case: &Case, fold: Fold| -> Result<()> {
        match write(folder.path(), name, case, fold)? {
            Some(case) => cases.push(case),
            None => without += 1,
        }
        Ok(())
    };
    add(
        "demo",
        &demo_case(barform_app::DEMO_SCORE.to_owned()),
        Fold::Full,
    )?;
    add("unfriendly", &unfriendly_case(), Fold::Full)?;
    for number in 0..CASES {
        add(
            &format!("random-{number}"),
            &random_case(number),
            Fold::Full,
        )?;
        let case = repeated_case(number);
        add(&format!("repeats-{number}"), &case, Fold::Repeats)?;
    }
    // What has no notation, such as three grids at odds in one beat, is refused
    // by the spelling; the generator makes enough that have one.
    let random = cases.len() - 2;
    assert!(
        random >= 300,
        "{random} compared, {without} without a notation"
    );
    let list = folder.path().join("cases.json");
    fs::write(&list, serde_json::to_vec(&cases)?)?;
    let read: Value = serde_json::from_str(&command::python("read_musicxml.py", &[&list])?)?;

    // The script ends with an error at the first difference; this makes sure
    // that it saw what it was meant to see.
    let seen = |what: &str| read[what].as_u64().unwrap_or(0);
    assert_eq!(seen("cases"), cases.len() as u64);
    for what in [
        "graces",
        "buzzes",
        "ghosts",
        "accents",
        "ostinato_notes",
        "pickups",
        "meter_changes",
        "repeats",
        "tuplets",
        "nested_tuplets",
        "feet",
        "open",
        "choke",
        "rehearsals",
        "words",
    ] {
        assert!(seen(what) >= 1, "no {what} in any case: {read}");
    }
    assert!(seen("strokes") > 8_000, "{read}");
    println!("{read}");
    Ok(())
}

/// Strokes without their limbs, which foreign files do not say; those of one
/// time in the order of their words.
fn unstuck(strokes: &Value) -> Result<Vec<String>> {
    let strokes = strokes.as_array().context("strokes")?;
    let mut out: Vec<(usize, String)> = Vec::new();
    let mut time = 0;
    for (i, s) in strokes.iter().enumerate() {
        if i > 0 && s[0] != strokes[i - 1][0] {
            time += 1;
        }
        out.push((
            time,
            json!([s[0], s[1], s[2], s[3], s[4], s[5]]).to_string(),
        ));
    }
    out.sort();
    Ok(out.into_iter().map(|(_, words)| words).collect())
}

#[test]
fn files_of_a_foreign_writer_are_read_exactly() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let listed = command::python("write_musicxml.py", &[folder.path()])?;
    let files: Value = serde_json::from_str(&listed)?;
    let files = files.as_array().context("a list of files")?;
    assert!(files.len() >= 20);
    for file in files {
        let name = file["name"].as_str().context("a name")?;
        let bytes = fs::read(folder.path().join(name))?;
        let read =
            reader::read(&bytes, &reader::Options::default()).with_context(|| name.to_owned())?;
        assert_eq!(
            unstuck(&described(&read.score)?)?,
            unstuck(&file["strokes"])?,
            "{name}"
        );
        assert_eq!(read.score.meter.to_string(), file["meter"], "{name}");
        assert_eq!(read.score.tempo.to_string(), file["tempo"], "{name}");
    }
    Ok(())
}
