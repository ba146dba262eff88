//! `barform practice` as a script or a person meets it.

mod common;

use common::{SOUND, barform, err, folder_with, names, out, status};
use serde_json::Value;
use std::fs;
use std::process::Command;

const PLAN: &str = "barform = 1\n[practice]\ntempo = \"60 120\"\n[practice.count-in]\nbars = 0\n";

#[test]
fn a_track_is_written_as_its_name_says() {
    let folder = folder_with(&[("four.barform", SOUND), ("two.plan", PLAN)]);
    for name in ["a.wav", "a.flac", "a.mid"] {
        let args = [
            "practice",
            "track",
            "four.barform",
            "--plan",
            "two.plan",
            "--tail",
            "0",
            "-o",
            name,
        ];
        let done = barform(folder.path(), &args);
        assert_eq!(status(&done), 0, "{}", err(&done));
        assert!(
            out(&done).starts_with(&format!("{name}: 6.0 s")),
            "{}",
            out(&done)
        );
        let steps = "  0:00.0  form at 60: 1 bar\n  0:04.0  form at 120: 1 bar\n";
        assert!(out(&done).ends_with(steps), "{}", out(&done));
    }
    let heads = [
        ("a.wav", &b"RIFF"[..]),
        ("a.flac", b"fLaC"),
        ("a.mid", b"MThd"),
    ];
    for (name, head) in heads {
        assert!(
            fs::read(folder.path().join(name))
                .unwrap()
                .starts_with(head)
        );
    }
    // None is replaced unasked.
    let again = barform(
        folder.path(),
        &["practice", "track", "four.barform", "-o", "a.mid"],
    );
    assert_eq!(status(&again), 3);
    assert!(err(&again).contains("--force"));
    let plain = barform(folder.path(), &["practice", "track", "four.barform", "-q"]);
    assert_eq!((status(&plain), out(&plain)), (0, ""));
    assert!(names(folder.path()).contains(&"four-practice.wav".to_owned()));
}

#[test]
fn a_wrong_plan_is_told_with_its_place() {
    let bad = PLAN.replace("tempo", "tempos");
    let folder = folder_with(&[("four.barform", SOUND), ("bad.plan", &bad)]);
    let refused = barform(
        folder.path(),
        &["practice", "track", "four.barform", "--plan", "bad.plan"],
    );
    assert_eq!(status(&refused), 1);
    let lines: Vec<&str> = err(&refused).lines().collect();
    assert!(
        lines[0].starts_with("barform: bad.plan:3:1: unknown key 'tempos'"),
        "{}",
        lines[0]
    );
    assert!(lines[0].ends_with("did you mean 'tempo'?"), "{}", lines[0]);
    assert_eq!(lines[1], "tempos = \"60 120\"");
    let usage = barform(
        folder.path(),
        &["practice", "track", "four.barform", "--tempo", "fast"],
    );
    assert_eq!(status(&usage), 2);
    let nowhere = barform(
        folder.path(),
        &["practice", "track", "four.barform", "--play", "letter Q"],
    );
    assert_eq!(status(&nowhere), 1);
    assert!(err(&nowhere).contains("no letter Q"), "{}", err(&nowhere));
}

#[test]
fn a_take_is_reviewed_kept_and_due() {
    let folder = folder_with(&[("four.barform", SOUND)]);
    let practice = |args: &[&str]| barform(folder.path(), &[&["practice"], args].concat());
    let made = practice(&[
        "track",
        "four.barform",
        "--each",
        "8 passes",
        "--no-click",
        "-o",
        "take.mid",
    ]);
    assert_eq!(status(&made), 0, "{}", err(&made));
    let review = [
        "review",
        "four.barform",
        "take.mid",
        "--each",
        "8 passes",
        "--history",
        "data",
    ];
    let text = practice(&review);
    assert_eq!(status(&text), 0, "{}", err(&text));
    assert!(
        out(&text).starts_with("64 strokes due, 0 missed, 0 on the wrong drum, 0 extra\n"),
        "{}",
        out(&text)
    );
    assert!(!folder.path().join("data").exists());
    let json = practice(&[&review[..], &["--json", "--keep"]].concat());
    let json: Value = serde_json::from_str(out(&json)).unwrap();
    assert_eq!(json["all"]["due"], 64);
    assert_eq!(json["strokes"].as_array().unwrap().len(), 64);
    assert!(
        json["next"]
            .as_str()
            .unwrap()
            .starts_with("Take the next tempo step")
    );
    // Late by what the latency says.
    let late = practice(&[&review[..], &["--json", "--latency", "-25"]].concat());
    let late: Value = serde_json::from_str(out(&late)).unwrap();
    assert!((late["all"]["late_ms"].as_f64().unwrap() - 25.0).abs() < 0.1);
    let today = practice(&["today", "--history", "data"]);
    assert_eq!(out(&today), "Nothing is due.\n");
    // As of long ago it is due.
    let path = folder.path().join("data/practice.jsonl");
    let line = fs::read_to_string(&path).unwrap();
    let when = line
        .split("\"when\":\"")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap();
    fs::write(
        &path,
        line.replace(when, "2020-01-01T00:00:00Z") + "damaged\n",
    )
    .unwrap();
    let today = practice(&["today", "--history", "data", "--minutes", "10"]);
    assert!(
        out(&today).starts_with(" 10 min  A of Four: "),
        "{}",
        out(&today)
    );
    assert!(
        err(&today).contains("1 damaged line of the history set aside"),
        "{}",
        err(&today)
    );
}

/// Two programs at once.
#[test]
fn sessions_of_several_programs_are_all_kept() {
    let folder = folder_with(&[("four.barform", SOUND)]);
    let made = [
        "practice",
        "track",
        "four.barform",
        "--no-click",
        "-o",
        "take.mid",
        "-q",
    ];
    assert_eq!(status(&barform(folder.path(), &made)), 0);
    let review = [
        "practice",
        "review",
        "four.barform",
        "take.mid",
        "--keep",
        "--history",
        "data",
    ];
    for _ in 0..5 {
        let spawn = |_| {
            Command::new(env!("CARGO_BIN_EXE_barform"))
                .args(review)
                .current_dir(folder.path())
                .stdout(std::process::Stdio::null())
                .spawn()
                .unwrap()
        };
        let children: Vec<_> = (0..8).map(spawn).collect();
        for mut child in children {
            assert!(child.wait().unwrap().success());
        }
    }
    let text = fs::read_to_string(folder.path().join("data/practice.jsonl")).unwrap();
    assert_eq!(text.lines().count(), 40);
    for line in text.lines() {
        assert_eq!(serde_json::from_str::<Value>(line).unwrap()["practice"], 1);
    }
}

#[test]
fn the_care_line_is_in_the_help() {
    let folder = folder_with(&[]);
    for args in [
        &["practice", "--help"][..],
        &["practice", "track", "--help"],
    ] {
        let help = barform(folder.path(), args);
        assert!(
            out(&help).contains("Start the monitor low"),
            "{}",
            out(&help)
        );
    }
}
