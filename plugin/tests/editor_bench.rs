//! The Bench, worked by clicks and keys as a user would.

mod window;

use barform_app::music::Voice;
use barform_app::score::edit::{Lines, Owner};
use barform_app::sheet::step;
use egui::{Event, Key, Modifiers, PointerButton, Pos2, pos2};
use egui_kittest::kittest::{NodeT, Queryable};
use window::Window;

const ONE: &str = r#"barform = 1
tempo = 90
form = "A"

[cell.A]
grid = "4"
sticking = "- - - -"
"#;

const TWO: &str = r#"barform = 1
tempo = 90
form = "A A' A B"

[cell.A]
grid = "4 4"
sticking = "R L R L R L R L"
voices = "snare . tom1 . . . hat kick"

[cell."A'"]
like = "A"
voices = "tom2 . . . . . . ."

[cell.B]
grid = "3"
sticking = "R K L"

[ostinato.hat]
grid = "2"
sticking = "- H"
"#;

/// A window on the Bench.
fn bench(text: &str) -> Window {
    Window::with_score(text)
}

/// The lines of a cell: grid, sticking, voices.
fn lines(window: &Window, letter: &str) -> (String, String, String) {
    let checked = window.params.session.checked();
    let letter = barform_app::music::Letter::new(letter).unwrap();
    let lines = Lines::of(checked.score(), &Owner::Cell(letter)).unwrap();
    (lines.grid.to_string(), lines.sticking, lines.voices)
}

fn sticking(window: &Window, letter: &str) -> String {
    lines(window, letter).1
}

fn voices(window: &Window, letter: &str) -> String {
    lines(window, letter).2
}

fn shifted(window: &mut Window, key: Key) {
    window.harness.key_press_modifiers(Modifiers::SHIFT, key);
    window.settle();
}

fn sign(window: &mut Window, text: &str) {
    window.harness.event(Event::Text(text.to_owned()));
    window.settle();
}

/// Clicks at a place.
fn click_at(window: &mut Window, pos: Pos2, modifiers: Modifiers) {
    window.harness.hover_at(pos);
    window.harness.event(Event::ModifiersChanged(modifiers));
    window.harness.run_steps(1);
    for pressed in [true, false] {
        window.harness.event(Event::PointerButton {
            pos,
            button: PointerButton::Primary,
            pressed,
            modifiers,
        });
        window.harness.run_steps(1);
    }
    window
        .harness
        .event(Event::ModifiersChanged(Modifiers::NONE));
    window.settle();
}

/// Where a voice stands over a slot, both counted as the staff is read: the slot
/// from 1.
fn place(window: &Window, slot: usize, voice: Voice) -> Pos2 {
    let column = window
        .harness
        .get_by_label_contains(&format!("Slot {slot}: "))
        .rect();
    let staff = window.harness.get_by_label("Staff lines").rect();
    // Five lines: eight steps from the lowest to the highest.
    let y = staff.bottom() - f32::from(step(voice).0) * staff.height() / 8.0;
    pos2(column.center().x, y)
}

fn click_voice(window: &mut Window, slot: usize, voice: Voice) {
    let pos = place(window, slot, voice);
    click_at(window, pos, Modifiers::NONE);
}

/// Replaces the text of a line, a keystroke at a time.
fn type_line(window: &mut Window, line: &str, text: &str) {
    window.harness.get_by_label(line).focus();
    window.harness.run_steps(2);
    window
        .harness
        .key_press_modifiers(Modifiers::COMMAND, Key::A);
    window.harness.run_steps(1);
    window.harness.key_press(Key::Delete);
    window.harness.run_steps(1);
    for c in text.chars() {
        window.harness.event(Event::Text(c.to_string()));
        window.harness.run_steps(1);
    }
    window.settle();
}

fn leave_line(window: &mut Window) {
    window.harness.key_press(Key::Enter);
    window.settle();
}

