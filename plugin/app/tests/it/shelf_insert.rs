//! Cells and forms from the shelf in another score.

use crate::common;

use barform_app::music::Letter;
use barform_app::score::edit::ItemPath;
use barform_app::score::{FormItem, Score, form_text};
use barform_app::shelf::{Inserted, Label, Order, Query, Shelf, insert_score, pick};
use proptest::prelude::*;

fn score(form: &str, rest: &str) -> Score {
    let text = format!("barform = 1\nform = \"\"\"{form}\"\"\"\n{rest}");
    Score::parse(&text, "test").unwrap_or_else(|e| panic!("{e}\n{text}"))
}

fn cell(letter: &str, sticking: &str) -> String {
    let grid = sticking.split_whitespace().count();
    format!("[cell.\"{letter}\"]\ngrid = \"{grid}\"\nsticking = \"{sticking}\"\n")
}

fn like(letter: &str, parent: &str, sticking: &str) -> String {
    format!("[cell.\"{letter}\"]\nlike = \"{parent}\"\nsticking = \"{sticking}\"\n")
}

/// Puts a score in at the end of the first section.
fn append(from: &Score, into: &mut Score) -> Inserted {
    let end = ItemPath::new(0, [into.sections[0].items.len()]);
    insert_score(from, into, Some(&end)).unwrap()
}

fn front() -> ItemPath {
    ItemPath::new(0, [0])
}

fn names(inserted: &Inserted) -> Vec<String> {
    inserted
        .letters
        .iter()
        .map(|(was, is)| format!("{was} {is}"))
        .collect()
}

fn form(score: &Score) -> String {
    form_text(&score.sections[0].items)
}

#[test]
fn free_letters_stay_and_taken_ones_change() {
    let from = score("A B", &(cell("A", "R L R L") + &cell("B", "R R L L")));
    let mut into = score("A C", &(cell("A", "K K") + &cell("C", "L L")));
    let done = append(&from, &mut into);
    assert_eq!(names(&done), ["A D", "B B"]);
    assert_eq!(form(&into), "A C D B");
    assert_eq!(done.added.len(), 2);
}

#[test]
fn equal_cells_are_used_under_the_letter_they_have() {
    let from = score("A B A", &(cell("A", "R L R L") + &cell("B", "R R L L")));
    // The same strokes, said in another way.
    let b = "[cell.C]\ngrid = \"4\"\nsticking = \"R L  R L\"\nvoices = \"snare . . .\"\n";
    let mut into = score("C", b);
    let done = insert_score(&from, &mut into, Some(&front())).unwrap();
    assert_eq!(names(&done), ["A C", "B B"]);
    assert_eq!(form(&into), "C B C C");
    // Again: everything is there.
    let before = into.cells.clone();
    let again = insert_score(&from, &mut into, None).unwrap();
    assert_eq!(again.letters, done.letters);
    assert!(again.added.is_empty());
    assert_eq!(into.cells, before);
    assert_eq!(form_text(&again.form), "C B C");
}

#[test]
fn variations_follow_their_parents() {
    let from = score(
        "A'' A' B",
        &(like("A''", "A'", "L L L L")
            + &cell("A", "R L R L")
            + &like("A'", "A", "R R R R")
            + &like("B", "A", "K K K K")),
    );
    let mut into = score("A", &cell("A", "K K"));
    let done = append(&from, &mut into);
    assert_eq!(names(&done), ["A'' C''", "A C", "A' C'", "B B"]);
    let parent = |letter: &str| {
        let def = into
            .cells
            .iter()
            .find(|c| c.letter.as_str() == letter)
            .unwrap();
        def.like.as_ref().map(|l| l.as_str().to_owned())
    };
    assert_eq!(parent("C''"), Some("C'".into()));
    assert_eq!(parent("C'"), Some("C".into()));
    assert_eq!(parent("B"), Some("C".into()));
    // A change in the parent reaches the variation's grid still.
    assert_eq!(form(&into), "A C'' C' B");
}

#[test]
fn a_variation_is_not_taken_for_an_equal_cell_of_another_parent() {
    let from = score("A'", &(cell("A", "R L") + &like("A'", "A", "L R")));
    let mut into = score("B", &(cell("B", "L R") + &cell("A", "R L")));
    let done = append(&from, &mut into);
    assert_eq!(names(&done), ["A A", "A' A'"]);
    assert_eq!(form(&into), "B A'");
}

