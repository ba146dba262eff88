//! Edits of the form: every action and the form it leaves.

use crate::score_edit_support;

use barform_app::music::{Fit, Subdivision};
use barform_app::score::edit::{Edit, FormEdit, ItemPath, Override, Target};
use barform_app::score::{Rate, form_text};
use score_edit_support::*;

#[test]
fn a_place_knows_the_item_it_comes_from() {
    let score = score("A (B (C)x2)x2 B'");
    let plan = score.placements().unwrap();
    let from: Vec<Vec<usize>> = plan
        .places
        .iter()
        .map(|p| ItemPath::of(&score, p.section as usize, p.item as usize).unwrap())
        .map(|p| p.items)
        .collect();
    let (b, c) = (vec![1, 0], vec![1, 1, 0]);
    let twice = [b.clone(), c.clone(), c.clone()];
    let expected: Vec<Vec<usize>> = [vec![0]]
        .into_iter()
        .chain(twice.clone())
        .chain(twice)
        .chain([vec![2]])
        .collect();
    assert_eq!(from, expected);
    let timeline = barform_app::timeline::Timeline::compile(&score).unwrap();
    assert!(
        plan.places
            .iter()
            .map(|p| p.item)
            .eq(timeline.places.iter().map(|p| p.item))
    );
    for number in 0..6 {
        let path = ItemPath::of(&score, 0, number).unwrap();
        assert_eq!(path.number(&score), Some(number));
    }
    assert_eq!(ItemPath::of(&score, 0, 6), None);
    assert_eq!(ItemPath::of(&score, 1, 0), None);
}

#[test]
fn letters_are_put_in_taken_out_and_doubled() {
    let s = score("A B (C B)x2");
    let done = do_form(
        &s,
        FormEdit::Insert {
            at: path(&[2, 1]),
            items: items("B'"),
        },
    );
    assert_eq!(form(&done.score, 0), "A B (C B' B)x2");
    assert_eq!(done.run, Some(run(&[2, 1], 1)));
    assert_eq!(done.label, "Insert B'");
    assert_eq!(done.focus.letter, Some(letter("B'")));

    let done = do_form(&s, FormEdit::Duplicate(run(&[0], 2)));
    assert_eq!(form(&done.score, 0), "A B A B (C B)x2");
    assert_eq!(done.run, Some(run(&[2], 2)));

    let done = do_form(&s, FormEdit::Delete(run(&[0], 1)));
    assert_eq!(form(&done.score, 0), "B (C B)x2");
    // Nothing is left to repeat, so the group goes.
    let done = do_form(&s, FormEdit::Delete(run(&[2, 0], 2)));
    assert_eq!(form(&done.score, 0), "A B");
    let all = refused(&s, Edit::Form(FormEdit::Delete(run(&[0], 3))));
    assert!(all.contains("would be left without a letter"), "{all}");
    let none = refused(&s, Edit::Form(FormEdit::Delete(run(&[7], 1))));
    assert!(none.contains("there is no item 8"), "{none}");
    let unknown = Edit::Form(FormEdit::Insert {
        at: path(&[0]),
        items: items("D"),
    });
    let error = unknown.apply(&s).unwrap_err();
    assert_eq!(error.mend(), Some("add [cell.D]"));
}

#[test]
fn a_deleted_bar_leaves_one_of_two_bar_lines() {
    let s = score("A B | C C | A B |");
    let done = do_form(&s, FormEdit::Delete(run(&[3], 2)));
    assert_eq!(form(&done.score, 0), "A B | A B |");
}

#[test]
fn a_new_cell_takes_the_next_free_letter() {
    let s = score("A B");
    let done = do_form(
        &s,
        FormEdit::NewCell {
            at: path(&[2]),
            grid: grid("4"),
        },
    );
    assert_eq!(form(&done.score, 0), "A B D");
    assert_eq!(done.added, [letter("D")]);
    let new = cell(&done.score, "D");
    assert_eq!(new.grid, grid("4"));
    assert!(new.slots.iter().all(Vec::is_empty) && new.slots.len() == 4);
}

