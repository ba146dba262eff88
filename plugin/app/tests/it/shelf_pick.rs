//! A stretch of form kept by itself plays as it did where it stood.

use barform_app::score::edit::{ItemPath, Run};
use barform_app::score::{Score, form_text};
use barform_app::shelf::{ShelfError, pick_run};
use barform_app::timeline::Timeline;

const CELLS: &str = "[cell.A]\ngrid = \"4\"\nsticking = \"R L R L\"\n\
                     [cell.B]\ngrid = \"6\"\nsticking = \"R L L R K K\"\n\
                     [cell.\"B'\"]\nlike = \"B\"\nvoices = \"tom1 . . . kick .\"\n";

fn score(form: &str, rest: &str) -> Score {
    let text = format!("barform = 1\n{form}\n{CELLS}{rest}");
    Score::parse(&text, "test").unwrap_or_else(|e| panic!("{e}\n{text}"))
}

fn run(section: usize, items: &[usize], count: usize) -> Run {
    Run {
        at: ItemPath::new(section, items),
        count,
    }
}

/// Keys with the moment of each, from the first on.
fn strokes(score: &Score, from: f64, to: f64) -> Vec<(u8, u8, i64)> {
    let timeline = Timeline::compile(score).unwrap();
    let main = &timeline.form().main;
    let all = main.at.iter().zip(&main.notes);
    all.filter(|(at, _)| (from..to).contains(*at))
        .map(|(at, note)| {
            let thousandths = ((at - from) * 1_000.0).round() as i64;
            (note.key.number(), note.velocity.value(), thousandths)
        })
        .collect()
}

#[test]
fn only_what_the_stretch_plays_comes_along() {
    let from = score("form = \"A A A A | B' A A A |\"", "");
    let (kept, loosened) = pick_run(&from, &run(0, &[5], 2)).unwrap();
    assert!(loosened.is_empty());
    let letters: Vec<&str> = kept.cells.iter().map(|c| c.letter.as_str()).collect();
    assert_eq!(letters, ["A", "B'"]);
    // Its parent is not there, so it stands by itself.
    assert_eq!(kept.cells[1].like, None);
    assert_eq!(form_text(&kept.sections[0].items), "B' A");
    assert_eq!(strokes(&kept, 0.0, 2.0), strokes(&from, 4.0, 6.0));
}

#[test]
fn what_groups_and_section_say_round_it_is_kept() {
    let from = score(
        "[[section]]\nname = \"One\"\nform = \"A A A A\"\n\
         [[section]]\nname = \"Two\"\nlevel = 50\nform = \"(A B A)[rate 2, level 120%] A\"\n",
        "",
    );
    let (kept, _) = pick_run(&from, &run(1, &[0, 1], 2)).unwrap();
    // The group starts at beat 4 at double speed: B at 4.5, A at 5.
    assert_eq!(strokes(&kept, 0.0, 1.0), strokes(&from, 4.5, 5.5));
    assert!(strokes(&kept, 0.0, 1.0).iter().all(|s| s.1 < 84));
}

#[test]
fn bar_lines_that_no_longer_fall_are_left_out_and_named() {
    let from = score("form = \"A A A A | B B B B |\"", "");
    let (kept, loosened) = pick_run(&from, &run(0, &[2], 4)).unwrap();
    assert_eq!(form_text(&kept.sections[0].items), "A A B");
    assert_eq!(loosened.len(), 1);
    let (kept, loosened) = pick_run(&from, &run(0, &[0], 5)).unwrap();
    assert_eq!(form_text(&kept.sections[0].items), "A A A A |");
    assert!(loosened.is_empty());
}

#[test]
fn its_voicing_comes_along_and_no_other() {
    let from = score(
        "form = \"A[voicing dark] A[voicing light]\"",
        "[voicing.dark]\nsnare = \"tom3\"\n[voicing.light]\nsnare = \"hat\"\n",
    );
    let (kept, _) = pick_run(&from, &run(0, &[1], 1)).unwrap();
    let names: Vec<&str> = kept.voicings.iter().map(|v| v.name.as_str()).collect();
    assert_eq!(names, ["light"]);
    assert_eq!(strokes(&kept, 0.0, 1.0), strokes(&from, 1.0, 2.0));
}

#[test]
fn a_stretch_that_is_not_there_or_plays_nothing_is_refused() {
    let from = score("form = \"A A A A | A\"", "");
    for run in [run(0, &[4], 1), run(0, &[9], 1), run(3, &[0], 1)] {
        let refused = pick_run(&from, &run);
        assert!(matches!(refused, Err(ShelfError::DoesNotFit { .. })));
    }
}