/// The text in a line's field.
fn field(window: &Window, line: &str) -> String {
    window
        .harness
        .get_by_label(line)
        .value()
        .unwrap_or_default()
}

#[test]
fn letters_typed_fill_one_slot_after_the_other() {
    let mut window = bench(ONE);
    for key in [Key::R, Key::L, Key::K, Key::H] {
        window.key(key);
    }
    assert_eq!(sticking(&window, "A"), "R L K H");
    // The cell is full: nothing is overwritten.
    window.key(Key::R);
    assert_eq!(sticking(&window, "A"), "R L K H");
    window
        .harness
        .get_by_label_contains("That was the last slot");
    window.key(Key::Home);
    window.key(Key::L);
    window.key(Key::Minus);
    window.key(Key::Minus);
    assert_eq!(sticking(&window, "A"), "L - - H");
}

#[test]
fn shift_adds_a_limb_beside_what_is_there() {
    let mut window = bench(ONE);
    window.key(Key::R);
    shifted(&mut window, Key::K);
    assert_eq!(sticking(&window, "A"), "R+K - - -");
    window.key(Key::L);
    assert_eq!(sticking(&window, "A"), "R+K L - -");
}

#[test]
fn the_cursor_moves_by_keys_and_stays_in_the_cell() {
    let mut window = bench(ONE);
    let at = |window: &Window| window.harness.state().desk().chosen.slot;
    window.key(Key::ArrowLeft);
    assert_eq!(at(&window), 0);
    window.key(Key::ArrowRight);
    window.key(Key::ArrowRight);
    assert_eq!(at(&window), 2);
    window.key(Key::End);
    assert_eq!(at(&window), 3);
    window.key(Key::ArrowRight);
    assert_eq!(at(&window), 3);
    window.key(Key::Home);
    assert_eq!(at(&window), 0);
    window.key(Key::End);
    window.key(Key::R);
    assert_eq!(sticking(&window, "A"), "- - - R");
}

#[test]
fn marks_go_to_the_stroke_under_the_cursor() {
    let mut window = bench(ONE);
    window.key(Key::R);
    sign(&mut window, ">");
    assert_eq!(sticking(&window, "A"), "R> - - -");
    sign(&mut window, ">");
    assert_eq!(sticking(&window, "A"), "R - - -");
    sign(&mut window, "(");
    assert_eq!(sticking(&window, "A"), "(R) - - -");
    sign(&mut window, "(");
    for (key, text) in [
        (Key::F, "lR - - -"),
        (Key::D, "llR - - -"),
        (Key::U, "lrlR - - -"),
        (Key::Z, "Rz - - -"),
        (Key::Z, "R - - -"),
    ] {
        window.key(key);
        assert_eq!(sticking(&window, "A"), text);
    }
    window.key(Key::X);
    assert_eq!(sticking(&window, "A"), "L - - -");
    window.key(Key::Delete);
    assert_eq!(sticking(&window, "A"), "- - - -");
    window.key(Key::F);
    window
        .harness
        .get_by_label_contains("put a stroke there first");
}

#[test]
fn the_same_by_buttons() {
    let mut window = bench(ONE);
    for (button, text) in [
        ("Right hand", "R - - -"),
        ("Accent", "R> - - -"),
        ("Ghost note", "(R) - - -"),
        ("Ghost note", "R - - -"),
        ("Flam", "lR - - -"),
        ("Drag", "llR - - -"),
        ("Ruff", "lrlR - - -"),
        ("Buzz", "Rz - - -"),
        ("Swap hands", "Lz - - -"),
        ("Kick foot", "Lz K - -"),
        ("Hi-hat foot", "Lz K H -"),
        ("Rest", "Lz K H -"),
    ] {
        window.click(button);
        assert_eq!(sticking(&window, "A"), text, "{button}");
    }
}

