//! The window, worked by its accessibility tree as a user would.

mod window;

use barform::editor::Page;
use egui::Rect;
use egui::accesskit::Role;
use egui_kittest::kittest::{NodeT, Queryable};
use window::Window;

#[test]
fn typing_an_error_shows_it_and_the_old_score_plays_on() {
    let mut window = Window::open();
    let before = window.params.session.checked();
    window.type_at_end("\nnonsense");
    let line = (before.text().to_owned() + "\nnonsense").lines().count();
    window
        .harness
        .get_by_label_contains(&format!("Line {line}, column"));
    window
        .harness
        .get_by_label_contains("The last valid score plays on");
    assert_eq!(window.params.session.checked().text(), before.text());
}

#[test]
fn a_valid_edit_plays_at_once_and_the_host_learns_of_it() {
    let mut window = Window::open();
    let before = window.params.session.checked();
    let edits = window.params.edits.value();
    window.type_at_end("\n# louder here\n");
    window.harness.get_by_label("No errors.");
    let after = window.params.session.checked();
    assert_eq!(after.text(), before.text().to_owned() + "\n# louder here\n");
    assert_eq!(window.params.edits.value(), edits + 1);
}

#[test]
fn parameters_change_with_their_controls() {
    let mut window = Window::open();
    // All of the page in sight.
    window.harness.set_size(egui::vec2(1_100.0, 1_600.0));
    window.click("Settings");
    assert!(window.params.mute_click.value());
    window.click("Play the click");
    assert!(!window.params.mute_click.value());
    window.click("×2");
    assert_eq!(
        window.params.rate.value(),
        barform::params::RateChoice::Double
    );
}

#[test]
fn the_own_clock_is_run_and_stopped_by_button_and_key() {
    let mut window = Window::open();
    window.click("Play");
    assert!(window.params.own_run.value());
    window.harness.get_by_label("Stop");
    window.harness.key_press(egui::Key::F5);
    window.settle();
    assert!(!window.params.own_run.value());
}

#[test]
fn pages_are_reached_by_the_keyboard() {
    let mut window = Window::open();
    for (key, page) in [
        (egui::Key::Num1, Page::Stand),
        (egui::Key::Num2, Page::Bench),
        (egui::Key::Num3, Page::Score),
        (egui::Key::Num4, Page::Kit),
        (egui::Key::Num5, Page::Shelf),
        (egui::Key::Num6, Page::Settings),
    ] {
        window.command(key);
        assert_eq!(window.harness.state().desk().page, page);
        let text = window.harness.query_by_label("Score text");
        assert_eq!(text.is_some(), page == Page::Score);
        let mute = window.harness.query_by_label("Mute hands");
        assert_eq!(mute.is_some(), page == Page::Settings);
    }
}

#[test]
fn a_refused_session_is_told_and_dismissed() {
    let mut window = Window::open();
    window.params.session.load(barform::state::Stored::Refused {
        refused: "Too new.".to_owned(),
    });
    window.settle();
    window.harness.get_by_label("Too new.");
    window.click("OK");
    assert!(window.harness.query_by_label("Too new.").is_none());
}

#[test]
fn a_session_that_the_host_loads_is_shown() {
    let mut window = Window::open();
    let mut document = window.params.session.document();
    document.score = document.score.replacen("title = \"", "title = \"Other ", 1);
    window
        .params
        .session
        .load(barform::state::Stored::Document(document));
    window.settle();
    window.harness.get_by_label_contains("Other ");
}

#[test]
fn a_score_is_saved_under_a_name_and_opened_again() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("boats.barform").display().to_string();
    let mut window = Window::open();
    window.params.session.set_file(Some(file.clone()));
    let text = window.params.session.checked().text().to_owned();
    window.click("Save");
    assert_eq!(std::fs::read_to_string(&file).unwrap(), text);

    let changed = text + "# changed outside\n";
    std::fs::write(&file, &changed).unwrap();
    window.click("Save");
    window.harness.get_by_label("Overwrite this file?");
    window.click("Cancel");
    assert_eq!(std::fs::read_to_string(&file).unwrap(), changed);

    window.click("Open…");
    // The name also stands in the top line, behind the list.
    let named = window.harness.get_all_by_label("boats.barform");
    named.last().unwrap().click();
    window.settle();
    window.click("Open");
    assert_eq!(window.params.session.checked().text(), changed);
}

