//! The lines of cells: as typed, as little as possible, as they were written.

use crate::score_edit_support;

use barform_app::music::{Level, Voice};
use barform_app::score::edit::{CellEdit, Edit, Owner};
use barform_app::score::{Spot, voices_text};
use score_edit_support::*;

#[test]
fn the_lines_are_set_as_text() {
    let s = score("A B");
    let typed = "R> lL R L R L  R L R+K L R L  R L R (L) K K";
    let done = do_cell(&s, "A", CellEdit::Sticking(typed.into()));
    let [_, sticking, voices] = lines(&done.score, "A");
    assert_eq!(sticking, typed);
    // The voices go on as they were.
    assert_eq!(voices, lines(&s, "A")[2]);
    assert_eq!(cell(&done.score, "A").slots[13][0].voice, Voice::Tom2);
    // A rest where the line named a voice: the voice is named later.
    let done = do_cell(&s, "B", CellEdit::Sticking("R L K - L K".into()));
    assert_eq!(lines(&done.score, "B")[2], "snare snare kick - tom1 kick");
    let error = Edit::Cell(
        Owner::Cell(letter("B")),
        CellEdit::Sticking("R L Q R L K".into()),
    );
    let error = error.apply(&s).unwrap_err();
    assert_eq!(error.place.column, 5);
    assert!(matches!(error.spot, Spot::Cell(1, _)));
    let short = Edit::Cell(Owner::Cell(letter("B")), CellEdit::Sticking("R L K".into()));
    assert_eq!(
        short.apply(&s).unwrap_err().mend(),
        Some("add 3 strokes or rests")
    );

    // A typed voices line stands as it was typed.
    let typed = "hat hat kick hat:open . kick";
    let done = do_cell(&s, "B", CellEdit::Voices(Some(typed.into())));
    let written = voices_text(def(&done.score, "B").voices.as_deref().unwrap(), None);
    assert_eq!(written, typed);
    let done = do_cell(&done.score, "B", CellEdit::Voices(None));
    assert_eq!(def(&done.score, "B").voices, None);
    let wrong = CellEdit::Voices(Some("hat hat kick hat hat+hat kick".into()));
    let message = refused(&s, Edit::Cell(Owner::Cell(letter("B")), wrong));
    assert!(
        message.contains("cell B, slot 5: 2 voices for 1 stroke"),
        "{message}"
    );
}

#[test]
fn a_variation_states_only_what_differs() {
    let s = score("B B'");
    let accent = |slot| CellEdit::Accent { slot, limb: None };
    let done = do_cell(&s, "B'", accent(0)).score;
    let own = def(&done, "B'");
    assert!(own.grid.is_none() && own.sticking.is_some() && own.voices.is_some());
    assert_eq!(cell(&done, "B"), cell(&s, "B"));
    // Taken back, the line is the parent's and is left out.
    let back = do_cell(&done, "B'", accent(0)).score;
    assert_eq!(back, s);
    // With the parent's voices as well, nothing is left to say.
    let mut same = s.clone();
    for (slot, voice) in [
        (0, Voice::Snare),
        (1, Voice::Snare),
        (3, Voice::Tom1),
        (4, Voice::Tom1),
    ] {
        let limb = None;
        same = do_cell(&same, "B'", CellEdit::Voice { slot, limb, voice }).score;
    }
    let own = def(&same, "B'");
    assert!(own.grid.is_none() && own.sticking.is_none() && own.voices.is_none());
    assert_eq!(cell(&same, "B'").slots, cell(&same, "B").slots);
    // What the parent changes reaches what the variation does not state.
    let both = do_cell(&s, "B", accent(1)).score;
    assert_eq!(cell(&both, "B'").slots[1][0].level, Level::Accent);
    assert_eq!(cell(&both, "B'").slots[1][0].voice, Voice::Tom1);
}

#[test]
fn a_variation_that_no_longer_goes_with_its_parent_stays_as_it_was() {
    let s = score("B B'");
    let done = do_cell(
        &s,
        "B",
        CellEdit::AddSpan {
            at: 1,
            span: grid("4").spans()[0],
        },
    );
    assert_eq!(cell(&done.score, "B").slots.len(), 10);
    assert_eq!(cell(&done.score, "B'"), cell(&s, "B'"));
    assert_eq!(def(&done.score, "B'").like, Some(letter("B")));
    assert_eq!(done.told, ["B' stays as it was and says so itself"]);
}

#[test]
fn voices_that_hold_stay_as_they_were_written() {
    // B says 'snare snare': needless, but the drummer's own way.
    let s = score("B");
    let done = do_cell(
        &s,
        "B",
        CellEdit::Accent {
            slot: 0,
            limb: None,
        },
    )
    .score;
    assert_eq!(def(&done, "B").voices, def(&s, "B").voices);
    let (slot, limb) = (3, None);
    let voice = Voice::Tom2;
    let done = do_cell(&s, "B", CellEdit::Voice { slot, limb, voice }).score;
    assert_eq!(lines(&done, "B")[2], "snare snare kick tom2 tom1 kick");
    // There and back leaves no trace.
    let voice = Voice::Tom1;
    let back = do_cell(&done, "B", CellEdit::Voice { slot, limb, voice }).score;
    let done = do_cell(&score("C"), "C", CellEdit::Voice { slot, limb, voice }).score;
    assert_eq!(lines(&done, "C")[2], "snare . . tom1  snare . . .");
    let voice = Voice::Snare;
    let plain = do_cell(&done, "C", CellEdit::Voice { slot, limb, voice }).score;
    assert_eq!(def(&plain, "C").voices, None);
    assert_eq!(lines(&back, "B")[2], "snare snare kick tom1 . kick");
}
