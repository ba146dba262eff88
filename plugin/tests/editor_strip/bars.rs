//! What is missing in a bar, and its mends.

use super::*;

/// Frames until mends have been sought.
fn sought(window: &mut Window) {
    while window
        .harness
        .query_by_label_contains("Looking for fixes")
        .is_some()
    {
        std::thread::sleep(std::time::Duration::from_millis(2));
        window.harness.run_steps(1);
    }
    window.settle();
}

#[test]
fn what_is_missing_is_marked_at_its_bar_and_mended_with_a_click() {
    let mut window = with_form("A B C C A");
    sought(&mut window);
    window.harness.get_by_label("Bar 3: 1 beat missing");
    window
        .harness
        .get_by_label("Bar 3: 1 beat missing at the end of the form.");
    let before = window.text();
    let mends = window.harness.get_all_by_label_contains("Fix: ");
    mends.into_iter().next().unwrap().click();
    window.settle();
    let length = score(&window).placements().unwrap().length;
    assert!((length.to_f64() / 4.0).fract() == 0.0, "{}", form(&window));
    assert!(
        window
            .harness
            .query_by_label("Bar 3: 1 beat missing")
            .is_none()
    );
    window.command(Key::Z);
    assert_eq!(window.text(), before);
    sought(&mut window);
    window.harness.get_by_label("Bar 3: 1 beat missing");
    // The best mend by key.
    click_block(&mut window, 1);
    press(&mut window, Modifiers::COMMAND, Key::M);
    let length = score(&window).placements().unwrap().length;
    assert!((length.to_f64() / 4.0).fract() == 0.0);
}

#[test]
fn a_check_that_gave_way_is_marked_and_put_back_with_the_mend() {
    let mut window = with_form("A B | C C | A B |");
    click_block(&mut window, 2);
    window.key(Key::Delete);
    // All three gave way: each falls a beat early now.
    assert_eq!(form(&window), "A C C A B");
    sought(&mut window);
    window.harness.get_by_label("Bar 1: 1 beat missing");
    window.harness.get_by_label("Bar 2: 1 beat missing");
    window
        .harness
        .get_by_label("Bar 1: 1 beat missing before the bar line.");
    let before = window.text();
    press(&mut window, Modifiers::COMMAND, Key::M);
    // One beat more before the first bar line, and all checks are back.
    assert_eq!(form(&window).matches('|').count(), 3, "{}", form(&window));
    assert!(
        window
            .harness
            .query_by_label_contains("beat missing")
            .is_none()
    );
    window.command(Key::Z);
    assert_eq!(window.text(), before);
}

#[test]
fn checks_that_hold_again_are_put_back_with_a_click() {
    let mut window = with_form("A B | C C |");
    click_block(&mut window, 2);
    window.key(Key::Delete);
    assert_eq!(form(&window), "A C C");
    click_block(&mut window, 1);
    write(&mut window, "b");
    assert_eq!(form(&window), "A B C C");
    window.harness.get_by_label("2 bar lines fit again.");
    leaves(&mut window, "A B | C C |", |w| w.click("Put them back"));
    assert!(
        window
            .harness
            .query_by_label_contains("hold again")
            .is_none()
    );
    // Undo of the edit that took them away needs none of that.
    let mut window = with_form("A B | C C |");
    click_block(&mut window, 2);
    window.key(Key::Delete);
    window.command(Key::Z);
    assert_eq!(form(&window), "A B | C C |");
    assert!(window.harness.query_by_label_contains("missing").is_none());
}

#[test]
fn a_section_that_ends_inside_a_bar_is_marked_there() {
    let mut window = with_sections(&[("Call", "A B A"), ("Answer", "C C B")]);
    sought(&mut window);
    window.harness.get_by_label("Bar 2: 1 beat missing");
    window
        .harness
        .get_by_label("Bar 2: 1 beat missing at the end of Call.");
}