#[test]
fn items_move_to_where_they_are_let_go() {
    let s = score("A B (C B)x2 B'");
    let moved = |from: &[usize], count, to: &[usize]| {
        let run = run(from, count);
        let to = path(to);
        let done = do_form(&s, FormEdit::Move { run, to });
        let at = done.run.unwrap();
        let there = at.items(&done.score).unwrap().to_vec();
        (form(&done.score, 0), there, at.at.items)
    };
    // Forwards and backwards: the gap is one of the form as it was.
    assert_eq!(moved(&[0], 1, &[2]).0, "B A (C B)x2 B'");
    assert_eq!(moved(&[0], 1, &[4]).0, "B (C B)x2 B' A");
    assert_eq!(
        moved(&[3], 1, &[0]),
        ("B' A B (C B)x2".into(), items("B'"), vec![0])
    );
    // Beside itself nothing changes.
    assert_eq!(moved(&[1], 1, &[1]).0, form(&s, 0));
    assert_eq!(moved(&[1], 1, &[2]).0, form(&s, 0));
    // Into and out of a group.
    assert_eq!(
        moved(&[0], 2, &[2, 1]),
        ("(C A B B)x2 B'".into(), items("A B"), vec![0, 1])
    );
    assert_eq!(moved(&[2, 1], 1, &[0]).0, "B A B (C)x2 B'");
    assert_eq!(moved(&[2, 0], 1, &[4]).0, "A B (B)x2 B' C");
    // A group that has been emptied goes.
    assert_eq!(
        moved(&[2, 0], 2, &[3]),
        ("A B C B B'".into(), items("C B"), vec![2])
    );
    let inside = Edit::Form(FormEdit::Move {
        run: run(&[2], 1),
        to: path(&[2, 0]),
    });
    assert!(refused(&s, inside).contains("cannot be moved into itself"));
}

#[test]
fn items_move_across_sections() {
    let s = sections(&[("Head", "", "A B"), ("", "", "C"), ("Out", "", "B")]);
    let to = ItemPath::new(2, [1]);
    let done = do_form(
        &s,
        FormEdit::Move {
            run: run(&[1], 1),
            to: to.clone(),
        },
    );
    assert_eq!(form(&done.score, 0), "A");
    assert_eq!(form(&done.score, 2), "B B");
    assert_eq!(done.focus.section, Some(2));
    // A plain section goes with its last letter; a named one stays the user's.
    let last = |section| FormEdit::Move {
        run: ItemPath::new(section, [0]).into(),
        to: ItemPath::new(0, [0]),
    };
    let done = do_form(&s, last(1));
    assert_eq!(done.score.sections.len(), 2);
    assert_eq!(form(&done.score, 0), "C A B");
    assert_eq!(form(&done.score, 1), "B");
    let message = refused(&s, Edit::Form(last(2)));
    assert!(
        message.contains("section Out would be left without a letter"),
        "{message}"
    );
    assert!(message.contains("remove the section"), "{message}");
}

#[test]
fn an_item_steps_past_its_neighbour_and_bar_lines_stay() {
    let step = |text: &str, at: &[usize], count, later| {
        let run = run(at, count);
        let done = do_form(&score(text), FormEdit::Step { run, later });
        let chosen = done.run.clone().unwrap();
        let items = chosen.items(&done.score).unwrap();
        (form(&done.score, 0), form_text(items))
    };
    let is = |a: &str, b: &str| (a.to_owned(), b.to_owned());
    assert_eq!(step("A B C", &[0], 1, true), is("B A C", "A"));
    assert_eq!(step("A B C", &[0], 2, true), is("C A B", "A B"));
    assert_eq!(step("A B C", &[1], 2, false), is("B C A", "B C"));
    // Two whole bars change places, the bar line between them stays.
    assert_eq!(
        step("(A B) | (C C)", &[0], 1, true),
        is("(C C) | (A B)", "(A B)")
    );
    assert_eq!(
        step("(A B) | (C C)", &[2], 1, false),
        is("(C C) | (A B)", "(C C)")
    );
    // Out of a group at its end, past a whole group beside it.
    assert_eq!(step("(A B)x2 C", &[0, 1], 1, true), is("(A)x2 B C", "B"));
    assert_eq!(step("C (A B)x2", &[1, 0], 1, false), is("C A (B)x2", "A"));
    assert_eq!(step("C (A B)x2", &[0], 1, true), is("(A B)x2 C", "C"));
    let two = sections(&[("One", "", "A B"), ("Two", "", "C C")]);
    let over = FormEdit::Step {
        run: run(&[1], 1),
        later: true,
    };
    let done = do_form(&two, over);
    assert_eq!(
        (form(&done.score, 0), form(&done.score, 1)),
        is("A", "B C C")
    );
    let first = FormEdit::Step {
        run: run(&[0], 1),
        later: false,
    };
    assert!(refused(&two, Edit::Form(first)).contains("at the start of the form"));
}

