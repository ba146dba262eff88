//! Blocks put in, moved, repeated, played otherwise.

use super::*;

#[test]
fn blocks_are_duplicated_and_deleted() {
    becomes("A B C C", "A B B C C", |w| {
        click_block(w, 2);
        w.click("Duplicate blocks");
        assert_eq!(chosen(w), run(&[2], 1));
    });
    becomes("A B C C", "A B A B C C", |w| {
        click_block(w, 1);
        shift_click(w, 2);
        press(w, Modifiers::COMMAND, Key::D);
    });
    becomes("A B C C", "A C C", |w| {
        click_block(w, 2);
        w.click("Delete blocks");
        assert_eq!(chosen(w), run(&[1], 1), "what now stands there");
    });
    becomes("A B C C", "A", |w| {
        click_block(w, 2);
        shift_click(w, 4);
        w.key(Key::Delete);
        assert_eq!(chosen(w), run(&[0], 1));
    });
    let mut window = with_form("A");
    let before = window.text();
    click_block(&mut window, 1);
    window.key(Key::Delete);
    assert_eq!(window.text(), before);
    assert!(refusal(&window).contains("without a letter"));
    window.click("Dismiss refusal");
    assert!(window.harness.query_by_label("Dismiss refusal").is_none());
}

#[test]
fn arrow_keys_with_alt_or_ctrl_move_what_is_chosen() {
    becomes("A B C C", "B A C C", |w| {
        click_block(w, 1);
        press(w, Modifiers::ALT, Key::ArrowRight);
        assert_eq!(chosen(w), run(&[1], 1));
    });
    becomes("A B C C", "A C B C", |w| {
        click_block(w, 3);
        press(w, Modifiers::COMMAND, Key::ArrowLeft);
    });
    becomes("(A B) | (C C)", "(C C) | (A B)", |w| {
        click_block(w, 1);
        w.key(Key::ArrowUp);
        press(w, Modifiers::ALT, Key::ArrowRight);
    });
    let mut window = with_form("A B");
    click_block(&mut window, 1);
    press(&mut window, Modifiers::ALT, Key::ArrowLeft);
    assert_eq!(form(&window), "A B");
    assert!(refusal(&window).contains("at the start of the form"));
}

#[test]
fn blocks_are_dragged_to_where_they_are_let_go() {
    becomes("A B C C", "B C A C", |w| {
        let to = within(w, 3, 0.8);
        drag(w, block(w, 1), to);
        assert_eq!(chosen(w), run(&[2], 1));
    });
    // A stretch goes as one.
    becomes("A B C B B", "C B A B B", |w| {
        click_block(w, 1);
        shift_click(w, 2);
        let to = within(w, 4, 0.9);
        drag(w, block(w, 2), to);
        assert_eq!(chosen(w), run(&[2], 2));
    });
    // Into a group, and behind it.
    becomes("B (A B)x2 C", "(A B B)x2 C", |w| {
        let to = within(w, 5, 0.6);
        drag(w, block(w, 1), to);
    });
    becomes("B (A B)x2 C", "(A B)x2 B C", |w| {
        let to = within(w, 5, 0.95);
        drag(w, block(w, 1), to);
    });
    // Behind the last.
    becomes("A B C", "B C A", |w| {
        let to = within(w, 3, 0.9);
        drag(w, block(w, 1), to);
    });
}

#[test]
fn a_drag_is_one_step_and_esc_gives_it_up_without_a_trace() {
    let mut window = with_form("A B C C");
    let before = window.text();
    let (from, to) = (block(&window, 1), within(&window, 4, 0.9));
    let over = [block(&window, 2), block(&window, 3), to];
    begin_drag(&mut window, from, &over);
    window.harness.key_press(Key::Escape);
    window.harness.run_steps(2);
    window.harness.drop_at(to);
    window.settle();
    assert_eq!(window.text(), before);
    assert_eq!(
        window.params.session.steps().0.as_deref(),
        Some("Test"),
        "no step"
    );
    // Let go where it was: no step either.
    drag(&mut window, from, from + egui::vec2(30.0, 0.0));
    assert_eq!(window.text(), before);
    assert_eq!(window.params.session.steps().0.as_deref(), Some("Test"));
    begin_drag(&mut window, from, &over);
    window.harness.drop_at(to);
    window.settle();
    assert_eq!(form(&window), "B C C A");
    window.command(Key::Z);
    assert_eq!(window.text(), before);
}