#[test]
fn voices_go_round_the_kit_and_back() {
    let mut window = bench(ONE);
    window.key(Key::R);
    // The kit of General MIDI stands hat, snare, tom1 and so on.
    window.key(Key::V);
    assert!(voices(&window, "A").starts_with("tom1"));
    window.key(Key::ArrowUp);
    window.key(Key::ArrowUp);
    assert!(voices(&window, "A").starts_with("hat"));
    window.key(Key::ArrowDown);
    assert_eq!(voices(&window, "A"), "");
    window.click("Voice");
    window.click("ride");
    assert!(voices(&window, "A").starts_with("ride"));
    window.click("Struck");
    window.click("bell");
    assert!(voices(&window, "A").starts_with("ride:bell"));
    window.key(Key::ArrowUp);
    assert!(voices(&window, "A").starts_with("tom4"));
}

#[test]
fn a_click_on_the_staff_puts_moves_chooses_and_takes_away() {
    let mut window = bench(ONE);
    click_voice(&mut window, 2, Voice::Tom1);
    let (_, stuck, voiced) = lines(&window, "A");
    assert!(stuck == "- R - -" || stuck == "- L - -", "{stuck}");
    assert_eq!(voiced, "- tom1 - -");
    // The hand moves, with its accent.
    sign(&mut window, ">");
    click_voice(&mut window, 2, Voice::Ride);
    assert_eq!(voices(&window, "A"), "- ride - -");
    assert!(sticking(&window, "A").contains('>'));
    // A foot is put beside it.
    click_voice(&mut window, 2, Voice::Kick);
    assert!(sticking(&window, "A").contains("+K"));
    // The first click on the hand's head chooses it, the second takes it away.
    click_voice(&mut window, 2, Voice::Ride);
    assert!(sticking(&window, "A").contains("+K"));
    click_voice(&mut window, 2, Voice::Ride);
    assert_eq!(sticking(&window, "A"), "- K - -");
}

#[test]
fn shift_and_a_click_add_the_other_hand() {
    let mut window = bench(ONE);
    window.key(Key::R);
    let pos = place(&window, 1, Voice::Tom3);
    click_at(&mut window, pos, Modifiers::SHIFT);
    let (_, stuck, voiced) = lines(&window, "A");
    assert_eq!(stuck, "R+L - - -");
    assert_eq!(voiced.split_whitespace().next(), Some("snare+tom3"));
}

#[test]
fn every_voice_of_the_kit_can_be_clicked() {
    let kit = barform_app::music::Kit::general_midi();
    let feet = [Voice::Kick, Voice::HatFoot];
    for voice in kit.order.iter().copied().chain(feet) {
        let mut window = bench(ONE);
        click_voice(&mut window, 3, voice);
        let cell = window.harness.state().desk().chosen_cell().unwrap();
        let struck: Vec<Voice> = cell.slots[2].iter().map(|s| s.voice).collect();
        assert_eq!(struck, [voice]);
    }
}

#[test]
fn a_click_on_counts_or_sticking_moves_the_cursor_only() {
    let mut window = bench(TWO);
    let before = window.text();
    let column = window.harness.get_by_label_contains("Slot 5: ").rect();
    let staff = window.harness.get_by_label("Staff lines").rect();
    let pos = pos2(column.center().x, staff.bottom() + staff.height() * 1.1);
    click_at(&mut window, pos, Modifiers::NONE);
    assert_eq!(window.harness.state().desk().chosen.slot, 4);
    assert_eq!(window.text(), before);
}

#[test]
fn the_hand_for_a_click_alternates_with_its_neighbours() {
    let mut window = bench(ONE);
    window.key(Key::R);
    click_voice(&mut window, 2, Voice::Snare);
    click_voice(&mut window, 3, Voice::Snare);
    click_voice(&mut window, 4, Voice::Snare);
    assert_eq!(sticking(&window, "A"), "R L R L");
}

