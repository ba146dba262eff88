//! Undo and redo: exact texts, groups, memory.

use crate::score_edit_support;

use barform_app::score::edit::{
    BarLines, CellEdit, Edit, FormEdit, Group, History, LetterEdit, Merge, Owner,
};
use barform_app::score::{Document, Score};
use score_edit_support::*;
use std::time::Duration;

fn history(form: &str) -> History {
    History::new(Document::parse(&file(form), "solo.barform").unwrap())
}

fn accent(of: &str, slot: usize) -> Edit {
    let edit = CellEdit::Accent { slot, limb: None };
    Edit::Cell(Owner::Cell(letter(of)), edit)
}

#[track_caller]
fn do_edit(history: &mut History, edit: Edit) {
    history.edit(&edit, BarLines::Loosen, None).unwrap();
}

fn group(key: &str, seconds: f64, merge: Merge) -> Group {
    Group {
        key: key.to_owned(),
        at: Duration::from_secs_f64(seconds),
        merge,
    }
}

#[test]
fn undo_and_redo_give_back_every_byte() {
    let mut h = history("A B B'");
    let mut texts = vec![h.text().to_owned()];
    let mut scores = vec![h.score().clone()];
    for edit in [
        accent("A", 2),
        Edit::Form(FormEdit::Duplicate(run(&[0], 2))),
        Edit::Form(FormEdit::Prime(path(&[1]))),
        accent("B''", 0),
    ] {
        do_edit(&mut h, edit);
        texts.push(h.text().to_owned());
        scores.push(h.score().clone());
    }
    // Comments live through all of it.
    assert!(h.text().contains("barform = 1 # invented") && h.text().contains("# three beats"));
    assert_eq!(h.undo_label(), Some("Accent on B'', slot 1"));
    for (text, score) in texts.iter().zip(&scores).rev().skip(1) {
        assert!(h.undo().is_some());
        assert_eq!((h.text(), h.score()), (text.as_str(), score));
    }
    assert_eq!(h.undo(), None);
    assert_eq!(h.redo_label(), Some("Accent on A, slot 3"));
    for (text, score) in texts.iter().zip(&scores).skip(1) {
        assert!(h.redo().is_some());
        assert_eq!((h.text(), h.score()), (text.as_str(), score));
    }
    assert_eq!(h.redo(), None);
}

#[test]
fn undo_tells_what_to_show() {
    let mut h = history("A B B'");
    do_edit(&mut h, accent("B", 1));
    let change = h.undo().unwrap();
    assert_eq!(change.label, "Accent on B, slot 2");
    assert_eq!(change.letters, [letter("B")]);
    assert_eq!(change.focus.letter, Some(letter("B")));
    assert!(change.sections.is_empty() && !change.other);
    do_edit(&mut h, Edit::Form(FormEdit::Delete(run(&[0], 1))));
    let change = h.undo().unwrap();
    assert_eq!((change.sections, change.focus.section), (0..1, Some(0)));
    // A new cell is gone after the undo: there is no letter to show.
    let add = LetterEdit::Add {
        letter: None,
        grid: grid("4"),
    };
    do_edit(&mut h, Edit::Letter(add));
    let change = h.undo().unwrap();
    assert_eq!(
        (change.letters, change.focus.letter),
        (vec![letter("D")], None)
    );
    let change = h.redo().unwrap();
    assert_eq!(change.focus.letter, Some(letter("D")));
    let title = |score: &mut Score| {
        score.title = "Lantern Street".into();
        Ok(())
    };
    assert!(h.apply("Title", None, title).unwrap().other);
}

#[test]
fn a_new_edit_ends_what_could_be_redone() {
    let mut h = history("A");
    do_edit(&mut h, accent("A", 1));
    h.undo();
    // What changes nothing takes nothing away.
    h.apply("Nothing", None, |_| Ok(())).unwrap();
    assert_eq!(h.redo_label(), Some("Accent on A, slot 2"));
    do_edit(&mut h, accent("A", 2));
    assert_eq!(h.redo(), None);
    assert_eq!(h.labels().collect::<Vec<_>>(), ["Accent on A, slot 3"]);
}

#[test]
fn what_fails_changes_nothing() {
    let mut h = history("A B |");
    do_edit(&mut h, accent("A", 1));
    let (text, score, revision) = (h.text().to_owned(), h.score().clone(), h.revision());
    let delete = Edit::Form(FormEdit::Delete(run(&[1], 1)));
    assert!(h.edit(&delete, BarLines::Hold, None).is_err());
    let wrong = |score: &mut Score| {
        score.tempo = barform_app::music::Beats::whole(1000);
        Ok(())
    };
    assert!(h.apply("Tempo", None, wrong).is_err());
    assert!(h.set_text("barform = 2", "Typing", None).is_err());
    assert_eq!(
        (h.text(), h.score(), h.revision()),
        (text.as_str(), &score, revision)
    );
    assert_eq!(h.labels().count(), 1);
}