#[test]
fn a_drag_with_ctrl_copies() {
    becomes("A B C C", "A B C C A", |w| {
        let (from, to) = (block(w, 1), within(w, 4, 0.9));
        begin_drag(w, from, &[block(w, 2), to]);
        w.harness.event(Event::ModifiersChanged(Modifiers::COMMAND));
        w.harness.run_steps(2);
        w.harness.drop_at(to);
        w.harness.run_steps(1);
        w.harness.event(Event::ModifiersChanged(Modifiers::NONE));
        w.settle();
    });
}

#[test]
fn letters_are_put_in_by_menu_and_by_typing_them() {
    becomes("A B", "A C B", |w| {
        click_block(w, 1);
        w.click("Insert…");
        w.click("Insert C");
        assert_eq!((chosen(w), &*bench(w)), (run(&[1], 1), "C"));
    });
    becomes("A B", "C A B", |w| {
        click_block(w, 1);
        w.click("Insert…");
        w.click("Before it");
        w.click("Insert C");
    });
    becomes("A B", "A B B'", |w| {
        w.click("Insert…");
        w.click("Insert B'");
    });
    becomes("A B", "A B C", |w| {
        click_block(w, 2);
        write(w, "c");
    });
    let mut window = with_form("A B");
    let before = window.text();
    click_block(&mut window, 2);
    write(&mut window, "q");
    assert_eq!(window.text(), before);
    assert!(refusal(&window).contains("no cell Q"));
}

#[test]
fn a_new_cell_takes_the_next_free_letter_and_is_on_the_bench() {
    becomes("A B", "A D B", |w| {
        click_block(w, 1);
        w.click("Insert…");
        w.click("New cell D");
        assert_eq!(bench(w), "D");
        let cell = score(w).cell(&"D".parse_letter()).unwrap();
        assert_eq!(
            cell.grid.to_string(),
            "6 6 6",
            "as long as the selected one"
        );
        assert!(cell.slots.iter().all(Vec::is_empty));
    });
    becomes("A B", "A B D", |w| {
        click_block(w, 2);
        w.key(Key::Insert);
    });
}

/// A letter from text.
trait ParseLetter {
    fn parse_letter(&self) -> barform_app::music::Letter;
}

impl ParseLetter for str {
    fn parse_letter(&self) -> barform_app::music::Letter {
        barform_app::music::Letter::new(self).unwrap()
    }
}

#[test]
fn repeats_are_counted_by_buttons_keys_and_numbers() {
    let mut window = with_form("A B C C");
    click_block(&mut window, 2);
    leaves(&mut window, "A (B)x2 C C", |w| w.click("More repeats"));
    click_block(&mut window, 2);
    window.key(Key::ArrowUp);
    leaves(&mut window, "A (B)x3 C C", |w| {
        press(w, Modifiers::COMMAND, Key::ArrowUp)
    });
    click_block(&mut window, 2);
    window.key(Key::ArrowUp);
    leaves(&mut window, "A (B)x2 C C", |w| w.click("Fewer repeats"));
    click_block(&mut window, 2);
    window.key(Key::ArrowUp);
    leaves(&mut window, "A B C C", |w| {
        press(w, Modifiers::COMMAND, Key::ArrowDown)
    });
    // Two digits are one number and one step.
    click_block(&mut window, 1);
    shift_click(&mut window, 2);
    leaves(&mut window, "(A B)x16 C C", |w| {
        w.harness.event(Event::Text("1".to_owned()));
        w.harness.run_steps(1);
        w.harness.event(Event::Text("6".to_owned()));
        w.settle();
    });
}

#[test]
fn a_repeat_count_is_typed_in_its_field() {
    becomes("A (B)x2 C", "A (B)x12 C", |w| {
        w.click("Repeat ×2 of 1 block");
        w.click("Repeats");
        w.harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
        w.harness.run_steps(1);
        w.harness.event(Event::Text("12".to_owned()));
        w.harness.run_steps(1);
        w.key(Key::Enter);
    });
}

#[test]
fn groups_come_and_go() {
    becomes("A B C C", "(A B)x2 C C", |w| {
        click_block(w, 1);
        shift_click(w, 2);
        w.click("Group blocks");
        assert_eq!(chosen(w), run(&[0], 1));
    });
    becomes("(A B)x3 C", "A B C", |w| {
        w.click("Repeat ×3 of 2 blocks");
        w.click("Ungroup blocks");
    });
    becomes("A B C C", "A (B)x2 C C", |w| {
        click_block(w, 2);
        press(w, Modifiers::COMMAND, Key::G);
    });
    becomes("(A B)x3 C", "A B C", |w| {
        click_block(w, 1);
        press(w, Modifiers::COMMAND | Modifiers::SHIFT, Key::G);
    });
}