#[test]
fn number_keys_cut_the_beat_under_the_cursor() {
    let mut window = bench(TWO);
    for _ in 0..4 {
        window.key(Key::ArrowRight);
    }
    window.key(Key::Num6);
    assert_eq!(lines(&window, "A").0, "4 6");
    // The cursor stays at the start of the second beat.
    assert_eq!(window.harness.state().desk().chosen.slot, 4);
    window.key(Key::Home);
    window.click("12 slots in the beat");
    assert_eq!(lines(&window, "A").0, "12 6");
}

#[test]
fn strokes_are_kept_in_the_way_that_is_chosen() {
    for (way, grid, stuck) in [
        ("Strokes by time", "8", "R - K - L - - -"),
        ("Strokes by slot", "8", "R K L - - - - -"),
        ("Strokes by carry", "3@3/8", "R K L"),
    ] {
        let text = TWO.replace(
            "grid = \"3\"\nsticking = \"R K L\"",
            "grid = \"4\"\nsticking = \"R K L -\"",
        );
        let mut window = bench(&text.replace("form = \"A A' A B\"", "form = \"B\""));
        window.click("Cell B");
        window.click(way);
        window.key(Key::Num8);
        let (got_grid, got, _) = lines(&window, "B");
        if way.ends_with("carry") {
            assert_ne!(got_grid, grid, "all four slots are carried");
            assert_eq!(got_grid, "4@1/2");
            assert_eq!(got, "R K L -");
        } else {
            assert_eq!(got_grid, grid, "{way}");
            let spaced = if way.ends_with("time") {
                "R - K - L - - -"
            } else {
                stuck
            };
            assert_eq!(got, spaced, "{way}");
        }
    }
}

#[test]
fn beats_are_added_and_taken_off() {
    let mut window = bench(ONE);
    window.key(Key::CloseBracket);
    assert_eq!(lines(&window, "A").0, "4 4");
    window.click("Add a beat");
    assert_eq!(lines(&window, "A").0, "4 4 4");
    window.click("Remove the last beat");
    window.key(Key::OpenBracket);
    assert_eq!(lines(&window, "A").0, "4");
    window.key(Key::OpenBracket);
    window.harness.get_by_label_contains("one span only");
    assert_eq!(lines(&window, "A").0, "4");
}

#[test]
fn undo_goes_back_to_where_the_change_was() {
    let mut window = bench(ONE);
    window.key(Key::ArrowRight);
    window.key(Key::ArrowRight);
    window.key(Key::R);
    window.key(Key::Home);
    window.command(Key::Z);
    assert_eq!(sticking(&window, "A"), "- - - -");
    assert_eq!(window.harness.state().desk().chosen.slot, 2);
}

#[test]
fn a_typed_sticking_line_is_the_cell() {
    let mut window = bench(ONE);
    type_line(&mut window, "Sticking line", "R> (L) lR K");
    assert_eq!(sticking(&window, "A"), "R> (L) lR K");
    window.harness.get_by_label("Slot 1: R> on snare");
    // One step of undo for all of it.
    leave_line(&mut window);
    window.command(Key::Z);
    assert_eq!(sticking(&window, "A"), "- - - -");
    assert_eq!(field(&window, "Sticking line"), "- - - -");
}

#[test]
fn an_unfinished_line_stays_with_its_reason_and_the_cell_plays_on() {
    let mut window = bench(ONE);
    type_line(&mut window, "Sticking line", "R L R");
    assert_eq!(sticking(&window, "A"), "- - - -");
    window.harness.get_by_label_contains("! Sticking: ");
    leave_line(&mut window);
    assert_eq!(field(&window, "Sticking line"), "R L R");
    window.harness.get_by_label_contains("! Sticking: ");
    // Another cell's line is its own; coming back it waits.
    window.click("New cell");
    assert!(
        window
            .harness
            .query_by_label_contains("! Sticking: ")
            .is_none()
    );
    assert_eq!(field(&window, "Sticking line"), "- - - -");
    window.click("Cell A");
    assert_eq!(field(&window, "Sticking line"), "R L R");
    // Esc puts it back.
    window.harness.get_by_label("Sticking line").focus();
    window.harness.run_steps(2);
    window.key(Key::Escape);
    assert_eq!(field(&window, "Sticking line"), "- - - -");
    assert!(
        window
            .harness
            .query_by_label_contains("! Sticking: ")
            .is_none()
    );
}

