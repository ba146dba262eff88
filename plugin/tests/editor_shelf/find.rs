//! What the list shows, and what is said about it.

use super::*;

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
    window.until("words", |w| sees(w) == ["Birch, "]);
    window.click("All");
    window.until("all", |w| sees(w).len() == 3);
    window.click("Tag toms");
    window.until("tag", |w| sees(w) == ["Alder, ", "Birch, "]);
    window.click("Tag slow");
    window.until("tags", |w| sees(w) == ["Birch, "]);
    window.click("All");
    window.click("Length");
    window.click("2 beats");
    window.until("length", |w| sees(w) == ["Alder, "]);
    window.command(Key::F);
    window
        .harness
        .get_by_label("Search")
        .type_text("nothing like it");
    window.settle();
    wait_for(&mut window, "Nothing on the shelf matches.");
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
    window.until("inserted", |w| form(w).ends_with("C A"));
}

#[test]
fn what_another_window_does_to_the_folder_is_seen() {
    let mut window = with(&[("Other", &[], OTHER)]);
    let shelf = shelf(&window);
    let id = shelf.add_text(Label::named("Late"), SCORE).unwrap();
    wait_for(&mut window, "Late, ");
    choose(&mut window, "Late");
    shelf.remove(&id).unwrap();
    window.until("it goes", |w| !shows(w, "Late, "));
    // A change to an item that has gone just now is refused in words.
    choose(&mut window, "Other");
    type_into(&mut window, "Tags of the item", "late");
    shelf.remove(&items(&window)[0].id).unwrap();
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
    window.until("gone", |w| !shows(w, "Cannot be read"));
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
