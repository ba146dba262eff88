//! The verbs of the craft as a script or a person meets them.

use serde_json::Value;
use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Output, Stdio};

/// Two bars, invented: A one beat, B two beats.
const SCORE: &str = r#"
barform = 1
title = "Two"
tempo = 90
form = "A A B | B A A |"

[cell.A]
grid = "4"
sticking = "R> L R L"
voices = "snare . tom1 ."

[cell.B]
grid = "3 3"
sticking = "R L K R L -"
"#;

fn barform_reading(folder: &Path, args: &[&str], input: &str) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_barform"))
        .args(args)
        .current_dir(folder)
        .env_remove("COLUMNS")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // A verb that reads no input may be gone already.
    let _ = child.stdin.take().unwrap().write_all(input.as_bytes());
    child.wait_with_output().unwrap()
}

fn out(output: &Output) -> &str {
    std::str::from_utf8(&output.stdout).unwrap()
}

fn err(output: &Output) -> &str {
    std::str::from_utf8(&output.stderr).unwrap()
}

fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("two.barform"), SCORE).unwrap();
    folder
}

/// What a verb prints about the score above.
fn said(args: &[&str]) -> String {
    let folder = folder();
    let all: Vec<&str> = [&args[..1], &["two.barform"], &args[1..]].concat();
    let output = barform_reading(folder.path(), &all, "");
    assert_eq!(output.status.code(), Some(0), "{args:?}: {}", err(&output));
    assert_eq!(err(&output), "", "{args:?}");
    out(&output).to_owned()
}

fn json(args: &[&str]) -> Value {
    serde_json::from_str(&said(&[args, &["--json"]].concat())).unwrap()
}

/// Whether one line of the text has these words in this order.
fn has_line(text: &str, words: &str) -> bool {
    text.lines()
        .any(|line| line.split_whitespace().collect::<Vec<_>>().join(" ") == words)
}

/// Status and message of a call that fails; nothing is printed.
fn refused(folder: &Path, args: &[&str]) -> (i32, String) {
    let output = barform_reading(folder, args, "");
    assert_eq!(out(&output), "", "{args:?}");
    (output.status.code().unwrap(), err(&output).to_owned())
}

#[test]
fn counting_a_cell_and_the_form() {
    let text = said(&["count", "--letter", "B"]);
    assert!(has_line(&text, "1 trip let 2 trip let"), "{text}");
    let form = json(&["count"]);
    let places = form["places"].as_array().unwrap();
    assert_eq!(places.len(), 6);
    assert_eq!(places[2]["letter"], "B");
    assert_eq!(places[2]["from_bar_line"], "2");
    assert_eq!(places[2]["counts"][0], "3");
    assert_eq!(places[5]["bar"], 2);
    let takadimi = json(&["count", "--letter", "A", "--as", "takadimi"]);
    let counts: Vec<&Value> = takadimi["cells"][0]["slots"]
        .as_array()
        .unwrap()
        .iter()
        .map(|s| &s["count"])
        .collect();
    assert_eq!(counts, ["ta", "ka", "di", "mi"]);
    let list = barform_reading(folder().path(), &["count", "--traditions", "--json"], "");
    let list: Value = serde_json::from_str(out(&list)).unwrap();
    assert_eq!(list["default"], "american");
}

#[test]
fn sticking_costs_no_more_than_what_is_written() {
    let stuck = json(&["stick"]);
    for cell in stuck["cells"].as_array().unwrap() {
        let (best, written) = (cell["cost"].as_i64(), cell["cost_as_written"].as_i64());
        assert!(best.unwrap() <= written.unwrap(), "{cell}");
    }
    let given = json(&["stick", "--letter", "A", "--given"]);
    assert_eq!(
        given["cells"][0]["cost"],
        given["cells"][0]["cost_as_written"]
    );
    assert_eq!(given["cells"][0]["slots"][0]["sticking"], "R>");
}

#[test]
fn rudiments_are_found_and_listed() {
    let found = json(&["rudiments", "--letter", "A", "--times", "2"]);
    assert_eq!(found["found"][0]["name"], "single stroke roll");
    assert_eq!(found["found"][0]["times"], 8);
    let list = barform_reading(folder().path(), &["rudiments", "--list", "--json"], "");
    let list: Value = serde_json::from_str(out(&list)).unwrap();
    // Percussive Arts Society, International Drum Rudiments: 40 of them.
    assert_eq!(list["rudiments"].as_array().unwrap().len(), 40);
}