#[test]
fn undo_first_puts_an_unfinished_line_back() {
    let mut window = bench(ONE);
    window.key(Key::R);
    type_line(&mut window, "Sticking line", "R L");
    window.command(Key::Z);
    assert_eq!(field(&window, "Sticking line"), "R - - -");
    assert_eq!(sticking(&window, "A"), "R - - -");
    window.command(Key::Z);
    assert_eq!(sticking(&window, "A"), "- - - -");
}

#[test]
fn a_line_that_waits_for_its_grid_is_taken_with_it() {
    let mut window = bench(ONE);
    type_line(&mut window, "Sticking line", "R L R L K K");
    // As far as it fitted.
    assert_eq!(sticking(&window, "A"), "R L R L");
    window.harness.get_by_label_contains("! Sticking: ");
    leave_line(&mut window);
    type_line(&mut window, "Grid line", "6");
    assert_eq!(lines(&window, "A").0, "6");
    assert_eq!(sticking(&window, "A"), "R L R L K K");
}

#[test]
fn a_grid_typed_anew_costs_no_stroke_on_the_way() {
    let mut window = bench(TWO);
    type_line(&mut window, "Grid line", "4 4");
    leave_line(&mut window);
    assert_eq!(sticking(&window, "A").replace("  ", " "), "R L R L R L R L");
    type_line(&mut window, "Grid line", "3@1/2 1@1/2 4");
    leave_line(&mut window);
    assert_eq!(lines(&window, "A").0, "3@1/2 1@1/2 4");
    type_line(&mut window, "Grid line", "4 x");
    window.harness.get_by_label_contains("! Grid: ");
}

#[test]
fn a_voices_line_is_typed_and_taken_away() {
    let mut window = bench(ONE);
    type_line(&mut window, "Sticking line", "R L R K");
    leave_line(&mut window);
    type_line(&mut window, "Voices line", "hat:open . tom2 kick");
    assert_eq!(voices(&window, "A"), "hat:open . tom2 kick");
    leave_line(&mut window);
    type_line(&mut window, "Voices line", "hat:shut . tom2 kick");
    window.harness.get_by_label_contains("! Voices: ");
    type_line(&mut window, "Voices line", "");
    assert_eq!(voices(&window, "A"), "");
}

#[test]
fn keys_in_a_text_field_are_text_alone() {
    let mut window = bench(ONE);
    window.harness.get_by_label("Sticking line").focus();
    window.harness.run_steps(2);
    window.key(Key::R);
    window.key(Key::Num6);
    window.key(Key::Space);
    assert_eq!(lines(&window, "A").0, "4");
    assert_eq!(sticking(&window, "A"), "- - - -");
}