#[test]
fn a_score_is_handed_on_as_a_file_and_replaces_none_unasked() {
    let folder = tempfile::tempdir().unwrap();
    let score = folder.path().join("boats.barform").display().to_string();
    let file = folder.path().join("boats.mid");
    let mut window = Window::open();
    window.params.session.set_file(Some(score));
    window.click("Export…");
    window.click("MIDI file");
    let hand_on = |window: &mut Window, button: &str| {
        window.click(button);
        while window.harness.query_by_label("Close").is_none() {
            std::thread::sleep(std::time::Duration::from_millis(2));
            window.harness.run_steps(1);
        }
        window.settle();
    };
    hand_on(&mut window, "Write");
    window.harness.get_by_label_contains("Done. ");
    let written = std::fs::read(&file).unwrap();
    assert!(written.starts_with(b"MThd"));

    std::fs::write(&file, "theirs").unwrap();
    hand_on(&mut window, "Write");
    window.harness.get_by_label("A file of that name exists.");
    assert_eq!(std::fs::read(&file).unwrap(), b"theirs");
    hand_on(&mut window, "Replace it");
    assert_eq!(std::fs::read(&file).unwrap(), written);
    window.click("Close");
    assert!(window.harness.query_by_label("Export").is_none());
}

#[test]
fn a_midi_file_is_opened_as_a_score_and_what_is_not_kept_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open();
    let checked = window.params.session.checked();
    let options = barform_app::export::Options::default();
    let midi =
        barform_app::export::midi::write(checked.score(), &checked.timeline, &options).unwrap();
    std::fs::write(folder.path().join("groove.mid"), &midi.bytes).unwrap();
    let beside = folder.path().join("boats.barform").display().to_string();
    window.params.session.set_file(Some(beside));
    window.click("Open…");
    window.click("groove.mid");
    window.click("Open");
    window
        .harness
        .get_by_label_contains("groove.mid was read into");
    window.harness.get_by_label("no file");
    let read = window.params.session.checked();
    assert_eq!(read.timeline.length, checked.timeline.length);
    assert_ne!(read.text(), checked.text());
    window.click("OK");
    assert!(
        window
            .harness
            .query_by_label_contains("was read into")
            .is_none()
    );
}

/// What is clicked, dragged or typed into, by its name, with its place in the
/// window. A text of many lines scrolls by itself.
fn controls(window: &Window) -> Vec<(String, Rect)> {
    use Role::*;
    let works = [
        Button,
        CheckBox,
        RadioButton,
        Slider,
        SpinButton,
        ComboBox,
        TextInput,
    ];
    let nodes = window.harness.root().children_recursive();
    let controls = nodes.filter(|node| works.contains(&node.accesskit_node().role()));
    let frame = egui::vec2(window::FRAME, window::FRAME);
    controls
        .map(|node| {
            let name = node.accesskit_node().label().unwrap_or_default();
            (name, node.rect().translate(-frame))
        })
        .collect()
}

/// Turns the wheel over a place until it goes no further.
fn scroll_down(window: &mut Window, at: egui::Pos2) {
    window
        .harness
        .hover_at(at + egui::vec2(window::FRAME, window::FRAME));
    window.harness.run_steps(1);
    for _ in 0..20 {
        window.harness.event(egui::Event::MouseWheel {
            unit: egui::MouseWheelUnit::Point,
            delta: egui::vec2(0.0, -400.0),
            phase: egui::TouchPhase::Move,
            source: egui::MouseWheelSource::Unknown,
            modifiers: egui::Modifiers::NONE,
        });
        window.harness.run_steps(4);
    }
}

#[test]
fn in_a_small_window_everything_can_be_reached() {
    use egui::Key::*;
    let (width, height) = (800.0, 500.0);
    for page in [Num1, Num2, Num3, Num4, Num5, Num6] {
        let mut window = Window::sized(Window::open().params, width, height);
        window.command(page);
        let shown = controls(&window);
        assert!(shown.len() >= 12, "{page:?}: {}", shown.len());
        let mut below = Vec::new();
        for (name, rect) in &shown {
            assert!(
                rect.left() >= -0.5 && rect.right() <= width + 0.5,
                "{page:?}: {name} is cut off: {rect}"
            );
            if rect.bottom() > height {
                below.push((name.clone(), *rect));
            }
        }
        let lowest = below
            .iter()
            .max_by(|a, b| a.1.bottom().total_cmp(&b.1.bottom()));
        let Some((name, rect)) = lowest else { continue };
        scroll_down(&mut window, egui::pos2(rect.center().x, height - 30.0));
        let now = controls(&window);
        let (_, rect) = now.iter().find(|(other, _)| other == name).unwrap();
        assert!(rect.bottom() <= height, "{page:?}: {name} stays at {rect}");
    }
}
