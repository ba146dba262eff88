//! What is put on the shelf.

use super::*;

#[test]
fn the_chosen_cell_is_kept_with_name_tags_and_note() {
    let mut window = open();
    wait_for(&mut window, "Nothing is kept yet.");
    window.click("Keep cell A");
    type_into(&mut window, "Item name", "Four on the snare");
    type_into(&mut window, "Item tags", "warm-up, snare");
    type_into(&mut window, "Item note", "Slowly.");
    window.click("Keep");
    wait_for(&mut window, "Four on the snare is on the shelf.");
    let items = items(&window);
    assert_eq!(items.len(), 1);
    assert_eq!(items[0].name, "Four on the snare");
    assert_eq!(items[0].tags, ["warm-up", "snare"]);
    assert_eq!(items[0].note, "Slowly.");
    assert_eq!(items[0].cells.len(), 1);
    assert!(!items[0].has_form);
    assert_eq!(window.text(), SCORE);
}

#[test]
fn the_chosen_run_is_kept_with_the_cells_it_needs() {
    let mut window = open();
    choose_run(&mut window, 4, 3);
    window.click("Keep the 3 selected blocks");
    window.click("Keep");
    wait_for(&mut window, "is on the shelf.");
    let item = &items(&window)[0];
    let score = shelf(&window).load(&item.id).unwrap();
    assert_eq!(form_text(&score.sections[0].items), "A B B");
    assert_eq!(score.cells.len(), 2);
}

#[test]
fn the_whole_form_is_kept_word_for_word() {
    let mut window = open();
    window.click("Keep the whole form");
    window.click("Keep");
    wait_for(&mut window, "Lamp is on the shelf.");
    let item = &items(&window)[0];
    let text = shelf(&window).text(&item.id).unwrap();
    assert!(text.ends_with(SCORE), "{text}");
}

#[test]
fn an_item_of_the_same_name_stays_or_is_replaced_as_the_user_says() {
    let mut window = with(&[("Lamp, A", &["old"], OTHER)]);
    window.command(Key::K);
    wait_for(&mut window, "There is an item of this name on the shelf.");
    window.click("Keep both");
    wait_for(&mut window, "is on the shelf.");
    assert_eq!(names(&window), ["Lamp, A", "Lamp, A"]);

    let mut window = with(&[("Lamp, A", &["old"], OTHER)]);
    window.command(Key::K);
    wait_for(&mut window, "There is an item of this name on the shelf.");
    window.click("Replace it");
    wait_for(&mut window, "is on the shelf.");
    let items = items(&window);
    assert_eq!((items.len(), items[0].cells.len()), (1, 1));
    assert_eq!(items[0].tags, ["old"]);
}

#[test]
fn a_name_that_cannot_be_kept_is_told_in_the_form() {
    let mut window = open();
    window.click("Keep cell A");
    type_into(&mut window, "Item name", " ");
    window.click("Keep");
    wait_for(&mut window, "allowed is one line of 1 to");
    assert!(names(&window).is_empty());
    window.key(Key::Escape);
    window.key(Key::Escape);
    assert!(!shows(&window, "allowed is one line of 1 to"));
}

#[test]
fn what_was_typed_to_keep_something_waits_while_an_item_is_looked_at() {
    let mut window = with(&[("Other", &["old"], OTHER)]);
    window.click("Keep cell A");
    type_into(&mut window, "Item name", "Half typed");
    choose(&mut window, "Other");
    assert!(!shows(&window, "Cancel"), "the item is in its place");
    window.click("Keep cell A");
    window.click("Keep");
    wait_for(&mut window, "Half typed is on the shelf.");
    assert_eq!(names(&window), ["Half typed", "Other"]);
}

#[test]
fn a_name_nobody_typed_follows_what_is_chosen() {
    let mut window = open();
    choose_run(&mut window, 4, 3);
    window.click("Keep the 3 selected blocks");
    choose_run(&mut window, 4, 2);
    window.click("Keep");
    wait_for(&mut window, "Lamp, A B is on the shelf.");
}
