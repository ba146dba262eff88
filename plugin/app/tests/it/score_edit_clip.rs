//! Copy and paste: the text of a score file there and back.

use crate::score_edit_support;

use barform_app::score::edit::{
    CellEdit, Done, Edit, FormEdit, ItemPath, Paste, copy_cells, copy_run,
};
use barform_app::score::{Score, ScoreError};
use score_edit_support::*;

fn paste(score: &Score, text: &str, at: Option<&[usize]>) -> Result<Done, ScoreError> {
    let paste = Paste {
        text: text.to_owned(),
        at: at.map(path),
    };
    Edit::Paste(paste).apply(score)
}

/// A score of one cell that is another A.
fn other() -> Score {
    let text = "barform = 1\nform = \"A\"\n[cell.A]\ngrid = \"4\"\nsticking = \"R R L L\"\n";
    Score::parse(text, "other.barform").unwrap()
}

#[test]
fn a_cell_is_copied_as_its_table() {
    let s = score("A B");
    let text = copy_cells(&s, &[letter("B")]).unwrap();
    assert_eq!(
        text,
        "[cell.B]\ngrid = \"6\"\nsticking = \"R     L     K    R    L    K\"\n\
         voices   = \"snare snare kick tom1 tom1 kick\"\n"
    );
    assert_eq!(copy_cells(&s, &[letter("D")]), None);
    // Where it came from it is the same cell: nothing is added.
    let same = paste(&s, &text, None).unwrap();
    assert_eq!(same.score, s);
    assert!(same.added.is_empty() && same.told.is_empty());
    let placed = paste(&s, &text, Some(&[0])).unwrap();
    assert_eq!(form(&placed.score, 0), "B A B");
    assert_eq!(placed.run, Some(run(&[0], 1)));
    // Elsewhere it is new.
    let done = paste(&other(), &text, Some(&[1])).unwrap();
    assert_eq!(form(&done.score, 0), "A B");
    assert_eq!(cell(&done.score, "B"), cell(&s, "B"));
    assert_eq!(done.added, [letter("B")]);
}

#[test]
fn a_letter_that_is_taken_becomes_another() {
    let s = score("A B");
    let text = copy_cells(&s, &[letter("A"), letter("C")]).unwrap();
    let done = paste(&other(), &text, Some(&[1])).unwrap();
    assert_eq!(form(&done.score, 0), "A B C");
    assert_eq!(cell(&done.score, "B").slots, cell(&s, "A").slots);
    assert_eq!(cell(&done.score, "A"), cell(&other(), "A"));
    assert_eq!(done.told, ["A is another cell here: the pasted one is B"]);
}

#[test]
fn a_variation_brings_its_parent() {
    let s = score("A B B'");
    let text = copy_cells(&s, &[letter("B'")]).unwrap();
    assert!(text.starts_with("form = \"B'\"\n\n[cell.B]\n"), "{text}");
    let done = paste(&other(), &text, Some(&[1])).unwrap();
    assert_eq!(form(&done.score, 0), "A B'");
    assert_eq!(cell(&done.score, "B'"), cell(&s, "B'"));
    // A changed variation of the same parent gets the next free primes.
    let accent = CellEdit::Accent {
        slot: 0,
        limb: None,
    };
    let changed = do_cell(&s, "B'", accent).score;
    let text = copy_cells(&changed, &[letter("B'")]).unwrap();
    let done = paste(&s, &text, Some(&[3])).unwrap();
    assert_eq!(form(&done.score, 0), "A B B' B''");
    assert_eq!(cell(&done.score, "B''").slots, cell(&changed, "B'").slots);
    assert_eq!(done.score.cells[3].like, Some(letter("B")));
}

#[test]
fn a_stretch_of_form_is_copied_as_letters() {
    let s = score("A (B C[16ths])x2 B'");
    let text = copy_run(&s, &run(&[1], 2), false).unwrap();
    assert_eq!(text, "(B C[16ths])x2 B'");
    let done = paste(&s, &text, Some(&[0])).unwrap();
    assert_eq!(done.run, Some(run(&[0], 2)));
    assert_eq!(copy_run(&s, &run(&[2], 5), false), None);
    // Letters alone mean nothing in a score without them.
    let error = paste(&other(), &text, Some(&[1])).unwrap_err();
    assert_eq!((error.place.line, error.place.column), (1, 2));
    assert!(error.to_string().contains("unknown cell 'B'"), "{error}");
    let whole = copy_run(&s, &run(&[1], 2), true).unwrap();
    let done = paste(&other(), &whole, Some(&[1])).unwrap();
    assert_eq!(form(&done.score, 0), "A (B C[16ths])x2 B'");
    assert_eq!(done.added.len(), 3);
}

#[test]
fn a_stretch_brings_its_voicings() {
    let text = file("A[voicing low] B") + "[voicing.low]\ntom1 = \"tom3\"\n";
    let s = Score::parse(&text, "").unwrap();
    let clip = copy_run(&s, &run(&[0], 1), true).unwrap();
    let mut here = other();
    here.voicings = s.voicings.clone();
    let kept = paste(&here, &clip, Some(&[1])).unwrap();
    assert_eq!(form(&kept.score, 0), "A B[voicing low]");
    assert_eq!(kept.score.voicings.len(), 1);
    here.voicings[0].map.clear();
    let renamed = paste(&here, &clip, Some(&[1])).unwrap();
    assert_eq!(form(&renamed.score, 0), "A B[voicing low-2]");
    assert_eq!(renamed.score.voicings[1].map, s.voicings[0].map);
}

#[test]
fn what_cannot_be_read_says_where() {
    let s = score("A");
    let fails = |text: &str| paste(&s, text, Some(&[0])).unwrap_err();
    let error = fails("[cell.D]\ngrid = \"4\"\nsticking = \"R L Q L\"\n");
    assert_eq!((error.place.line, error.place.column), (3, 17));
    let error = fails("[cell.D]\ngrid = \"4\"\nsticking = \"R L R\"\n");
    assert_eq!(error.place.line, 3);
    assert!(
        error.to_string().contains("add 1 stroke or rest"),
        "{error}"
    );
    let error = fails("form = \"A X\"\n[cell.D]\ngrid = \"1\"\nsticking = \"R\"\n");
    assert_eq!((error.place.line, error.place.column), (1, 11));
    let error = fails("A (B");
    assert_eq!(error.place.column, 3);
    let error = fails("tempo = 92");
    assert!(
        error.to_string().contains("allowed are form cell voicing"),
        "{error}"
    );
    let error = fails("");
    assert!(error.to_string().contains("nothing to paste"), "{error}");
    assert!(paste(&s, "A B", None).is_err());
}

#[test]
fn everything_copied_from_a_score_makes_it_again() {
    let s = score("A B (C B')x2");
    let text = copy_run(&s, &run(&[0], 3), true).unwrap();
    let done = paste(&other(), &text, Some(&[0])).unwrap();
    // The other A stays in its own place, after what was pasted.
    let count = done.score.sections[0].items.len();
    let delete = FormEdit::Delete(ItemPath::new(0, [count - 1]).into());
    let left = do_form(&done.score, delete).score;
    let (a, b) = (s.placements().unwrap(), left.placements().unwrap());
    assert_eq!(a.length, b.length);
    for (x, y) in a.places.iter().zip(&b.places) {
        let (x, y) = (
            &a.variants[x.variant as usize],
            &b.variants[y.variant as usize],
        );
        assert_eq!((&x.grid, &x.slots), (&y.grid, &y.slots));
    }
}
