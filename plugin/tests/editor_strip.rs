//! The Form strip, worked by clicks, drags and keys. Each action is judged by the
//! score it leaves, and undo gives the exact text back.

mod window;

use barform_core::music::Meter;
use barform_core::score::edit::{ItemPath, Owner, Run};
use barform_core::score::{Score, form_text};
use egui::{Event, Key, Modifiers, OutputCommand, Pos2};
use egui_kittest::kittest::{NodeT, Queryable};
use window::Window;

/// Cells of three beats, one beat with a variation, and two beats.
const CELLS: &str = r#"
[cell.A]                        # three beats
grid = "6 6 6"
sticking = "R> L R L R L  R> L R L R L  R> L R L K K"

[cell.B]                        # one beat
grid = "6"
sticking = "R L K R L K"
voices   = "snare snare kick tom1 tom1 kick"

[cell."B'"]
like = "B"
voices = "tom1 tom1 kick tom2 tom2 kick"

[cell.C]
grid = "4 4"
sticking = "R L R L  R L R L"

[voicing.up]
snare = "tom1"
"#;

fn with_form(form: &str) -> Window {
    let head = "barform = 1 # invented\ntitle = \"Test\"\ntempo = 92\nmeter = \"4/4\"\n";
    Window::with_score(&format!("{head}form = \"{form}\"\n{CELLS}"))
}

fn with_sections(all: &[(&str, &str)]) -> Window {
    let mut text = String::from("barform = 1\nmeter = \"4/4\"\n");
    for (name, form) in all {
        text += &format!("[[section]]\nname = \"{name}\"\nform = \"{form}\"\n");
    }
    Window::with_score(&(text + CELLS))
}

fn score(window: &Window) -> Score {
    Score::parse(&window.text(), "test.barform").unwrap()
}

fn form_of(window: &Window, section: usize) -> String {
    form_text(&score(window).sections[section].items)
}

fn form(window: &Window) -> String {
    form_of(window, 0)
}

fn centre(window: &Window, label: &str) -> Pos2 {
    window.harness.get_by_label_contains(label).rect().center()
}

fn block(window: &Window, number: usize) -> Pos2 {
    centre(window, &format!("Block {number}: "))
}

fn click_block(window: &mut Window, number: usize) {
    let label = format!("Block {number}: ");
    window.harness.get_by_label_contains(&label).click();
    window.settle();
}

fn shift_click(window: &mut Window, number: usize) {
    let label = format!("Block {number}: ");
    let node = window.harness.get_by_label_contains(&label);
    node.click_modifiers(Modifiers::SHIFT);
    window.settle();
}

fn press(window: &mut Window, with: Modifiers, key: Key) {
    window.harness.key_press_modifiers(with, key);
    window.settle();
}

fn write(window: &mut Window, text: &str) {
    window.harness.event(Event::Text(text.to_owned()));
    window.settle();
}

fn begin_drag(window: &mut Window, from: Pos2, over: &[Pos2]) {
    window.harness.hover_at(from);
    window.harness.run_steps(1);
    window.harness.drag_at(from);
    window.harness.run_steps(1);
    for at in over {
        window.harness.hover_at(*at);
        window.harness.run_steps(2);
    }
}

fn drag(window: &mut Window, from: Pos2, to: Pos2) {
    let middle = from + (to - from) * 0.5;
    begin_drag(window, from, &[middle, to]);
    window.harness.drop_at(to);
    window.settle();
}

/// A point in a block, by its share of the width.
fn within(window: &Window, number: usize, share: f32) -> Pos2 {
    let label = format!("Block {number}: ");
    let rect = window.harness.get_by_label_contains(&label).rect();
    Pos2::new(rect.left() + rect.width() * share, rect.center().y)
}

fn run(items: &[usize], count: usize) -> Option<Run> {
    Some(Run {
        at: ItemPath::new(0, items),
        count,
    })
}

fn chosen(window: &Window) -> Option<Run> {
    window.harness.state().desk().chosen.run.clone()
}

fn bench(window: &Window) -> String {
    match window.harness.state().desk().owner() {
        Some(Owner::Cell(letter)) => letter.to_string(),
        other => format!("{other:?}"),
    }
}

/// Does something, which leaves a form; undo gives the exact text back, redo
/// does it again.
#[track_caller]
fn leaves(window: &mut Window, expected: &str, action: impl FnOnce(&mut Window)) {
    let before = window.text();
    action(window);
    assert_eq!(form(window), expected);
    let after = window.text();
    window.command(Key::Z);
    assert_eq!(window.text(), before, "undone");
    window.command(Key::Y);
    assert_eq!(window.text(), after, "done again");
}

/// The form after something done to a fresh window.
#[track_caller]
fn becomes(from: &str, expected: &str, action: impl FnOnce(&mut Window)) {
    let mut window = with_form(from);
    leaves(&mut window, expected, action);
}

