//! What is done with an item: into the score, into the ear, changed, removed.

use super::*;

#[test]
fn an_item_goes_into_the_form_where_it_is_wanted() {
    for (button, now) in [
        ("After the selected block", "A C A B | A A B B"),
        ("At the end", "A B | A A B B C A"),
        ("Only its cells", "A B | A A B B"),
    ] {
        let mut window = with(&[("Other", &[], OTHER)]);
        choose_run(&mut window, 0, 1);
        choose(&mut window, "Other");
        window.click(button);
        window.until(button, |w| letters(w).len() == 3);
        assert_eq!(form(&window).replace(" | ", " "), now.replace(" | ", " "));
        // Its B is this score's A.
        assert_eq!(letters(&window), ["A", "B", "C"]);
        window.until("it counts as used", |w| items(w)[0].used.is_some());
        window.command(Key::Z);
        assert_eq!(window.text(), SCORE);
    }
}

#[test]
fn what_was_not_asked_for_in_so_many_words_is_told() {
    let mut window = with(&[("Other", &[], OTHER)]);
    choose_run(&mut window, 0, 1);
    choose(&mut window, "Other");
    window.key(Key::Enter);
    wait_for(
        &mut window,
        "Other is in the form. Its A is C here. Its B is A here.",
    );
    wait_for(&mut window, "no bar line falls before");
}

#[test]
fn enter_and_double_click_insert_and_shift_takes_the_cells_alone() {
    let mut window = with(&[("Other", &[], OTHER)]);
    choose(&mut window, "Other");
    window
        .harness
        .key_press_modifiers(Modifiers::SHIFT, Key::Enter);
    window.settle();
    window.until("cells", |w| letters(w).len() == 3);
    assert_eq!(form(&window), "A B | A A B B");
    window.key(Key::Enter);
    window.until("form", |w| form(w) == "A B | A A B B C A");
    // What was put in is chosen now, so the next one goes behind it.
    double_click(&mut window, "Other, ");
    window.until("twice", |w| form(w) == "A B | A A B B C A C A");
}

#[test]
fn an_item_is_heard_on_this_scores_kit_and_stopped() {
    let mut window = with(&[("Other", &[], OTHER)]);
    let stage = window.params.session.audition.take_stage().unwrap();
    choose(&mut window, "Other");
    window.key(Key::H);
    window.until("it plays", |w| w.params.session.audition.is_playing());
    assert_eq!(stage.shared.tempo_bpm(), 100.0);
    assert!(!stage.shared.click());
    window.click("own tempo");
    window.click("with click");
    assert_eq!(stage.shared.tempo_bpm(), 60.0);
    assert!(stage.shared.click());
    window.click("Stop Other");
    assert!(!window.params.session.audition.is_playing());
    window.click("Loop Other");
    window.until("it plays", |w| w.params.session.audition.is_playing());
    window.command(Key::Num3);
    assert!(!window.params.session.audition.is_playing());
}

#[test]
fn name_tags_and_note_are_changed_in_place() {
    let mut window = with(&[("Other", &["x"], OTHER)]);
    choose(&mut window, "Other");
    window.key(Key::F2);
    type_into(&mut window, "Name of the item", "Third");
    window.key(Key::Enter);
    window.until("name", |w| names(w) == ["Third"]);
    wait_for(&mut window, "File: Third.barform");
    type_into(&mut window, "Tags of the item", "toms, slow");
    window.key(Key::Enter);
    window.until("tags", |w| items(w)[0].tags == ["toms", "slow"]);
    type_into(&mut window, "Note of the item", "Left hand first.");
    window.key(Key::Tab);
    window.until("note", |w| items(w)[0].note == "Left hand first.");
    // A name that cannot be kept is told, and nothing is changed.
    type_into(&mut window, "Name of the item", " ");
    window.key(Key::Enter);
    wait_for(&mut window, "allowed is one line of 1 to");
    assert_eq!(names(&window), ["Third"]);
}

#[test]
fn an_item_is_removed_and_put_back() {
    let mut window = with(&[("One", &[], OTHER), ("Two", &[], SCORE)]);
    choose(&mut window, "One");
    window.key(Key::Delete);
    wait_for(&mut window, "One was removed");
    assert_eq!(names(&window), ["Two"]);
    window.click("Removed: 1");
    window.click("Restore One");
    wait_for(&mut window, "One is back on the shelf.");
    assert_eq!(names(&window), ["One", "Two"]);
    window.click("Remove from the shelf");
    window.until("removed again", |w| names(w) == ["Two"]);
}
