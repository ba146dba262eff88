//! The command as a script or a person meets it: exit statuses, what goes to
//! which stream, what happens to files.

mod common;

use common::{SOUND, UNSOUND, barform, barform_reading, err, folder_with, names, out, status};
use std::fs;
#[cfg(unix)]
use std::process::Command;

#[test]
fn check_says_good_or_where_it_is_not() {
    let folder = folder_with(&[("good.barform", SOUND), ("bad.barform", UNSOUND)]);
    let good = barform(folder.path(), &["check", "good.barform"]);
    assert_eq!(status(&good), 0);
    assert_eq!(
        out(&good),
        "good.barform: good, 1 bar, 2.0 s at 120 beats a minute\n"
    );
    assert_eq!(err(&good), "");

    let bad = barform(folder.path(), &["check", "bad.barform"]);
    assert_eq!(status(&bad), 1);
    assert_eq!(out(&bad), "");
    let lines: Vec<&str> = err(&bad).lines().collect();
    // File, line, column; then the line itself with a caret under the column.
    assert!(
        lines[0].starts_with("barform: bad.barform:6:19: "),
        "{}",
        lines[0]
    );
    assert_eq!(lines[1], "sticking = \"R L R Q\"");
    assert_eq!(lines[2], format!("{}^", " ".repeat(18)));
}

#[test]
fn check_goes_through_all_files_and_keeps_the_worst_status() {
    let folder = folder_with(&[("good.barform", SOUND), ("bad.barform", UNSOUND)]);
    let args = ["check", "bad.barform", "missing.barform", "good.barform"];
    let all = barform(folder.path(), &args);
    assert_eq!(status(&all), 3);
    assert!(out(&all).starts_with("good.barform: good"));
    assert!(err(&all).contains("bad.barform:6:19"));
    assert!(err(&all).contains("missing.barform: cannot be read"));

    let quiet = barform(
        folder.path(),
        &["check", "--quiet", "good.barform", "bad.barform"],
    );
    assert_eq!((status(&quiet), out(&quiet)), (1, ""));
    let demo = barform(folder.path(), &["check", "-q", "--demo"]);
    assert_eq!((status(&demo), out(&demo), err(&demo)), (0, "", ""));
}

#[test]
fn dash_reads_standard_input() {
    let folder = folder_with(&[]);
    let good = barform_reading(folder.path(), &["check", "-"], SOUND);
    assert_eq!(status(&good), 0);
    assert!(out(&good).starts_with("standard input: good"));
    let bad = barform_reading(folder.path(), &["check", "-"], UNSOUND);
    assert_eq!(status(&bad), 1);
    assert!(err(&bad).contains("standard input:6:19"));
}

#[test]
fn what_is_no_score_is_refused_with_status_1() {
    let folder = folder_with(&[]);
    fs::write(
        folder.path().join("latin.barform"),
        b"barform = 1\ntitle = \"\xe9\"\n",
    )
    .unwrap();
    let latin = barform(folder.path(), &["check", "latin.barform"]);
    assert_eq!(status(&latin), 1);
    assert!(
        err(&latin).contains("latin.barform:2: not UTF-8"),
        "{}",
        err(&latin)
    );

    let large = barform_reading(folder.path(), &["check", "-"], &"#".repeat((1 << 20) + 1));
    assert_eq!(status(&large), 1);
    assert!(err(&large).contains("more than 1048576 bytes"));
    assert_eq!(status(&barform(folder.path(), &["check", "."])), 3);
}

#[test]
fn wrong_words_are_status_2_and_help_names_all_statuses() {
    let folder = folder_with(&[("s.barform", SOUND)]);
    for args in [
        &["whistle"][..],
        &[],
        &["check"],
        &["show"],
        &["show", "s.barform", "--demo"],
        &["show", "s.barform", "--letter", "b"],
        &["show", "s.barform", "--letter", "B"],
        &["show", "s.barform", "--bars", "6-3"],
        &["show", "s.barform", "--bars", "2"],
        &["midi", "s.barform", "--passes", "0"],
        &["midi", "s.barform", "--tempo", "fast"],
        &["midi", "s.barform", "--without", "head"],
        &["wav", "s.barform", "--bits", "8"],
        &["wav", "s.barform", "--rate", "1000"],
        &["wav", "s.barform", "-o", "s.flac"],
        &["flac", "s.barform", "-o", "s.wav"],
        &["flac", "s.barform", "--bits", "32"],
        &["wav", "s.barform", "--times", "3"],
        &["wav", "s.barform", "--letter", "Q"],
        &["wav", "s.barform", "--letter", "A", "--passes", "2"],
        &["wav", "s.barform", "--preset", "128:0"],
        &["wav", "s.barform", "--grouped"],
        &["wav", "s.barform", "--stems", "there", "-o", "s.wav"],
    ] {
        let output = barform(folder.path(), args);
        assert_eq!(status(&output), 2, "{args:?}");
        assert!(
            output.stdout.is_empty() && !output.stderr.is_empty(),
            "{args:?}"
        );
    }
    assert_eq!(names(folder.path()), ["s.barform"]);
    let help = barform(folder.path(), &["--help"]);
    assert_eq!(status(&help), 0);
    let text = out(&help);
    let statuses = &text[text.find("Exit status:").unwrap()..];
    for status in ["0  done", "1  a score", "2  the command", "3  a file"] {
        assert!(statuses.contains(status), "{status}");
    }
}