fn refusal(window: &Window) -> String {
    let desk = window.harness.state().desk();
    let refused = desk.refused_at(barform::editor::Spot::Strip);
    let refused = refused.expect("it is refused").to_string();
    window.harness.get_by_label_contains(&refused);
    refused
}

// ---- Choosing ---------------------------------------------------------------

#[test]
fn a_click_chooses_a_block_and_puts_its_cell_on_the_bench() {
    let mut window = with_form("A B C C");
    window.harness.get_by_label("Block 1: A, 3 beats");
    window.harness.get_by_label("Block 2: B, 1 beat");
    click_block(&mut window, 3);
    assert_eq!(chosen(&window), run(&[2], 1));
    assert_eq!(bench(&window), "C");
    let node = window.harness.get_by_label("Block 3: C, 2 beats");
    assert_eq!(node.accesskit_node().is_selected(), Some(true));
    shift_click(&mut window, 2);
    assert_eq!(chosen(&window), run(&[1], 2));
    assert_eq!(bench(&window), "B");
    shift_click(&mut window, 4);
    assert_eq!(chosen(&window), run(&[2], 2), "from where it began");
    // A double click opens the Bench.
    window.command(Key::Num1);
    for _ in 0..2 {
        window.harness.get_by_label("Block 1: A, 3 beats").click();
    }
    window.settle();
    assert_eq!(
        window.harness.state().desk().page,
        barform::editor::Page::Bench
    );
    assert_eq!(bench(&window), "A");
}

#[test]
fn every_pass_of_a_repeat_is_the_same_item_and_a_stretch_takes_whole_groups() {
    let mut window = with_form("B (A B)x2 C C B B");
    click_block(&mut window, 4);
    assert_eq!(chosen(&window), run(&[1, 0], 1));
    let second = window.harness.get_by_label("Block 2: A, 3 beats");
    assert_eq!(second.accesskit_node().is_selected(), Some(true));
    shift_click(&mut window, 6);
    assert_eq!(chosen(&window), run(&[1], 2), "the whole group");
    window.click("Repeat ×2 of 2 blocks");
    assert_eq!(chosen(&window), run(&[1], 1));
}

#[test]
fn arrow_keys_choose_and_with_shift_extend() {
    let mut window = with_form("A B (C C)x2");
    click_block(&mut window, 1);
    window.key(Key::ArrowRight);
    assert_eq!((chosen(&window), &*bench(&window)), (run(&[1], 1), "B"));
    press(&mut window, Modifiers::SHIFT, Key::ArrowLeft);
    assert_eq!(chosen(&window), run(&[0], 2));
    window.key(Key::End);
    assert_eq!(chosen(&window), run(&[2, 1], 1));
    window.key(Key::ArrowUp);
    assert_eq!(chosen(&window), run(&[2], 1), "the group around");
    window.key(Key::ArrowDown);
    assert_eq!(chosen(&window), run(&[2, 0], 1), "the first in it");
    press(&mut window, Modifiers::COMMAND, Key::A);
    assert_eq!(chosen(&window), run(&[2, 0], 2));
    window.key(Key::Home);
    assert_eq!(chosen(&window), run(&[0], 1));
    window.key(Key::Escape);
    assert_eq!(chosen(&window), None);
    window
        .harness
        .get_by_label_contains("Click a block to choose it");
}

#[test]
fn a_click_above_the_blocks_plays_from_there_and_a_click_on_a_block_does_not() {
    let mut window = with_form("A B A B A B A B");
    let live = window.params.session.live.clone();
    click_block(&mut window, 3);
    assert_eq!(live.take_locate(), None);
    let block = window.harness.get_by_label_contains("Block 3: ").rect();
    let at = Pos2::new(block.left(), block.top() - 20.0);
    window.harness.hover_at(at);
    window.harness.drag_at(at);
    window.harness.drop_at(at);
    window.settle();
    let beats = live.take_locate().expect("it was asked for");
    assert!((beats - 4.0).abs() < 0.1, "{beats}");
}

// ---- Editing ----------------------------------------------------------------

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
        assert_eq!(cell.grid.to_string(), "6 6 6", "as long as the chosen one");
        assert!(cell.slots.iter().all(Vec::is_empty));
    });
    becomes("A B", "A B D", |w| {
        click_block(w, 2);
        w.key(Key::Insert);
    });
}

/// A letter from text.
trait ParseLetter {
    fn parse_letter(&self) -> barform_core::music::Letter;
}

impl ParseLetter for str {
    fn parse_letter(&self) -> barform_core::music::Letter {
        barform_core::music::Letter::new(self).unwrap()
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
            window.click("Prime");
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
        w.click("Bar check");
        assert_eq!(chosen(w), run(&[1], 1));
    });
    becomes("A B | C C", "A B C C", |w| {
        click_block(w, 2);
        write(w, "|");
    });
    let mut window = with_form("A B C C");
    let before = window.text();
    click_block(&mut window, 1);
    window.click("Bar check");
    assert_eq!(window.text(), before);
    assert!(refusal(&window).contains("add 1 beat before it"));
}

