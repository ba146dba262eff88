//! Edits of the sections and of the list of cells.

use crate::score_edit_support;

use barform_app::score::edit::{Edit, LetterEdit, SectionEdit, Used, Uses};
use score_edit_support::*;

#[test]
fn sections_come_move_and_go() {
    let s = sections(&[("Head", "", "A B"), ("Solo", "", "C C")]);
    let names = |score: &barform_app::score::Score| -> Vec<String> {
        score.sections.iter().map(|s| s.name.clone()).collect()
    };
    let insert = SectionEdit::Insert {
        at: 1,
        name: "Fill".into(),
        items: items("B B"),
    };
    let three = do_section(&s, insert).score;
    assert_eq!(names(&three), ["Head", "Fill", "Solo"]);
    let moved = do_section(&three, SectionEdit::Move { from: 0, to: 2 }).score;
    assert_eq!(names(&moved), ["Fill", "Solo", "Head"]);
    let gone = do_section(&moved, SectionEdit::Remove(1)).score;
    assert_eq!(names(&gone), ["Fill", "Head"]);
    let rename = SectionEdit::Rename {
        section: 1,
        name: "Out".into(),
    };
    assert_eq!(names(&do_section(&gone, rename).score), ["Fill", "Out"]);
    let twice = do_section(&s, SectionEdit::Duplicate(0)).score;
    assert_eq!(names(&twice), ["Head", "Head", "Solo"]);
    let split = SectionEdit::Split {
        at: path(&[1]),
        name: "Tail".into(),
    };
    let split = do_section(&s, split).score;
    assert_eq!(names(&split), ["Head", "Tail", "Solo"]);
    assert_eq!([form(&split, 0), form(&split, 1)], ["A", "B"]);
    let three_four = Some("3/4".parse().unwrap());
    let meter = |section, meter| SectionEdit::Meter { section, meter };
    let waltz = do_section(&s, meter(1, three_four)).score;
    assert_eq!(waltz.sections[1].meter, three_four);
    assert_eq!(
        do_section(&waltz, meter(1, None)).score.sections[1].meter,
        None
    );
    let only = refused(&score("A"), Edit::Section(SectionEdit::Remove(0)));
    assert!(only.contains("only section"), "{only}");
    let empty = SectionEdit::Split {
        at: path(&[0]),
        name: String::new(),
    };
    assert!(refused(&s, Edit::Section(empty)).contains("without a letter"));
}

#[test]
fn a_cell_in_use_is_deleted_only_with_its_uses() {
    let s = score("A B (C B)x2 B'");
    let used = Used::of(&s, &letter("B"));
    assert_eq!(used.items, [path(&[1]), path(&[2, 1])]);
    assert_eq!(used.variations, [letter("B'")]);
    let delete = |uses| LetterEdit::Delete {
        letter: letter("B"),
        uses,
    };
    let message = refused(&s, Edit::Letter(delete(Uses::Refuse)));
    assert!(
        message.contains("the form plays B: item 2, item 3.2"),
        "{message}"
    );
    let done = do_letter(&s, delete(Uses::Remove));
    assert_eq!(form(&done.score, 0), "A (C)x2 B'");
    // Its variation plays on as it did.
    assert_eq!(cell(&done.score, "B'"), cell(&s, "B'"));
    assert_eq!(done.score.cells[1].like, None);
    assert_eq!(done.told, ["B' stands on its own now"]);
    // A cell that nobody plays goes without a question.
    let unused = score("A B'");
    let done = do_letter(
        &unused,
        LetterEdit::Delete {
            letter: letter("C"),
            uses: Uses::Refuse,
        },
    );
    assert_eq!(done.score.cells.len(), 3);
}

#[test]
fn cells_are_added_and_renamed() {
    let s = score("A B B'");
    let rename = |from: &str, to: &str| LetterEdit::Rename {
        from: letter(from),
        to: letter(to),
    };
    let done = do_letter(&s, rename("B", "D"));
    assert_eq!(form(&done.score, 0), "A D B'");
    assert_eq!(done.score.cells[2].like, Some(letter("D")));
    let taken = refused(&s, Edit::Letter(rename("B", "A")));
    assert!(
        taken.contains("there is a cell A already") && taken.contains("D is free"),
        "{taken}"
    );
    let add = LetterEdit::Add {
        letter: None,
        grid: grid("6 6"),
    };
    let done = do_letter(&s, add);
    assert_eq!(cell(&done.score, "D").slots.len(), 12);
    assert_eq!(form(&done.score, 0), form(&s, 0));
}