#[test]
fn harder_levels_are_not_slower() {
    let playable = json(&["playable"]);
    let tops: Vec<u64> = playable["levels"]
        .as_array()
        .unwrap()
        .iter()
        .map(|level| level["top_bpm"].as_u64().unwrap())
        .collect();
    assert_eq!(tops.len(), 4);
    assert!(tops.is_sorted(), "{tops:?}");
    assert_eq!(playable["tempo"], "90");
    let text = said(&[
        "playable", "--letter", "A", "--tempo", "300", "--level", "beginner",
    ]);
    assert!(
        text.contains("At 300 bpm") && text.contains("stop at pain"),
        "{text}"
    );
}

#[test]
fn variations_are_counted_and_repeat_with_their_seed() {
    let args = [
        "vary", "--letter", "A", "--number", "5", "--any", "--seed", "3",
    ];
    let made = json(&args);
    assert_eq!(made, json(&args));
    let cell = &made["cells"][0];
    assert_eq!(cell["variations"].as_array().unwrap().len(), 5);
    let totals: Vec<u64> = cell["variations"]
        .as_array()
        .unwrap()
        .iter()
        .map(|v| v["distance"]["total"].as_u64().unwrap())
        .collect();
    assert!(totals.is_sorted() && totals[0] > 0, "{totals:?}");
    // R> and L on fixed places, hands free: 16 stickings, of which RRRR, LLLL
    // and the 8 with three of a hand next to each other, going round, are too
    // much for the level; less the cell itself.
    let few = json(&[
        "vary",
        "--letter",
        "A",
        "--keep",
        "rests,accents,voices",
        "--level",
        "beginner",
    ]);
    assert_eq!(few["cells"][0]["exist"], "5");
    let text = said(&["vary", "--letter", "A", "--shift", "-1"]);
    assert!(has_line(&text, "L R L R>"), "{text}");
    assert_eq!(
        said(&["vary", "--letter", "A", "--shift", "3"]),
        text,
        "three later is one earlier, going round"
    );
}

#[test]
fn refit_keeps_the_length_and_carry_the_strokes() {
    let refit = json(&["refit", "--letter", "A", "--to", "16th-triplets"]);
    assert_eq!(refit["cells"][0]["beats"], "1");
    assert_eq!(refit["cells"][0]["slots"].as_array().unwrap().len(), 6);
    assert_eq!(refit["cells"][0]["reasons"].as_array().unwrap().len(), 6);
    let carried = json(&["refit", "--letter", "A", "--to", "16th-triplets", "--carry"]);
    let cell = &carried["cells"][0];
    assert_eq!(cell["beats"], "2/3");
    // 2/3 of a beat and bars of four beats meet every four beats.
    assert_eq!(
        (&cell["back_after_times"], &cell["back_after_bars"]),
        (&6.into(), &1.into())
    );
    // Sixteenths at 90 are sixteenth triplets at 60.
    assert_eq!(cell["modulated_tempo"], "60");
    let choices = json(&["refit", "--letter", "B"]);
    assert_eq!(choices["cells"][0]["choices"].as_array().unwrap().len(), 11);
}

#[test]
fn another_kit() {
    let moved = json(&["revoice", "--letter", "A", "--kit", "hat,snare"]);
    let cell = &moved["cells"][0];
    assert_eq!(cell["slots"][2]["voices"], "snare", "no tom");
    assert_eq!(cell["changes"].as_array().unwrap().len(), 2);
    assert_eq!(cell["reversible"], false);
}

/// One bar from cells of one and two beats: 1, 2, 3, 5, 8 … ways for one, two,
/// three, four beats (Fibonacci).
#[test]
fn forms_are_counted() {
    let forms = json(&["forms", "--bars", "1", "--letters", "A,B"]);
    assert_eq!(forms["in_all"], "5");
    let forms = json(&["forms", "--bars", "2", "--letters", "A,B", "--number", "3"]);
    assert_eq!(forms["in_all"], "34");
    assert_eq!(forms["forms"].as_array().unwrap().len(), 3);
}