// ---- Copying ----------------------------------------------------------------

fn copied(window: &Window) -> String {
    let commands = &window.harness.output().platform_output.commands;
    let found = commands.iter().find_map(|command| match command {
        OutputCommand::CopyText(text) => Some(text.clone()),
        _ => None,
    });
    found.expect("something was copied")
}

#[test]
fn a_stretch_is_copied_cut_and_pasted_as_text() {
    let mut window = with_form("A B C C");
    click_block(&mut window, 1);
    shift_click(&mut window, 2);
    window.harness.event(Event::Copy);
    window.harness.run_steps(1);
    let text = copied(&window);
    assert!(
        text.contains("form = \"A B\"") && text.contains("[cell.A]"),
        "{text}"
    );
    click_block(&mut window, 4);
    leaves(&mut window, "A B C C A B", |w| {
        w.harness.event(Event::Paste(text.clone()));
        w.settle();
        assert_eq!(chosen(w), run(&[4], 2));
    });
    click_block(&mut window, 1);
    leaves(&mut window, "B C C A B", |w| {
        w.harness.event(Event::Cut);
        w.settle();
    });
    click_block(&mut window, 1);
    leaves(&mut window, "B A C C A B", |w| w.click("Paste blocks"));
    // Into another score: the cells come along, a letter that is taken changes.
    let other = "barform = 1\nmeter = \"4/4\"\nform = \"A\"\n[cell.A]\ngrid = \"4\"\nsticking = \"R L R L\"\n";
    let mut other = Window::with_score(other);
    click_block(&mut other, 1);
    leaves(&mut other, "A C B", |w| {
        w.harness.event(Event::Paste(text.clone()));
        w.settle();
    });
    let before = other.text();
    click_block(&mut other, 1);
    other.harness.event(Event::Paste("no form [".to_owned()));
    other.settle();
    assert_eq!(other.text(), before);
    refusal(&other);
}

// ---- Sections ---------------------------------------------------------------

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
            window.click("Split before the chosen block");
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

// ---- Bars that do not fit ---------------------------------------------------

/// Frames until mends have been sought.
fn sought(window: &mut Window) {
    while window
        .harness
        .query_by_label_contains("Looking for mends")
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
    let mends = window.harness.get_all_by_label_contains("Mend: ");
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
        .get_by_label("Bar 1: 1 beat missing where a bar line was asserted.");
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
    window.harness.get_by_label("2 bar-line checks hold again.");
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
    assert!(window.harness.query_by_label_contains("Bar ").is_none());
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

// ---- The rest ---------------------------------------------------------------

#[test]
fn keys_are_the_text_fields_while_one_has_the_focus() {
    let mut window = with_form("A B C C");
    click_block(&mut window, 2);
    window.command(Key::Num3);
    let before = form(&window);
    window.type_at_end("\n# c");
    window.key(Key::Delete);
    window.key(Key::ArrowLeft);
    assert_eq!(form(&window), before);
    assert_eq!(chosen(&window), run(&[1], 1));
    assert!(window.text().ends_with("\n# c"));
}

#[test]
fn of_ten_thousand_bars_only_those_in_view_are_there() {
    let mut window = with_form("(A B |)x9999 C C");
    let blocks = |window: &Window| {
        let all = window.harness.query_all_by_label_contains("Block ");
        all.count()
    };
    assert!((10..=120).contains(&blocks(&window)), "{}", blocks(&window));
    click_block(&mut window, 1);
    window.key(Key::End);
    window.harness.get_by_label("Block 20000: C, 2 beats");
    assert!((10..=120).contains(&blocks(&window)));
    assert!(
        window
            .harness
            .query_by_label("Block 1: A, 3 beats")
            .is_none()
    );
}

#[test]
fn all_of_it_fits_into_the_smallest_window() {
    let mut window = with_form("A B (C C)x2[16ths] A[level 70%, voicing up] B");
    window.harness.set_size(egui::vec2(900.0, 560.0));
    window.settle();
    click_block(&mut window, 1);
    let mut right: f32 = 0.0;
    for label in [
        "Insert…",
        "Duplicate blocks",
        "Delete blocks",
        "Cut blocks",
        "Copy blocks",
        "Paste blocks",
        "Fewer repeats",
        "Repeats",
        "More repeats",
        "Group blocks",
        "Play as…",
        "Prime",
        "Bar check",
        "Section…",
    ] {
        let rect = window.harness.get_by_label(label).rect();
        assert!(
            rect.left() >= right - 0.5,
            "{label} overlaps what is before it"
        );
        assert!(rect.right() <= 900.0, "{label} is cut at {}", rect.right());
        right = rect.right();
    }
    let top = window.harness.get_by_label("Form strip").rect().top();
    let bottom = window
        .harness
        .get_by_label_contains("Chosen: A")
        .rect()
        .bottom();
    assert!(bottom - top <= 170.0, "{}", bottom - top);
}