#[test]
fn cells_are_chosen_made_varied_named_and_deleted() {
    let mut window = bench(TWO);
    window.click("Cell B");
    window.harness.get_by_label("Staff of B");
    window.click("New cell");
    window.harness.get_by_label("Staff of C");
    assert_eq!(
        lines(&window, "C"),
        ("3".into(), "- - -".into(), String::new())
    );
    window.click("Cell B");
    window.click("New prime");
    window.harness.get_by_label("Staff of B'");
    assert_eq!(lines(&window, "B'"), lines(&window, "B"));
    // What is changed becomes its own; its parent stays.
    window.key(Key::L);
    assert_eq!(sticking(&window, "B'"), "L K L");
    assert_eq!(sticking(&window, "B"), "R K L");

    window.click("Rename this cell");
    window.harness.get_by_label("New name").focus();
    window.harness.run_steps(2);
    window
        .harness
        .key_press_modifiers(Modifiers::COMMAND, Key::A);
    window.harness.run_steps(1);
    window.harness.event(Event::Text("D".into()));
    window.settle();
    window.click("Give it this name");
    assert_eq!(sticking(&window, "D"), "L K L");

    // Not in the form: it goes at once.
    window.click("Delete this cell");
    assert!(!window.text().contains("[cell.D]"));
    window.click("Cell A");
    window.click("Delete this cell");
    window.click("Cancel");
    assert!(window.text().contains("[cell.A]"));
    window.click("Delete this cell");
    window.click("Delete it everywhere");
    assert!(!window.text().contains("[cell.A]"));
    assert_eq!(lines(&window, "A'").1.split_whitespace().count(), 8);
}

#[test]
fn a_variation_changes_along_and_that_is_said() {
    let mut window = bench(TWO);
    window
        .harness
        .get_by_label_contains("A’ changes along where it states no line of its own");
    window.key(Key::L);
    assert!(sticking(&window, "A'").starts_with("L L R L"));
}

#[test]
fn an_ostinato_is_edited_the_same_way() {
    let mut window = bench(TWO);
    window.click("Ostinato hat");
    window.key(Key::ArrowRight);
    window.key(Key::ArrowLeft);
    window.key(Key::K);
    let checked = window.params.session.checked();
    let text = barform_app::score::sticking_text(&checked.score().ostinatos[0].sticking, None);
    assert_eq!(text, "K H");
    window.harness.get_by_label("Staff of ostinato hat");
    type_line(&mut window, "Sticking line", "H K");
    let checked = window.params.session.checked();
    let text = barform_app::score::sticking_text(&checked.score().ostinatos[0].sticking, None);
    assert_eq!(text, "H K");
}

#[test]
fn cells_are_copied_and_pasted_as_text() {
    let mut window = bench(TWO);
    window.click("Cell B");
    window.harness.event(Event::Copy);
    window.harness.run_steps(1);
    let copied = window
        .harness
        .output()
        .platform_output
        .commands
        .iter()
        .find_map(|command| match command {
            egui::OutputCommand::CopyText(text) => Some(text.clone()),
            _ => None,
        })
        .unwrap();
    assert!(copied.contains("[cell.B]") && copied.contains("R K L"));
    window.settle();
    // As many windows hand over the clipboard.
    window.key(Key::L);
    window.harness.event(Event::Paste(copied));
    window.settle();
    assert_eq!(sticking(&window, "C"), "R K L");
    window.harness.get_by_label("Staff of C");
    window.harness.event(Event::Cut);
    window.settle();
    assert!(!window.text().contains("[cell.C]"));
}

#[test]
fn the_cell_is_heard_by_itself_and_follows_edits() {
    let mut window = bench(TWO);
    let session = window.params.session.clone();
    let stage = session.audition.take_stage().unwrap();
    window
        .harness
        .key_press_modifiers(Modifiers::COMMAND, Key::Space);
    window.settle();
    assert!(session.audition.is_playing());
    assert_eq!(stage.shared.tempo_bpm(), 90.0);
    assert_eq!(stage.shared.wanted(), Some(1));
    window.click("Click with the cell");
    assert!(stage.shared.click());
    window.key(Key::L);
    assert!(session.audition.is_playing());
    // It goes on from where it is.
    assert_eq!(stage.shared.wanted(), Some(1));
    window.click("Loop");
    assert!(!session.audition.is_playing());
    window.click("Loop");
    assert!(session.audition.is_playing());
    window.command(Key::Num4);
    assert!(!session.audition.is_playing());
}

