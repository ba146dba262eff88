//! The Form strip, worked by clicks, drags and keys. Each action is judged by the
//! score it leaves, and undo gives the exact text back.

mod bars;
mod choosing;
mod clocks;
mod copying;
mod editing;
mod rest;
mod sections;
#[path = "../window/mod.rs"]
mod window;

use barform_app::music::Meter;
use barform_app::score::edit::{ItemPath, Owner, Run};
use barform_app::score::{Score, form_text};
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