#[test]
fn typing_is_one_step_until_a_pause() {
    let mut h = history("A");
    let start = h.text().to_owned();
    let typed = |h: &mut History, title: &str, at: f64| {
        let group = group("typing", at, Merge::Follow);
        let text = start.replace("tempo = 92", &format!("tempo = 92\ntitle = \"{title}\""));
        h.set_text(&text, "Typing", Some(&group)).unwrap();
        text
    };
    typed(&mut h, "L", 10.0);
    typed(&mut h, "La", 10.3);
    let first = typed(&mut h, "Lan", 11.2);
    assert_eq!(h.labels().count(), 1);
    let last = typed(&mut h, "Lane", 12.3);
    assert_eq!(h.labels().count(), 2);
    h.undo();
    assert_eq!(h.text(), first);
    h.undo();
    assert_eq!(h.text(), start);
    h.redo();
    h.redo();
    assert_eq!(h.text(), last);
    // Another key, or a group that has ended, is another step.
    let other = group("sticking of A", 12.4, Merge::Follow);
    h.edit(&accent("A", 1), BarLines::Hold, Some(&other))
        .unwrap();
    h.seal();
    h.edit(&accent("A", 2), BarLines::Hold, Some(&other))
        .unwrap();
    assert_eq!(h.labels().count(), 4);
}

#[test]
fn a_drag_starts_again_from_where_it_began() {
    let mut h = history("A B | C C |");
    let start = h.text().to_owned();
    let drag = |h: &mut History, to: &[usize]| {
        let group = group("drag", 1.0, Merge::Again);
        let run = run(&[1], 1);
        let to = path(to);
        let edit = Edit::Form(FormEdit::Move { run, to });
        h.edit(&edit, BarLines::Loosen, Some(&group)).unwrap()
    };
    // Out of the first bar: the first check breaks …
    let away = drag(&mut h, &[4]);
    assert_eq!(away.loosened.len(), 1);
    assert_eq!(form(h.score(), 0), "A C B C |");
    // … and is there again when the block comes back in.
    let back = drag(&mut h, &[0]);
    assert!(back.loosened.is_empty());
    assert_eq!(form(h.score(), 0), "B A | C C |");
    h.seal();
    assert_eq!(h.labels().count(), 1);
    h.undo();
    assert_eq!(h.text(), start);
    // Let go where it was taken up, it is no step.
    drag(&mut h, &[4]);
    drag(&mut h, &[1]);
    h.seal();
    assert_eq!(
        (h.text(), h.labels().count(), h.revision()),
        (start.as_str(), 0, 0)
    );
}

#[test]
fn revisions_come_back_with_their_states() {
    let mut h = history("A");
    let saved = h.revision();
    do_edit(&mut h, accent("A", 1));
    let second = h.revision();
    assert_ne!(second, saved);
    h.undo();
    assert_eq!(h.revision(), saved);
    h.redo();
    assert_eq!(h.revision(), second);
    h.undo();
    do_edit(&mut h, accent("A", 2));
    assert!(h.revision() != second && h.revision() != saved);
}

/// A file of some 50 kB.
fn long_file() -> String {
    let mut text = file("A B");
    for n in 1..=99 {
        for c in ['P', 'Q', 'S', 'T'] {
            text += &format!(
                "\n[cell.{c}{n}]  # a cell of the drummer's own, for the left hand, number {n}\n"
            );
            text += "grid = \"4 4\"\nsticking = \"R L R L  R L R L\"\n";
        }
    }
    assert!(text.len() > 45_000, "{}", text.len());
    text
}

#[test]
fn thousands_of_edits_keep_what_they_changed_and_no_more() {
    let document = Document::parse(&long_file(), "").unwrap();
    let start = document.text().to_owned();
    let mut h = History::new(document);
    // Each at the top and at the bottom of the file.
    const EDITS: usize = 200;
    for i in 0..EDITS {
        let add = LetterEdit::Add {
            letter: None,
            grid: grid("4"),
        };
        let add = if i % 10 == 0 {
            Edit::Letter(add)
        } else {
            accent("T99", i % 8)
        };
        let both = |score: &mut Score| {
            *score = add.apply(score)?.score;
            score.title = format!("Take {i}");
            Ok(())
        };
        h.apply("Both", None, both).unwrap();
    }
    assert_eq!(h.labels().count(), EDITS);
    // A whole text each would be 10 MB; this is less than a kilobyte an edit.
    assert!(h.kept_bytes() < EDITS * 1000, "{}", h.kept_bytes());
    while h.undo().is_some() {}
    assert_eq!(h.text(), start);
}