#[test]
fn voicings_of_the_form_come_along_under_a_free_name() {
    let voicing =
        |to: &str| format!("[voicing.up]\nsnare = \"{to}\"\n[voicing.idle]\nkick = \"tom1\"\n");
    let from = score(
        "A[voicing up] (A)x2[voicing up]",
        &(cell("A", "R L") + &voicing("tom1")),
    );
    let mut into = score(
        "A",
        &(cell("A", "R L") + "[voicing.up]\nsnare = \"ride\"\n"),
    );
    append(&from, &mut into);
    assert_eq!(form(&into), "A A[voicing up-2] (A)x2[voicing up-2]");
    assert_eq!(into.voicings.len(), 2, "the idle one stays behind");
    // The same map is the same voicing, whatever it is called.
    let mut other = score(
        "A",
        &(cell("A", "R L") + "[voicing.high]\nsnare = \"tom1\"\n"),
    );
    append(&from, &mut other);
    assert_eq!(form(&other), "A A[voicing high] (A)x2[voicing high]");
}

#[test]
fn bar_line_checks_stay_where_they_hold() {
    let from = score("A A A A |", &cell("A", "R L R L"));
    let mut on_the_bar = score("B B B B |", &cell("B", "K K"));
    let done = append(&from, &mut on_the_bar);
    assert!(done.loosened.is_empty());
    assert_eq!(form(&on_the_bar), "B B B B | A A A A |");
    let mut off_it = score("B", &cell("B", "K K"));
    let done = append(&from, &mut off_it);
    assert_eq!(done.loosened.len(), 1);
    assert_eq!(form(&off_it), "B A A A A");
}

#[test]
fn sections_that_override_come_as_groups() {
    let text = format!(
        "barform = 1\n[[section]]\nname = \"Loud\"\nlevel = 120\nform = \"A\"\n\
         [[section]]\nname = \"Plain\"\nform = \"A A\"\n{}",
        cell("A", "R L")
    );
    let from = Score::parse(&text, "test").unwrap();
    let mut into = score("B", &cell("B", "K K"));
    insert_score(&from, &mut into, Some(&front())).unwrap();
    assert_eq!(form(&into), "(A)[level 120%] A A B");
}

#[test]
fn what_does_not_fit_changes_nothing() {
    let from = score("A", &cell("A", "R L"));
    let mut into = score("B", &cell("B", "K K"));
    let before = into.clone();
    let missing = insert_score(&from, &mut into, Some(&ItemPath::new(3, [0])));
    let told = missing.unwrap_err().to_string();
    assert!(told.contains("there is no item 1 of section 4"), "{told}");
    assert_eq!(into, before);
    // Cells that would be too many.
    let many: String = (0..1_000)
        .map(|i| {
            cell(
                &format!("{}{}", char::from(b'A' + (i % 26) as u8), i / 26),
                "R",
            )
        })
        .collect();
    let mut full = score("A0", &many);
    let before = full.clone();
    assert!(insert_score(&from, &mut full, None).is_err());
    assert_eq!(full, before);
}

/// In the score it goes to, bar-line checks that the form moves away from their
/// bars give way, as in any edit.
#[test]
fn checks_that_move_give_way() {
    let from = score("A", &cell("A", "R L"));
    let mut strict = score("B B B B |", &cell("B", "K K"));
    let done = insert_score(&from, &mut strict, Some(&front())).unwrap();
    assert_eq!(done.loosened.len(), 1);
    assert_eq!(form(&strict), "A B B B B");
}

#[test]
fn picked_cells_stand_on_their_own() {
    let from = score(
        "A A' B",
        &(cell("A", "R L R L") + &like("A'", "A", "R> - L -") + &cell("B", "K K")),
    );
    let letter = |l| Letter::new(l).unwrap();
    let alone = pick(&from, &[letter("A'")]).unwrap();
    assert_eq!(alone.cells.len(), 1);
    assert_eq!(alone.cells[0].like, None);
    assert_eq!(alone.cell(&letter("A'")), from.cell(&letter("A'")));
    let both = pick(&from, &[letter("A'"), letter("A"), letter("A'")]).unwrap();
    assert_eq!(form(&both), "A' A A'");
    assert_eq!(both.cells[1].like, Some(letter("A")));
    assert!(pick(&from, &[]).is_err());
    assert!(
        pick(&from, &[letter("Q")])
            .unwrap_err()
            .to_string()
            .contains("no cell Q")
    );
}