#[test]
fn options_the_core_refuses_are_told() {
    let folder = folder_with(&[("s.barform", SOUND)]);
    for (args, word) in [
        (["midi", "s.barform", "--tempo", "2"], "tempo"),
        (["midi", "s.barform", "--grace", "-1"], "grace"),
        (["midi", "s.barform", "--gate", "0"], "gate"),
        (["wav", "s.barform", "--tail", "1e9"], "tail"),
        (["wav", "s.barform", "--loudness", "3"], "loudness"),
        (["wav", "s.barform", "--buzz", "nan"], "buzz"),
    ] {
        let args = [args[0], args[1], &format!("{}={}", args[2], args[3])];
        let output = barform(folder.path(), &args);
        assert_eq!(status(&output), 1, "{args:?}: {}", err(&output));
        assert!(
            err(&output).contains(word) && err(&output).contains("allowed"),
            "{args:?}"
        );
    }
    assert_eq!(names(folder.path()), ["s.barform"]);
}

#[test]
fn the_demo_can_be_started_from() {
    let folder = folder_with(&[]);
    let demo = barform(folder.path(), &["demo"]);
    assert_eq!((status(&demo), err(&demo)), (0, ""));
    fs::write(folder.path().join("mine.barform"), &demo.stdout).unwrap();
    assert_eq!(
        status(&barform(folder.path(), &["check", "mine.barform"])),
        0
    );
    let shown = barform(folder.path(), &["show", "mine.barform"]);
    assert_eq!(
        out(&shown),
        out(&barform(folder.path(), &["show", "--demo"]))
    );
}

#[test]
fn files_are_replaced_only_with_force() {
    let folder = folder_with(&[("s.barform", SOUND)]);
    let at = folder.path();
    for (verb, file) in [
        ("midi", "s.mid"),
        ("wav", "s.wav"),
        ("flac", "s.flac"),
        ("respell", "other.barform"),
    ] {
        let args: &[&str] = if verb == "respell" {
            &["respell", "s.barform", "-o", file]
        } else {
            &[verb, "s.barform"]
        };
        assert_eq!(status(&barform(at, args)), 0, "{verb}");
        let written = fs::read(at.join(file)).unwrap();
        assert!(!written.is_empty());
        fs::write(at.join(file), "precious").unwrap();
        let refused = barform(at, args);
        assert_eq!(status(&refused), 3, "{verb}");
        assert!(err(&refused).contains("--force"), "{}", err(&refused));
        assert_eq!(fs::read(at.join(file)).unwrap(), b"precious");
        let forced = barform(at, &[args, &["--force"]].concat());
        assert_eq!(status(&forced), 0, "{verb}");
        assert_eq!(fs::read(at.join(file)).unwrap(), written, "{verb}");
    }
    // Nothing else is left lying about.
    assert_eq!(
        names(at),
        ["other.barform", "s.barform", "s.flac", "s.mid", "s.wav"]
    );
}

#[test]
fn what_fails_leaves_no_file() {
    let folder = folder_with(&[("bad.barform", UNSOUND), ("s.barform", SOUND)]);
    let at = folder.path();
    for verb in ["midi", "wav", "flac"] {
        assert_eq!(status(&barform(at, &[verb, "bad.barform"])), 1);
        let nowhere = barform(at, &[verb, "s.barform", "-o", "nowhere/s.bin"]);
        assert_eq!(status(&nowhere), 3, "{}", err(&nowhere));
        assert_eq!(status(&barform(at, &[verb, "s.barform", "-o", "."])), 3);
    }
    assert_eq!(names(at), ["bad.barform", "s.barform"]);
}

#[test]
fn standard_output_carries_the_file_and_nothing_else() {
    let folder = folder_with(&[("s.barform", SOUND)]);
    let at = folder.path();
    for (verb, head) in [("midi", b"MThd"), ("wav", b"RIFF"), ("flac", b"fLaC")] {
        assert_eq!(status(&barform(at, &[verb, "s.barform", "-o", "file"])), 0);
        let piped = barform(at, &[verb, "s.barform", "-o", "-"]);
        assert_eq!(status(&piped), 0);
        assert!(piped.stdout.starts_with(head), "{verb}");
        assert_eq!(piped.stdout, fs::read(at.join("file")).unwrap(), "{verb}");
        assert!(!piped.stderr.is_empty());
        // From standard input it goes to standard output unasked.
        let quiet = barform_reading(at, &[verb, "-", "--quiet"], SOUND);
        assert_eq!((&quiet.stdout, err(&quiet)), (&piped.stdout, ""), "{verb}");
        fs::remove_file(at.join("file")).unwrap();
    }
    let respelled = barform(at, &["respell", "s.barform"]);
    assert_eq!((status(&respelled), err(&respelled)), (0, ""));
    let again = barform_reading(at, &["respell", "-"], out(&respelled));
    assert_eq!(out(&again), out(&respelled));
    assert_eq!(names(at), ["s.barform"]);
}

