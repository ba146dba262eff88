//! The Shelf: what is kept, found, put into the score, changed and removed.

mod window;

use barform::editor::{App, Page};
use barform::state::check;
use barform_core::score::edit::{ItemPath, Run};
use barform_core::score::form_text;
use barform_core::shelf::{Item, Label, Query, Shelf};
use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;
use window::Window;

const SCORE: &str = "barform = 1\n# mine\ntitle = \"Lamp\"\ntempo = 100\nform = \"A B | A A B B\"\n\
                     \n[cell.A]\ngrid = \"4\"\nsticking = \"R L R L\"\n\n[cell.B]\ngrid = \"6 6 6\"\n\
                     sticking = \"R L R L R L R L R L R L R L R L K K\"\n";

/// Three beats on other letters; the last cell is the first score's A.
const OTHER: &str = "barform = 1\ntempo = 60\nform = \"A B\"\n\n[cell.A]\ngrid = \"3@2\"\n\
                     sticking = \"R L K\"\n\n[cell.B]\ngrid = \"4\"\nsticking = \"R L R L\"\n";

fn open() -> Window {
    on_page(Window::with_score(SCORE))
}

fn on_page(mut window: Window) -> Window {
    window.harness.state_mut().desk_mut().page = Page::Shelf;
    window.settle();
    window
}

/// With some items on the shelf before the page is opened.
fn with(items: &[(&str, &[&str], &str)]) -> Window {
    let window = Window::with_score(SCORE);
    let shelf = shelf(&window);
    for (name, tags, text) in items {
        let label = Label::named(*name).tagged(tags.iter().copied());
        shelf.add_text(label, text).unwrap();
    }
    let mut window = on_page(window);
    wait_for(&mut window, items[0].0);
    window
}

fn shelf(window: &Window) -> Shelf {
    Shelf::open(window.folder.path().join("shelf")).unwrap()
}

fn items(window: &Window) -> Vec<Item> {
    shelf(window).list(&Query::default()).unwrap().items
}

fn names(window: &Window) -> Vec<String> {
    items(window).into_iter().map(|i| i.name).collect()
}

fn form(window: &Window) -> String {
    let checked = window.params.session.checked();
    form_text(&checked.score().sections[0].items)
}

fn letters(window: &Window) -> Vec<String> {
    let checked = window.params.session.checked();
    let cells = checked.score().cells.iter();
    cells.map(|c| c.letter.to_string()).collect()
}

/// Frames until something holds.
fn until(window: &mut Window, what: &str, holds: impl Fn(&Window) -> bool) {
    for _ in 0..2_000 {
        if holds(window) {
            window.settle();
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(2));
        window.harness.run_steps(1);
    }
    panic!("it never came to pass: {what}");
}

fn wait_for(window: &mut Window, label: &str) {
    until(window, label, |w| shows(w, label));
}

fn shows(window: &Window, label: &str) -> bool {
    let found = window.harness.query_all_by_label_contains(label);
    found.count() > 0
}

fn type_into(window: &mut Window, field: &str, text: &str) {
    window.harness.get_by_label(field).focus();
    window.harness.run_steps(2);
    window.command(Key::A);
    window.harness.get_by_label(field).type_text(text);
    window.settle();
}

/// Clicks the row whose label begins so.
fn choose(window: &mut Window, name: &str) {
    window
        .harness
        .get_by_label_contains(&format!("{name}, "))
        .click();
    window.settle();
}

/// Both clicks fall within one frame.
fn double_click(window: &mut Window, label: &str) {
    let pos = window.harness.get_by_label_contains(label).rect().center();
    let button = |pressed| egui::Event::PointerButton {
        pos,
        button: egui::PointerButton::Primary,
        pressed,
        modifiers: Modifiers::NONE,
    };
    let events = &mut window.harness.input_mut().events;
    events.push(egui::Event::PointerMoved(pos));
    events.extend([true, false, true, false].map(button));
    window.settle();
}

fn choose_run(window: &mut Window, first: usize, count: usize) {
    let at = ItemPath::new(0, [first]);
    let chosen = &mut window.harness.state_mut().desk_mut().chosen;
    chosen.run = Some(Run { at, count });
    window.settle();
}

