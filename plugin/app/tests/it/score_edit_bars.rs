//! Bar lines that an edit breaks: refused, loosened or mended.

use crate::score_edit_support;

use barform_app::score::edit::{BarLines, Edit, FormEdit, Loosened};
use score_edit_support::*;

#[test]
fn a_broken_bar_line_refuses_or_gives_way() {
    let s = score("A B | A B | C C |");
    let delete = Edit::Form(FormEdit::Delete(run(&[4], 1)));
    let message = refused(&s, delete.clone());
    assert!(
        message.contains("add 1 beat before it, for example cell B"),
        "{message}"
    );
    let done = delete.loosened(&s).unwrap();
    assert_eq!(form(&done.score, 0), "A B | A C C");
    let gaps = [path(&[4]), path(&[6])].map(Loosened::BarLine);
    assert_eq!(done.loosened, gaps);
    // A check that is put in is meant.
    let wrong = Edit::Form(FormEdit::Insert {
        at: path(&[1]),
        items: items("|"),
    });
    assert!(wrong.loosened(&s).is_err());
    let right = FormEdit::Insert {
        at: path(&[4]),
        items: items("|"),
    };
    assert_eq!(
        form(&do_form(&score("A B C C A B"), right).score, 0),
        "A B C C | A B"
    );
}

#[test]
fn a_check_in_a_repeat_gives_way_if_it_ever_fails() {
    // One beat four times: only the last time ends on a bar line.
    let s = score("(A B |)x2 C C |");
    let swap = Edit::Form(FormEdit::Play {
        at: path(&[0, 1]),
        letter: letter("C"),
    });
    // Three and two beats, twice: ten beats, then four more.
    let done = swap.loosened(&s).unwrap();
    assert_eq!(form(&done.score, 0), "(A C)x2 C C");
    assert_eq!(done.loosened.len(), 2);
    assert_eq!(done.run, Some(run(&[0, 1], 1)));
}

#[test]
fn the_section_after_moves_along_and_its_checks_with_it() {
    let s = sections(&[
        ("", "", "A B |"),
        ("", "", "C C |"),
        ("Three", "3/4", "A |"),
    ]);
    let insert = |letters: &str| {
        Edit::Form(FormEdit::Insert {
            at: path(&[0]),
            items: items(letters),
        })
    };
    // A whole bar more breaks nothing.
    let whole = insert("C C").loosened(&s).unwrap();
    assert!(whole.loosened.is_empty());
    // The meter may not change inside a bar; that gives way only when asked.
    let message = insert("C").loosened(&s).unwrap_err().to_string();
    assert!(message.contains("section 3 changes to 3/4"), "{message}");
    let done = insert("C").apply_with(&s, BarLines::LoosenMeters).unwrap();
    let four = s.meter;
    assert_eq!(done.score.sections[2].meter, Some(four));
    assert!(matches!(done.loosened[0], Loosened::Meter { section: 2, now, .. } if now == four));
    assert_eq!(form(&done.score, 0), "C A B");
    assert_eq!(form(&done.score, 1), "C C");
    // Two, four, four and three beats: thirteen, no bar line.
    assert_eq!(form(&done.score, 2), "A");
}

#[test]
fn a_mended_form_is_put_in() {
    use barform_app::craft::arrange::{Material, mends};
    let broken = score("A B | A C");
    let cells = broken.cells_resolved().unwrap();
    let of = Material {
        cells: &cells,
        overrides: &broken.sections[0].overrides,
        bar: broken.meter.bar(),
        pickup: broken.pickup,
    };
    let first = mends(&broken.sections[0].items, &of).unwrap().remove(0);
    let done = do_form(
        &broken,
        FormEdit::Items {
            section: 0,
            items: first.items.clone(),
            cells: first.added.clone(),
        },
    );
    assert_eq!(done.score.sections[0].items, first.items);
    let length = done.score.placements().unwrap().length;
    assert!(length.checked_div(broken.meter.bar()).unwrap().is_whole());
}