#[test]
fn groups_come_repeat_and_go() {
    let s = score("A B C");
    let group = do_form(
        &s,
        FormEdit::Group {
            run: run(&[0], 2),
            times: 4,
        },
    );
    assert_eq!(form(&group.score, 0), "(A B)x4 C");
    let times = |score: &_, at: &[usize], times| {
        let at = path(at);
        form(&do_form(score, FormEdit::Times { at, times }).score, 0)
    };
    assert_eq!(times(&group.score, &[0], 2), "(A B)x2 C");
    assert_eq!(times(&group.score, &[0], 1), "A B C");
    assert_eq!(times(&s, &[2], 3), "A B (C)x3");
    assert_eq!(times(&s, &[2], 1), "A B C");
    // A letter alone in its group takes the group's count.
    let alone = score("A (B)x4");
    assert_eq!(times(&alone, &[1, 0], 2), "A (B)x2");
    assert_eq!(times(&alone, &[1, 0], 1), "A B");
    // What a group does otherwise is not lost with its repeats.
    assert_eq!(times(&score("(A B)x2[rate 2]"), &[0], 1), "(A B)[rate 2]");
    let undone = do_form(&group.score, FormEdit::Ungroup(path(&[0])));
    assert_eq!(form(&undone.score, 0), "A B C");
    let many = Edit::Form(FormEdit::Times {
        at: path(&[0]),
        times: 10_000,
    });
    assert!(refused(&s, many).contains("1 to 9999"));
}

#[test]
fn overrides_are_set_and_cleared() {
    let s = score("A (B)x2");
    let sixteenths = Subdivision::from_name("16ths").unwrap();
    let set = |score: &_, target: Target, change: Override| {
        do_form(score, FormEdit::Override(target, change)).score
    };
    let letter = || Target::Item(path(&[0]));
    let refit = set(
        &s,
        letter(),
        Override::Subdivision(Some((sixteenths, Fit::Refit))),
    );
    assert_eq!(form(&refit, 0), "A[16ths] (B)x2");
    assert_eq!(
        form(&set(&refit, letter(), Override::Subdivision(None)), 0),
        "A (B)x2"
    );
    let loud = set(&s, Target::Item(path(&[1])), Override::Level(Some(120)));
    assert_eq!(form(&loud, 0), "A (B)x2[level 120%]");
    let slow = set(&s, Target::Section(0), Override::Rate(Some(Rate::Half)));
    assert_eq!(slow.sections[0].overrides.rate, Some(Rate::Half));
    let unknown = Edit::Form(FormEdit::Override(
        letter(),
        Override::Voicing(Some("toms".into())),
    ));
    assert!(refused(&s, unknown).contains("add [voicing.toms]"));
    let all = FormEdit::Overrides(letter(), loud.sections[0].overrides.clone());
    assert_eq!(form(&do_form(&refit, all).score, 0), "A (B)x2");
}

#[test]
fn a_letter_is_primed_at_one_place() {
    let s = score("B B' B");
    let done = do_form(&s, FormEdit::Prime(path(&[2])));
    assert_eq!(form(&done.score, 0), "B B' B''");
    assert_eq!(done.added, [letter("B''")]);
    let names: Vec<&str> = done.score.cells.iter().map(|c| c.letter.as_str()).collect();
    assert_eq!(names, ["A", "B", "B'", "B''", "C"]);
    let def = &done.score.cells[3];
    assert_eq!(def.like, Some(letter("B")));
    assert!(def.grid.is_none() && def.sticking.is_none() && def.voices.is_none());
    assert_eq!(cell(&done.score, "B''").slots, cell(&s, "B").slots);
    let done = do_form(
        &done.score,
        FormEdit::Play {
            at: path(&[0]),
            letter: letter("C"),
        },
    );
    assert_eq!(form(&done.score, 0), "C B' B''");
}
