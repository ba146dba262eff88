//! Sections.

use super::*;

fn names(window: &Window) -> Vec<String> {
    score(window).sections.into_iter().map(|s| s.name).collect()
}

#[test]
fn sections_are_made_moved_and_removed() {
    let mut window = with_sections(&[("Call", "A B"), ("Answer", "C C")]);
    let start = window.text();
    let menu = |window: &mut Window, section: &str, item: &str| {
        window.click(section);
        window.click("Section…");
        window.click(item);
    };
    menu(&mut window, "Section 2: Answer", "Move it earlier");
    assert_eq!(names(&window), ["Answer", "Call"]);
    menu(&mut window, "Section 1: Answer", "Move it later");
    assert_eq!(names(&window), ["Call", "Answer"]);
    menu(&mut window, "Section 1: Call", "Duplicate it");
    assert_eq!(names(&window), ["Call", "Call", "Answer"]);
    menu(&mut window, "Section 2: Call", "New section after it");
    assert_eq!(names(&window), ["Call", "Call", "Section 4", "Answer"]);
    menu(&mut window, "Section 3: Section 4", "Remove it");
    assert_eq!(names(&window), ["Call", "Call", "Answer"]);
    for _ in 0..5 {
        window.command(Key::Z);
    }
    assert_eq!(window.text(), start);
}

#[test]
fn a_section_is_cut_in_two_before_the_chosen_block() {
    for by_key in [true, false] {
        let mut window = with_form("A B C C");
        let before = window.text();
        click_block(&mut window, 3);
        if by_key {
            press(&mut window, Modifiers::COMMAND, Key::K);
        } else {
            window.click("Section…");
            window.click("Split before the selected block");
        }
        assert_eq!(form_of(&window, 0), "A B");
        assert_eq!(form_of(&window, 1), "C C");
        window.command(Key::Z);
        assert_eq!(window.text(), before);
    }
}

#[test]
fn a_section_is_named_and_gets_a_meter() {
    let mut window = with_sections(&[("Call", "A B"), ("Answer", "A A")]);
    let before = window.text();
    window.click("Section 2: Answer");
    window.click("Section…");
    window.click("Section name");
    window
        .harness
        .key_press_modifiers(Modifiers::COMMAND, Key::A);
    window.harness.run_steps(1);
    window.harness.event(Event::Text("Out".to_owned()));
    window.settle();
    assert_eq!(names(&window), ["Call", "Out"]);
    window.click("Section meter");
    window.harness.event(Event::Text("3/4".to_owned()));
    window.settle();
    window.click("Set meter");
    assert_eq!(score(&window).sections[1].meter, Meter::new(3, 4));
    window.click("As the score");
    assert_eq!(score(&window).sections[1].meter, None);
    window.key(Key::Escape);
    for _ in 0..3 {
        window.command(Key::Z);
    }
    assert_eq!(window.text(), before);
    window.click("Section…");
    window.click("Section meter");
    window.harness.event(Event::Text("3/5".to_owned()));
    window.settle();
    window.click("Set meter");
    assert_eq!(window.text(), before);
    assert!(refusal(&window).contains("'3/5' is no meter"));
}
