//! The history's file: nothing lost, nothing overwritten.

use barform_practice::history::{History, LetterLine, Session, today, worst_joins};
use std::fs;
use std::io::Write;
use std::path::Path;
use time::{Duration, OffsetDateTime};

fn now() -> OffsetDateTime {
    OffsetDateTime::from_unix_timestamp(1_790_000_000).unwrap()
}

fn session(letter: &str, days_ago: f64, missed: usize, spread_ms: f64) -> Session {
    let when = now() - Duration::seconds_f64(days_ago * 86_400.0);
    Session {
        when: when
            .format(&time::format_description::well_known::Rfc3339)
            .unwrap(),
        score: "Lantern Street".to_owned(),
        play: "form".to_owned(),
        tempo: (60.0, 90.0),
        seconds: 61.5,
        due: 100,
        missed,
        extra: 2,
        mean_ms: -3.25,
        spread_ms,
        letters: vec![LetterLine {
            letter: letter.to_owned(),
            due: 100,
            missed,
            mean_ms: -3.25,
            spread_ms,
        }],
    }
}

#[test]
fn sessions_come_back_as_they_were_added() {
    let folder = tempfile::tempdir().unwrap();
    let history = History::at(folder.path().join("data"));
    assert_eq!(history.read().unwrap().sessions, []);
    let all = [session("A", 3.0, 4, 9.5), session("B'", 1.0, 0, 7.25)];
    for one in &all {
        history.add(one).unwrap();
    }
    let read = history.read().unwrap();
    assert_eq!(read.sessions, all);
    assert_eq!((read.newer, read.set_aside), (0, None));
}

/// Each thread opens, locks and writes by itself, as another program would.
#[test]
fn eight_writers_at_once_lose_nothing() {
    let folder = tempfile::tempdir().unwrap();
    std::thread::scope(|scope| {
        for thread in 0..8 {
            let path = folder.path();
            scope.spawn(move || {
                let history = History::at(path);
                for n in 0..50 {
                    history
                        .add(&session("B", f64::from(n), thread, 10.0))
                        .unwrap();
                    // Reading in between disturbs nobody.
                    if n % 10 == 0 {
                        assert_eq!(history.read().unwrap().set_aside, None);
                    }
                }
            });
        }
    });
    let read = History::at(folder.path()).read().unwrap();
    assert_eq!(read.set_aside, None);
    for thread in 0..8 {
        let of = read.sessions.iter().filter(|s| s.missed == thread);
        assert_eq!(of.count(), 50);
    }
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().file_name());
    let mut names: Vec<String> = entries.map(|n| n.into_string().unwrap()).collect();
    names.retain(|n| !n.starts_with('.'));
    names.sort();
    names
}

#[test]
fn damaged_lines_are_set_aside_and_never_overwritten() {
    let folder = tempfile::tempdir().unwrap();
    let history = History::at(folder.path());
    history.add(&session("A", 2.0, 0, 8.0)).unwrap();
    let newer = "{\"practice\":2,\"shape\":\"unknown\"}";
    let bad = b"{\"practice\":1,\"when\":\"never\"}\nnot JSON \xff\n".to_vec();
    let mut file = fs::OpenOptions::new()
        .append(true)
        .open(history.path())
        .unwrap();
    file.write_all(format!("{newer}\n").as_bytes()).unwrap();
    file.write_all(&bad).unwrap();
    // A crash in the middle of a line.
    file.write_all(b"{\"practice\":1,\"wh").unwrap();
    drop(file);
    history.add(&session("B", 1.0, 0, 8.0)).unwrap();

    let read = history.read().unwrap();
    let letters: Vec<&str> = read
        .sessions
        .iter()
        .map(|s| s.letters[0].letter.as_str())
        .collect();
    assert_eq!(letters, ["A", "B"]);
    assert_eq!(read.newer, 1);
    let aside = read.set_aside.unwrap();
    assert_eq!(aside.lines, 3);
    let kept = [&bad[..], b"{\"practice\":1,\"wh\n"].concat();
    assert_eq!(fs::read(&aside.path).unwrap(), kept);
    assert!(fs::read_to_string(history.path()).unwrap().contains(newer));
    // Once is enough.
    assert_eq!(history.read().unwrap().set_aside, None);

    // A second time: another name, the first file as it was.
    let mut file = fs::OpenOptions::new()
        .append(true)
        .open(history.path())
        .unwrap();
    file.write_all(b"rubbish\n").unwrap();
    let second = history.read().unwrap().set_aside.unwrap();
    assert_ne!(second.path, aside.path);
    assert_eq!(fs::read(&aside.path).unwrap(), kept);
    assert_eq!(
        names(folder.path()),
        [
            "practice.damaged-1.jsonl",
            "practice.damaged-2.jsonl",
            "practice.jsonl"
        ]
    );
}

#[test]
fn what_is_weak_or_long_not_played_is_due() {
    let sessions = [
        // Good five times in a row: due after two weeks.
        session("A", 40.0, 0, 8.0),
        session("A", 38.0, 0, 8.0),
        session("A", 35.0, 0, 8.0),
        session("A", 30.0, 0, 8.0),
        session("A", 10.0, 0, 8.0),
        // Good once, a day ago; weak a day ago; good once, three days ago.
        session("B", 1.0, 0, 8.0),
        session("C", 1.0, 30, 25.0),
        session("D", 3.0, 0, 8.0),
        // Weak an hour ago: not again today.
        session("E", 1.0 / 24.0, 30, 25.0),
    ];
    let due = today(&sessions, now(), 20);
    let letters: Vec<&str> = due.iter().map(|d| d.letter.as_str()).collect();
    assert_eq!(letters, ["C", "D", "B"]);
    assert_eq!(due.iter().map(|d| d.minutes).sum::<u32>(), 20);
    assert!(due.iter().all(|d| d.minutes >= 2));
    assert!(due[0].minutes > due[2].minutes);
    let later = today(&sessions, now() + Duration::days(5), 20);
    assert!(later.iter().any(|d| d.letter == "A"));
    assert_eq!(today(&[], now(), 20), []);
    // Two minutes are one letter.
    assert_eq!(today(&sessions, now(), 2).len(), 1);
}

#[test]
fn joins_come_worst_first() {
    let join = |play: &str, missed| Session {
        play: play.to_owned(),
        ..session("A", 1.0, missed, 10.0)
    };
    let sessions = [
        join("join A B", 2),
        join("join B C", 20),
        join("join A B", 1),
        join("form", 50),
    ];
    let worst = worst_joins(&sessions, "Lantern Street");
    let worst: Vec<String> = worst.iter().map(|(a, b)| format!("{a} {b}")).collect();
    assert_eq!(worst, ["B C", "A B"]);
    assert_eq!(worst_joins(&sessions, "Another"), []);
}