#[test]
fn a_form_that_cannot_be_checked_can_be_mended() {
    let folder = folder();
    let wrong = SCORE.replace("A A B | B A A |", "A A B | B A |");
    fs::write(folder.path().join("wrong.barform"), wrong).unwrap();
    let (status, message) = refused(folder.path(), &["check", "wrong.barform"]);
    assert_eq!(status, 1, "{message}");
    let output = barform_reading(folder.path(), &["mend", "wrong.barform", "--json"], "");
    let mended: Value = serde_json::from_str(out(&output)).unwrap();
    let section = &mended["sections"][0];
    assert_eq!(section["form"], "A A B | B A |");
    assert_eq!(section["misfits"][0]["over_beats"], "3");
    assert_eq!(section["misfits"][0]["short_beats"], "1");
    // Every way makes a form that checks.
    let ways = section["mends"].as_array().unwrap();
    assert!(!ways.is_empty());
    for way in ways
        .iter()
        .filter(|way| way["added"].as_array().unwrap().is_empty())
    {
        let form = way["form"].as_str().unwrap();
        let mended = SCORE.replace("A A B | B A A |", form);
        let output = barform_reading(folder.path(), &["check", "-"], &mended);
        assert_eq!(output.status.code(), Some(0), "{form}: {}", err(&output));
    }
    assert!(said(&["mend"]).contains("fills its bars"));
}

#[test]
fn mistakes_say_where_they_are() {
    let folder = folder();
    let here = folder.path();
    fs::write(
        here.join("bad.barform"),
        SCORE.replace("R L K R", "R Q K R"),
    )
    .unwrap();
    fs::write(
        here.join("bad.toml"),
        "[counting]\n\ndefault = \"nobody\"\n",
    )
    .unwrap();
    for verb in [
        "count",
        "stick",
        "rudiments",
        "playable",
        "vary",
        "refit",
        "mend",
    ] {
        let (status, message) = refused(here, &[verb, "bad.barform"]);
        assert_eq!(status, 1, "{verb}");
        assert!(
            message.starts_with("barform: bad.barform:14:15: "),
            "{verb}: {message}"
        );
        let (status, message) = refused(here, &[verb, "two.barform", "--rules", "bad.toml"]);
        assert_eq!(status, 1, "{verb}");
        let place = "barform: bad.toml:3:11: counting.default: no tradition 'nobody'";
        assert!(message.starts_with(place), "{verb}: {message}");
        let (status, message) = refused(here, &[verb]);
        assert_eq!(status, 2, "{verb}");
        assert!(message.contains("--demo"), "{verb}: {message}");
        let (status, message) = refused(here, &[verb, "none.barform"]);
        assert_eq!(status, 3, "{verb}");
        assert!(
            message.contains("none.barform: cannot be read"),
            "{verb}: {message}"
        );
    }
    for verb in ["count", "stick", "rudiments", "playable", "vary", "refit"] {
        let (status, message) = refused(here, &[verb, "two.barform", "--letter", "C"]);
        assert_eq!(status, 2, "{verb}");
        assert!(
            message.contains("its letters are A, B"),
            "{verb}: {message}"
        );
    }
    for (args, says) in [
        (
            &["count", "two.barform", "--as", "nobody"][..],
            "known are american",
        ),
        (
            &["vary", "two.barform", "--level", "hard"],
            "known are advanced",
        ),
        (
            &["vary", "two.barform", "--within", "9-3"],
            "at least the first",
        ),
        (&["vary", "two.barform", "--number", "0"], "1 to 10000"),
        (
            &["playable", "two.barform", "--level", "hard"],
            "known are beginner",
        ),
        (
            &["stick", "two.barform", "--setup", "upside-down"],
            "left-handed",
        ),
        (
            &["forms", "two.barform", "--bars", "1", "--letters", "A,A"],
            "twice",
        ),
        (
            &["revoice", "two.barform", "--kit", "kick"],
            "drums and cymbals alone",
        ),
        (&["refit", "two.barform", "--to", "sixteens"], "16ths"),
    ] {
        let (status, message) = refused(here, args);
        assert_eq!(status, 2, "{args:?}: {message}");
        assert!(message.contains(says), "{args:?}: {message}");
    }
}

#[test]
fn rules_of_ones_own_change_the_answer() {
    let folder = folder();
    let rules = "[counting]\ndefault = \"takadimi\"\n";
    fs::write(folder.path().join("mine.toml"), rules).unwrap();
    let args = ["count", "-", "--letter", "A", "--rules", "mine.toml"];
    let output = barform_reading(folder.path(), &args, SCORE);
    assert!(has_line(out(&output), "ta ka di mi"), "{}", out(&output));
}