#[test]
fn the_rest_of_what_is_done_to_a_cell() {
    let mut window = bench(TWO);
    window.click("Cell B");
    window.click("Whole cell…");
    window.click("One slot later");
    assert_eq!(sticking(&window, "B"), "L R K");
    window.click("Whole cell…");
    window.click("One slot earlier");
    assert_eq!(sticking(&window, "B"), "R K L");
    window.click("Whole cell…");
    window.click("All rests");
    assert_eq!(sticking(&window, "B"), "- - -");
    window.click("Whole cell…");
    window.click("New ostinato");
    assert!(window.text().contains("[ostinato.feet]"));
}

/// Strokes of one slot as one might write them.
fn stick() -> impl proptest::strategy::Strategy<Value = &'static str> {
    proptest::sample::select(vec![
        "R", "L", "K", "H", "-", "R>", "L>", "(R)", "(L)", "lR", "rL", "llR", "rrL", "lrlR", "Rz",
        "Lz>", "R+K", "L+H", "R+L", "K+H", "R>+K", "lR>", "R+L+K+H",
    ])
}

/// Field, staff and score say the same of the cell.
fn agree(window: &Window) {
    let (_, stuck, voiced) = lines(window, "A");
    assert_eq!(field(window, "Sticking line"), stuck);
    assert_eq!(field(window, "Voices line"), voiced);
    assert_eq!(field(window, "Grid line"), lines(window, "A").0);
    let checked = window.params.session.checked();
    let letter = barform_app::music::Letter::new("A").unwrap();
    let cell = checked.score().cell(&letter).unwrap();
    // What the staff shows, slot by slot, is what the sticking line says.
    for (i, token) in stuck.split_whitespace().enumerate() {
        let name = format!("Slot {}: ", i + 1);
        let node = window.harness.get_by_label_contains(&name);
        let node = node.accesskit_node();
        let label = node.label().unwrap_or_default();
        let shown: Vec<&str> = label
            .split_once(": ")
            .unwrap()
            .1
            .split(" with ")
            .map(|part| part.split(" on ").next().unwrap())
            .collect();
        let expected = if token == "-" { "rest" } else { token };
        assert_eq!(shown.join("+"), expected);
        assert_eq!(
            cell.slots[i].len(),
            shown.iter().filter(|s| **s != "rest").count()
        );
    }
    // And the text of the file reads back to it.
    let read = barform_app::score::Score::parse(&window.text(), "again").unwrap();
    assert_eq!(read.cell(&letter), Some(cell));
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(24))]

    #[test]
    fn a_random_line_typed_is_what_field_staff_and_score_say(
        sticks in proptest::collection::vec(stick(), 8),
    ) {
        let mut window = bench(TWO);
        type_line(&mut window, "Sticking line", &sticks.join(" "));
        leave_line(&mut window);
        let got = sticking(&window, "A");
        let got: Vec<&str> = got.split_whitespace().collect();
        let canonical = |text: &str| {
            barform_app::score::sticking_text(
                &barform_app::score::read_sticking(text).unwrap(),
                None,
            )
        };
        proptest::prop_assert_eq!(canonical(&got.join(" ")), canonical(&sticks.join(" ")));
        agree(&window);
    }

    #[test]
    fn both_views_agree_after_each_of_many_edits(
        edits in proptest::collection::vec((0..14_u8, 0..8_usize, stick()), 12),
    ) {
        let mut window = bench(TWO);
        for (edit, slot, stick) in edits {
            let count = window.harness.state().desk().chosen_cell().unwrap().slots.len();
            let slot = slot % count;
            match edit {
                0 => window.key(Key::R),
                1 => window.key(Key::L),
                2 => shifted(&mut window, Key::K),
                3 => sign(&mut window, ">"),
                4 => window.key(Key::F),
                5 => window.key(Key::V),
                6 => window.key(Key::X),
                7 => window.key(Key::Minus),
                8 => window.key([Key::Num2, Key::Num3, Key::Num4, Key::Num6][slot % 4]),
                9 => window.key(if count < 12 { Key::CloseBracket } else { Key::OpenBracket }),
                10 => click_voice(&mut window, slot + 1, Voice::Tom2),
                11 => click_voice(&mut window, slot + 1, Voice::Kick),
                12 => window.command(Key::Z),
                _ => {
                    let line = sticking(&window, "A");
                    let mut sticks: Vec<&str> = line.split_whitespace().collect();
                    sticks[slot] = stick;
                    type_line(&mut window, "Sticking line", &sticks.join(" "));
                    leave_line(&mut window);
                }
            }
            agree(&window);
        }
    }
}