#[test]
fn the_chosen_cell_is_kept_with_name_tags_and_note() {
    let mut window = open();
    window.harness.get_by_label_contains("Nothing is kept yet.");
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
    window.click("Keep the 3 chosen blocks");
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
fn an_item_goes_into_the_form_where_it_is_wanted() {
    for (button, now) in [
        ("After the chosen block", "A C A B | A A B B"),
        ("At the end", "A B | A A B B C A"),
        ("Only its cells", "A B | A A B B"),
    ] {
        let mut window = with(&[("Other", &[], OTHER)]);
        choose_run(&mut window, 0, 1);
        choose(&mut window, "Other");
        window.click(button);
        until(&mut window, button, |w| letters(w).len() == 3);
        assert_eq!(form(&window).replace(" | ", " "), now.replace(" | ", " "));
        // Its B is this score's A.
        assert_eq!(letters(&window), ["A", "B", "C"]);
        until(&mut window, "it counts as used", |w| {
            items(w)[0].used.is_some()
        });
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
    until(&mut window, "cells", |w| letters(w).len() == 3);
    assert_eq!(form(&window), "A B | A A B B");
    window.key(Key::Enter);
    until(&mut window, "form", |w| form(w) == "A B | A A B B C A");
    // What was put in is chosen now, so the next one goes behind it.
    double_click(&mut window, "Other, ");
    until(&mut window, "twice", |w| form(w) == "A B | A A B B C A C A");
}

#[test]
fn an_item_is_heard_on_this_scores_kit_and_stopped() {
    let mut window = with(&[("Other", &[], OTHER)]);
    let stage = window.params.session.audition.take_stage().unwrap();
    choose(&mut window, "Other");
    window.key(Key::Space);
    until(&mut window, "it plays", |w| {
        w.params.session.audition.is_playing()
    });
    assert_eq!(stage.shared.tempo_bpm(), 100.0);
    assert!(!stage.shared.click());
    window.click("own tempo");
    window.click("with click");
    assert_eq!(stage.shared.tempo_bpm(), 60.0);
    assert!(stage.shared.click());
    window.click("Stop Other");
    assert!(!window.params.session.audition.is_playing());
    window.click("Hear it Other");
    until(&mut window, "it plays", |w| {
        w.params.session.audition.is_playing()
    });
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
    until(&mut window, "name", |w| names(w) == ["Third"]);
    wait_for(&mut window, "File: Third.barform");
    type_into(&mut window, "Tags of the item", "toms, slow");
    window.key(Key::Enter);
    until(&mut window, "tags", |w| {
        items(w)[0].tags == ["toms", "slow"]
    });
    type_into(&mut window, "Note of the item", "Left hand first.");
    window.key(Key::Tab);
    until(&mut window, "note", |w| {
        items(w)[0].note == "Left hand first."
    });
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
    until(&mut window, "removed again", |w| names(w) == ["Two"]);
}

#[test]
fn words_tags_length_and_order_narrow_the_list() {
    let mut window = with(&[
        ("Alder", &["toms"], OTHER),
        ("Birch", &["toms", "slow"], SCORE),
        ("Cedar", &[], SCORE),
    ]);
    let sees = |window: &Window| -> Vec<&'static str> {
        let all = ["Alder, ", "Birch, ", "Cedar, "];
        all.into_iter().filter(|n| shows(window, n)).collect()
    };
    window.command(Key::F);
    window.harness.get_by_label("Search").type_text("bir");
    window.settle();
    until(&mut window, "words", |w| sees(w) == ["Birch, "]);
    window.click("All");
    until(&mut window, "all", |w| sees(w).len() == 3);
    window.click("Tag toms");
    until(&mut window, "tag", |w| sees(w) == ["Alder, ", "Birch, "]);
    window.click("Tag slow");
    until(&mut window, "tags", |w| sees(w) == ["Birch, "]);
    window.click("All");
    window.click("Length");
    window.click("2 beats");
    until(&mut window, "length", |w| sees(w) == ["Alder, "]);
    window.command(Key::F);
    window
        .harness
        .get_by_label("Search")
        .type_text("nothing like it");
    window.settle();
    wait_for(&mut window, "Nothing on the shelf is like that.");
}

#[test]
fn the_keyboard_goes_from_the_search_into_the_list() {
    let mut window = with(&[("Alder", &[], OTHER), ("Birch", &[], SCORE)]);
    window.command(Key::F);
    window.key(Key::ArrowDown);
    assert!(shows(&window, "File: Alder.barform"));
    window.key(Key::ArrowDown);
    assert!(shows(&window, "File: Birch.barform"));
    window.key(Key::Home);
    assert!(shows(&window, "File: Alder.barform"));
    window.key(Key::Enter);
    until(&mut window, "inserted", |w| form(w).ends_with("C A"));
}

#[test]
fn what_another_window_does_to_the_folder_is_seen() {
    let mut window = with(&[("Other", &[], OTHER)]);
    let shelf = shelf(&window);
    let id = shelf.add_text(Label::named("Late"), SCORE).unwrap();
    wait_for(&mut window, "Late, ");
    choose(&mut window, "Late");
    shelf.remove(&id).unwrap();
    until(&mut window, "it goes", |w| !shows(w, "Late, "));
    // A change to an item that has just gone is refused in words.
    choose(&mut window, "Other");
    let other = items(&window)[0].id.clone();
    shelf.remove(&other).unwrap();
    type_into(&mut window, "Tags of the item", "late");
    window.key(Key::Enter);
    wait_for(&mut window, "is no longer there");
}

#[test]
fn a_damaged_file_is_told_about_in_words_and_taken_off() {
    let window = Window::with_score(SCORE);
    let folder = window.folder.path().join("shelf");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join("odd.barform"), "barform = 1\nform = \"Q\"\n").unwrap();
    let mut window = on_page(window);
    wait_for(&mut window, "Cannot be read: 1");
    window.click("Cannot be read: 1");
    window.harness.get_by_label_contains("odd.barform:2:");
    window.click("Remove odd.barform");
    until(&mut window, "gone", |w| !shows(w, "Cannot be read"));
    assert!(folder.join("removed/odd.barform").exists());
}

#[test]
fn the_empty_shelf_names_its_folder_and_no_folder_is_told() {
    let mut window = open();
    let folder = window.folder.path().join("shelf").display().to_string();
    wait_for(&mut window, &folder);
    // Looking makes no folder.
    assert!(!window.folder.path().join("shelf").exists());
    *window.harness.state_mut() = App::with_folders(window.params.clone(), None);
    let mut window = on_page(window);
    wait_for(&mut window, "This machine names no folder");
    assert!(check(&window.text(), "test").is_ok());
}