#[test]
fn stems_and_letters_have_names_of_their_own() {
    let folder = folder_with(&[("s.barform", SOUND)]);
    let at = folder.path();
    let letter = barform(at, &["wav", "s.barform", "--letter", "A", "--times", "2"]);
    assert_eq!(status(&letter), 0, "{}", err(&letter));
    let loud = barform(at, &["flac", "s.barform", "--loudness", "-20"]);
    assert!(out(&loud).contains("loudness -20.0 LUFS"), "{}", out(&loud));
    let stems = ["wav", "s.barform", "--stems", "set", "--click", "--grouped"];
    let told = barform(at, &stems);
    assert_eq!(status(&told), 0, "{}", err(&told));
    assert_eq!(names(at), ["s-A.wav", "s.barform", "s.flac", "set"]);
    let set = names(&at.join("set"));
    assert!(set.contains(&"s-click.wav".to_owned()), "{set:?}");
    assert!(set.contains(&"s-snare.wav".to_owned()), "{set:?}");
    assert_eq!(
        out(&told).lines().filter(|l| l.starts_with("set")).count(),
        set.len()
    );
    // Not unasked over what is there.
    let again = barform(at, &stems);
    assert_eq!(status(&again), 3);
    assert!(err(&again).contains("--force"), "{}", err(&again));
    assert_eq!(
        status(&barform(at, &[&stems[..], &["--force"]].concat())),
        0
    );
    assert_eq!(names(&at.join("set")), set);
}

#[test]
fn a_soundfont_that_is_none_is_told() {
    let folder = folder_with(&[("s.barform", SOUND), ("junk.sf2", "RIFFjunk")]);
    let at = folder.path();
    for (font, word) in [("junk.sf2", "SoundFont 2"), ("none.sf2", "cannot be read")] {
        let output = barform(at, &["wav", "s.barform", "--soundfont", font]);
        assert_eq!(status(&output), 3, "{}", err(&output));
        assert!(err(&output).contains(word), "{}", err(&output));
        assert!(err(&output).contains(font));
    }
    assert_eq!(names(at), ["junk.sf2", "s.barform"]);
}

#[test]
fn tidy_says_when_comments_go() {
    let folder = folder_with(&[]);
    let commented = format!("# mine\n{SOUND}");
    let respelled = barform_reading(folder.path(), &["respell", "-"], &commented);
    assert_eq!(status(&respelled), 0);
    assert!(err(&respelled).contains("comments are left out"));
    let titled = SOUND.replace("Four", "Take #4");
    let respelled = barform_reading(folder.path(), &["respell", "-"], &titled);
    assert_eq!(err(&respelled), "");
}

#[cfg(unix)]
#[test]
fn a_link_and_its_rights_survive_replacement() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let folder = folder_with(&[("s.barform", SOUND), ("real.mid", "old")]);
    let at = folder.path();
    fs::set_permissions(at.join("real.mid"), fs::Permissions::from_mode(0o640)).unwrap();
    symlink("real.mid", at.join("link.mid")).unwrap();
    let args = ["midi", "s.barform", "-o", "link.mid", "--force"];
    assert_eq!(status(&barform(at, &args)), 0);
    assert!(
        fs::symlink_metadata(at.join("link.mid"))
            .unwrap()
            .is_symlink()
    );
    assert!(fs::read(at.join("real.mid")).unwrap().starts_with(b"MThd"));
    let mode = fs::metadata(at.join("real.mid"))
        .unwrap()
        .permissions()
        .mode();
    assert_eq!(mode & 0o777, 0o640);
    // A device is written to, not replaced, and needs no force.
    let null = barform(at, &["midi", "s.barform", "-o", "/dev/null"]);
    assert_eq!(status(&null), 0, "{}", err(&null));
}

#[cfg(unix)]
#[test]
fn a_file_that_cannot_be_written_to_its_end_leaves_the_old_one_whole() {
    // POSIX: a write beyond the limit of a file's size fails, as on a full disk,
    // where the signal that says so is ignored.
    let limited = "trap '' XFSZ; ulimit -f 2; exec \"$@\"";
    for (verb, file) in [("wav", "s.wav"), ("sheet", "s.svg")] {
        let folder = folder_with(&[("s.barform", SOUND), (file, "old")]);
        let output = Command::new("sh")
            .args(["-c", limited, "sh", env!("CARGO_BIN_EXE_barform")])
            .args([verb, "s.barform", "--output", file, "--force"])
            .current_dir(folder.path())
            .output()
            .unwrap();
        assert_eq!(status(&output), 3, "{}", err(&output));
        assert!(err(&output).contains("os error"), "{}", err(&output));
        assert_eq!(names(folder.path()), ["s.barform", file]);
        assert_eq!(fs::read(folder.path().join(file)).unwrap(), b"old");
    }
}
