//! The Shelf: what is kept, found, put into the score, changed and removed.

mod find;
mod keep;
mod score;
#[path = "../window/mod.rs"]
mod window;

use barform::editor::{App, Page};
use barform::state::check;
use barform_app::score::edit::{ItemPath, Run};
use barform_app::score::form_text;
use barform_app::shelf::{Item, Label, Query, Shelf};
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

fn wait_for(window: &mut Window, label: &str) {
    window.until(label, |w| shows(w, label));
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