#[test]
fn an_item_that_is_put_in_counts_as_used() {
    let folder = tempfile::tempdir().unwrap();
    let shelf = Shelf::open(folder.path()).unwrap();
    shelf
        .add(Label::named("a"), &score("A", &cell("A", "R L")))
        .unwrap();
    let id = shelf
        .add(Label::named("b"), &score("A", &cell("A", "L R")))
        .unwrap();
    let mut into = score("A", &cell("A", "K K"));
    let end = ItemPath::new(0, [1]);
    shelf.insert(&id, &mut into, Some(&end)).unwrap();
    assert_eq!(form(&into), "A B");
    let query = Query {
        order: Order::Used,
        ..Query::default()
    };
    let items = shelf.list(&query).unwrap().items;
    assert_eq!(items[0].id, id);
    assert!(items[0].used.is_some() && items[1].used.is_none());
}

/// The letters a form plays, repeats aside.
fn letters(items: &[FormItem], out: &mut Vec<Letter>) {
    for item in items {
        match item {
            FormItem::Letter { letter, .. } => out.push(letter.clone()),
            FormItem::Group { items, .. } => letters(items, out),
            FormItem::BarLine => {}
        }
    }
}

proptest! {
    /// Whatever letters are called afterwards, they play what they played.
    #[test]
    fn put_in_cells_play_what_they_played(from in common::score(), into in common::score()) {
        let mut new = into.clone();
        let done = insert_score(&from, &mut new, None).unwrap();
        prop_assert!(new.check().is_ok());
        prop_assert_eq!(&new.sections, &into.sections);
        prop_assert_eq!(&new.cells[..into.cells.len()], &into.cells[..]);
        prop_assert_eq!(new.cells.len(), into.cells.len() + done.added.len());
        prop_assert_eq!(done.letters.len(), from.cells.len());
        for (was, is) in &done.letters {
            let (was, is) = (from.cell(was).unwrap(), new.cell(is).unwrap());
            prop_assert_eq!(was.grid, is.grid);
            prop_assert_eq!(was.slots, is.slots);
        }
        let mut played = Vec::new();
        letters(&done.form, &mut played);
        prop_assert!(played.iter().all(|l| new.cell(l).is_some()));
    }

    #[test]
    fn a_form_is_put_in_whole_or_not_at_all(
        from in common::score(),
        into in common::score(),
        item in 0_usize..6,
    ) {
        let mut new = into.clone();
        let item = item.min(into.sections[0].items.len());
        match insert_score(&from, &mut new, Some(&ItemPath::new(0, [item]))) {
            Ok(done) => {
                prop_assert!(new.check().is_ok());
                // But for bar lines, what was there and what was put in.
                let (mut is, mut was) = (Vec::new(), Vec::new());
                letters(&new.sections[0].items, &mut is);
                letters(&into.sections[0].items[..item], &mut was);
                letters(&done.form, &mut was);
                letters(&into.sections[0].items[item..], &mut was);
                prop_assert_eq!(is, was);
                prop_assert_eq!(&new.sections[1..].len(), &into.sections[1..].len());
            }
            Err(_) => prop_assert_eq!(&new, &into),
        }
    }

    #[test]
    fn picked_cells_play_what_they_played(from in common::score(), choice in any::<u32>()) {
        let chosen: Vec<Letter> = (0..).zip(&from.cells)
            .filter(|(i, _)| choice >> i & 1 == 1)
            .map(|(_, c)| c.letter.clone())
            .collect();
        prop_assume!(!chosen.is_empty());
        let picked = pick(&from, &chosen).unwrap();
        prop_assert_eq!(picked.cells.len(), chosen.len());
        for letter in &chosen {
            prop_assert_eq!(picked.cell(letter), from.cell(letter));
        }
    }
}
