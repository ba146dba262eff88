//! `barform show` as a person reads it and a pipe takes it.

mod common;

use common::{SOUND, barform, err, folder_with, out, status};
use std::io::Read;
use std::process::{Command, Stdio};

#[test]
fn a_reader_that_leaves_early_is_no_error() {
    // Far more text than any pipe holds.
    let long = SOUND.replace("A A |", "(A A)x3000");
    let folder = folder_with(&[("long.barform", &long)]);
    let mut child = Command::new(env!("CARGO_BIN_EXE_barform"))
        .args(["show", "long.barform"])
        .current_dir(folder.path())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut first = [0; 16];
    let mut stdout = child.stdout.take().unwrap();
    stdout.read_exact(&mut first).unwrap();
    drop(stdout);
    let output = child.wait_with_output().unwrap();
    assert_eq!((status(&output), err(&output)), (0, ""));
}

#[test]
fn no_colour_codes_outside_a_terminal() {
    let folder = folder_with(&[("s.barform", SOUND)]);
    let shown = barform(folder.path(), &["show", "s.barform"]);
    assert!(!shown.stdout.contains(&0x1b));
    assert!(!barform(folder.path(), &["--help"]).stdout.contains(&0x1b));
}

#[test]
fn show_stays_within_its_width_and_loses_no_slot() {
    let wide = r#"
barform = 1
meter = "7/8"
pickup = "1/2"
form = "B (A)x3 C"
[cell.A]
grid = "6 6 6 2@1/2"
sticking = "lR> L R L R L  R> L R L R L  R> L R+K L K K  - H"
[cell.B]
grid = "1@1/2"
sticking = "R"
[cell.C]
grid = "5@2 16 1@1/2"
sticking = "(R) L Rz> L (llR)  R R R R R R R R R R R R R R R R  L"
"#;
    let folder = folder_with(&[("w.barform", wide)]);
    for width in [40, 60, 80, 120] {
        let shown = barform(
            folder.path(),
            &["show", "w.barform", "--width", &width.to_string()],
        );
        assert_eq!(status(&shown), 0);
        let text = out(&shown);
        assert!(text.lines().all(|l| l.chars().count() <= width), "{text}");
        assert!(text.lines().all(|l| l == l.trim_end()), "{text}");
        // Every slot is counted and sticked: lines come in fours, letters first.
        let strips: Vec<&str> = text.lines().filter(|l| l.contains(" |")).collect();
        assert_eq!(strips.len() % 4, 0);
        let words = |row: usize| -> usize {
            let rows = strips.iter().skip(row).step_by(4);
            rows.map(|l| l[6..].split_whitespace().filter(|w| *w != "|").count())
                .sum()
        };
        let slots = 1 + 3 * 20 + 5 + 16 + 1;
        assert_eq!(
            (words(1), words(2), words(3)),
            (slots, slots, slots),
            "{text}"
        );
    }
}

#[test]
fn show_draws_letters_as_wide_as_they_last() {
    let score = r#"
barform = 1
form = "A B |"
[cell.A]
grid = "6 6 6"
sticking = "R> L R L R L  R> L R L R L  R> L R L K K"
[cell.B]
grid = "6"
sticking = "R L K R L K"
"#;
    let folder = folder_with(&[("s.barform", score)]);
    let shown = barform(folder.path(), &["show", "s.barform", "--bars", "1-1"]);
    let letters = out(&shown).lines().find(|l| l.contains("|A")).unwrap();
    // Three beats of A, one of B.
    let bar = letters.trim_end_matches('|');
    let (a, b) = (bar.find('A').unwrap(), bar.find('B').unwrap());
    assert_eq!(b - a, 3 * (bar.len() - b), "{letters}");

    // Sixteenth-note triplets are counted in two groups of three. Common
    // practice, no source.
    let cell = barform(folder.path(), &["show", "s.barform", "--letter", "B"]);
    let text = out(&cell);
    assert!(text.contains("|1  ta la &  ta la |"), "{text}");
    assert!(text.contains("|R  L  K  R  L  K  |"), "{text}");
    assert!(text.contains("|SD .  BD SD .  BD |"), "{text}");
}