#[test]
fn a_block_is_played_otherwise() {
    let play_as = |w: &mut Window, labels: &[&str]| {
        w.click("Play as…");
        for label in labels {
            w.click(label);
        }
        w.key(Key::Escape);
    };
    let case = |expected: &str, labels: &[&str]| {
        becomes("A B C C", expected, |w| {
            click_block(w, 2);
            play_as(w, labels);
        });
    };
    case("A B[16ths] C C", &["16ths"]);
    case("A B[16ths carry] C C", &["Carry", "16ths"]);
    case("A B[rate 2] C C", &["Rate ×2"]);
    case("A B[rate 1/2] C C", &["Rate ×1/2"]);
    case("A B[voicing up] C C", &["Voicing up"]);
    case("A C C C", &["Play C here"]);
    // Taken back in the same menu: two steps.
    let mut window = with_form("A B[16ths] C C");
    click_block(&mut window, 2);
    play_as(&mut window, &["Carry"]);
    assert_eq!(form(&window), "A B[16ths carry] C C");
    play_as(&mut window, &["As written"]);
    assert_eq!(form(&window), "A B C C");
}

#[test]
fn a_grid_and_a_level_are_typed() {
    becomes("A B C C", "A B[2@1/2 1@1/2] C C", |w| {
        click_block(w, 2);
        w.click("Play as…");
        w.click("Grid here");
        w.harness.event(Event::Text("2@1/2 1@1/2".to_owned()));
        w.settle();
        w.click("Set grid");
    });
    becomes("A B C C", "A B[level 70%] C C", |w| {
        click_block(w, 2);
        w.click("Play as…");
        w.harness
            .get_by_label("Level here")
            .set_value_accesskit(70.0);
        w.settle();
    });
    let mut window = with_form("A B C C");
    let before = window.text();
    click_block(&mut window, 2);
    window.click("Play as…");
    window.click("Grid here");
    window.harness.event(Event::Text("many".to_owned()));
    window.settle();
    window.click("Set grid");
    assert_eq!(window.text(), before);
    refusal(&window);
}

#[test]
fn a_stretch_and_a_section_are_played_otherwise() {
    becomes("A B C C", "A[16ths] B[16ths] C C", |w| {
        click_block(w, 1);
        shift_click(w, 2);
        w.click("Play as…");
        w.click("16ths");
        assert_eq!(chosen(w), run(&[0], 2));
    });
    becomes("A (B C)x2", "A (B C)x2[rate 2]", |w| {
        w.click("Repeat ×2 of 2 blocks");
        w.click("Play as…");
        w.click("Rate ×2");
    });
    let mut window = with_sections(&[("Call", "A B"), ("Answer", "C C")]);
    let before = window.text();
    window.click("Section 2: Answer");
    window.click("Play as…");
    window.click("16th-triplets");
    let overrides = score(&window).sections[1].overrides.clone();
    assert_eq!(
        overrides.subdivision.unwrap().0.to_string(),
        "16th-triplets"
    );
    window.key(Key::Escape);
    window.command(Key::Z);
    assert_eq!(window.text(), before);
}

#[test]
fn a_letter_is_primed() {
    for by_key in [true, false] {
        let mut window = with_form("A B B C");
        let before = window.text();
        click_block(&mut window, 2);
        if by_key {
            write(&mut window, "'");
        } else {
            window.click("Prime block");
        }
        assert_eq!(form(&window), "A B'' B C");
        assert_eq!(bench(&window), "B''");
        let cell = score(&window)
            .cells
            .into_iter()
            .find(|c| c.letter.as_str() == "B''");
        assert_eq!(cell.unwrap().like.unwrap().as_str(), "B");
        window.command(Key::Z);
        assert_eq!(window.text(), before);
    }
}

#[test]
fn a_bar_line_check_is_put_in_and_taken_away() {
    becomes("A B C C", "A B | C C", |w| {
        click_block(w, 2);
        w.click("Bar line here");
        assert_eq!(chosen(w), run(&[1], 1));
    });
    becomes("A B | C C", "A B C C", |w| {
        click_block(w, 2);
        write(w, "|");
    });
    let mut window = with_form("A B C C");
    let before = window.text();
    click_block(&mut window, 1);
    window.click("Bar line here");
    assert_eq!(window.text(), before);
    assert!(refusal(&window).contains("add 1 beat before it"));
}