#[test]
fn the_ways_of_striking_go_round_by_key() {
    let mut window = bench(ONE);
    window.key(Key::R);
    for way in ["snare:rim", "snare:cross", ""] {
        window.key(Key::A);
        let voices = voices(&window, "A");
        assert_eq!(voices.split_whitespace().next().unwrap_or(""), way);
    }
}

#[test]
fn keys_are_not_the_cells_while_something_outside_the_page_has_the_focus() {
    let mut window = bench(ONE);
    window.harness.get_by_label("Export…").focus();
    window.harness.run_steps(2);
    window.key(Key::R);
    assert_eq!(sticking(&window, "A"), "- - - -");
    // Called to the Bench, its staff takes them.
    let letter = barform_app::music::Letter::new("A").unwrap();
    window.harness.state_mut().desk_mut().to_bench(letter);
    window.settle();
    window.key(Key::R);
    window.key(Key::Minus);
    window.key(Key::L);
    assert_eq!(sticking(&window, "A"), "R - L -");
}

#[test]
fn the_last_cell_of_a_form_stays_and_that_is_said() {
    let mut window = bench(ONE);
    window.click("Delete this cell");
    window.click("Delete it everywhere");
    window
        .harness
        .get_by_label_contains("would be left without a letter");
    assert_eq!(sticking(&window, "A"), "- - - -");
}

#[test]
fn all_of_the_page_is_in_view_in_a_small_window() {
    all_in_view((900.0, 560.0), 110.0);
}

#[test]
fn beside_the_tools_the_rows_keep_apart_in_a_small_window() {
    let params = barform::params::BarformParams::new(std::sync::Arc::new(Default::default()));
    let mut window = Window::sized(std::sync::Arc::new(params), 800.0, 500.0);
    window.click("Tools");
    let names = [
        "Cell A",
        "New cell",
        "New prime",
        "Rename this cell",
        "Delete this cell",
        "Whole cell…",
        "Tools",
        "Play in",
    ];
    let rects = names.map(|name| window.harness.get_by_label(name).rect());
    for (n, rect) in rects.iter().enumerate() {
        for (other, name) in rects[..n].iter().zip(names) {
            let apart = !rect.shrink(0.5).intersects(*other);
            assert!(apart, "{} lies on {name}", names[n]);
        }
    }
}

fn all_in_view((width, height): (f32, f32), least_staff: f32) {
    let params = barform::params::BarformParams::new(std::sync::Arc::new(Default::default()));
    let mut window = Window::sized(std::sync::Arc::new(params), width, height);
    window.settle();
    for name in [
        "Cell A",
        "Delete this cell",
        "Tools",
        "Play in",
        "Right hand",
        "Voice",
        "Loop",
        "Click with the cell",
        "Staff of A",
        "Grid line",
        "Strokes by carry",
        "Sticking line",
        "Voices line",
    ] {
        let rect = window.harness.get_by_label(name).rect();
        assert!(
            rect.left() >= 0.0 && rect.right() <= width && rect.bottom() <= height,
            "{name} is at {rect}"
        );
    }
    let staff = window.harness.get_by_label("Staff of A").rect();
    assert!(
        staff.height() >= least_staff,
        "the staff has {} points",
        staff.height()
    );
    let said = window
        .harness
        .get_by_label_contains("played 12 times")
        .rect();
    assert!(said.bottom() <= height, "the line beneath is at {said}");
}
