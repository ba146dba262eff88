//! What a user prefers: kept for new instances in the data folder, for a session
//! in the session. Top line and list of keys.

mod window;

use std::sync::Arc;

use barform::params::BarformParams;
use barform::state::{EditorPrefs, Session, Stored, Theme, read_document};
use barform_app::shelf::{Prefs, Theme as Liked};
use egui::{Event, Key};
use egui_kittest::kittest::Queryable;
use window::Window;

/// A session as the first version stored it. Never edited.
const VERSION_1: &str = include_str!("data/state-v1.json");

/// The user's file as the first version kept it. Never edited.
const PREFS_1: &str = "version = 1\n\n[content]\ntheme = \"light\"\nscale_percent = 150\n\
                       reduced_motion = true\nlatency_offset_ms = -12.5\n";

fn fresh() -> Arc<BarformParams> {
    Arc::new(BarformParams::new(Arc::new(Session::default())))
}

fn settings() -> Window {
    let mut window = Window::open();
    window.click("Settings");
    window
}

fn kept(window: &Window) -> Prefs {
    Prefs::load(window.folder.path().join("editor.toml")).unwrap()
}

#[test]
fn a_new_instance_starts_as_the_user_likes_it() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("editor.toml"), PREFS_1).unwrap();
    let window = Window::within(fresh(), 1_100.0, 720.0, folder);
    let prefs = window.params.session.prefs();
    assert_eq!((prefs.theme, prefs.zoom_percent), (Theme::Light, 150));
    let desk = window.harness.state().desk();
    assert!(desk.reduced_motion());
    assert_eq!(desk.latency_offset_ms(), -12.5);
    assert!((window.harness.ctx.zoom_factor() - 1.5).abs() < 1e-3);
}

#[test]
fn a_session_keeps_its_own_look_whatever_the_user_likes() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("editor.toml"), PREFS_1).unwrap();
    let params = fresh();
    let own = EditorPrefs {
        theme: Theme::Dark,
        zoom_percent: 110,
        ..EditorPrefs::default()
    };
    params.session.set_prefs(own);
    let mut window = Window::within(params, 1_100.0, 720.0, folder);
    assert_eq!(window.params.session.prefs(), own);
    let document = window.params.session.document();
    assert_eq!(document.editor, own);
    // A session that the host loads into an open window is shown in its look.
    let mut other = document;
    other.editor.theme = Theme::Light;
    other.editor.zoom_percent = 90;
    window.params.session.load(Stored::Document(other));
    window.settle();
    assert!((window.harness.ctx.zoom_factor() - 0.9).abs() < 1e-3);
    let untouched = kept(&window);
    assert_eq!(
        (untouched.theme, untouched.scale_percent),
        (Liked::Light, 150)
    );
}

#[test]
fn theme_scale_and_motion_are_chosen_and_kept() {
    let mut window = settings();
    window.click("Light");
    assert_eq!(window.params.session.prefs().theme, Theme::Light);
    assert_eq!(kept(&window).theme, Liked::Light);
    window.click("Larger");
    assert_eq!(window.params.session.prefs().zoom_percent, 110);
    assert_eq!(kept(&window).scale_percent, 110);
    window.harness.get_by_label("110 %");
    window.click("Smaller");
    window.click("Smaller");
    assert_eq!(window.params.session.prefs().zoom_percent, 90);
    window.click("Reduced motion");
    assert!(kept(&window).reduced_motion);
    assert!(window.harness.state().desk().reduced_motion());
    window.click("Reduced motion");
    assert!(!kept(&window).reduced_motion);
}

#[test]
fn the_latency_offset_is_typed_and_kept() {
    let mut window = settings();
    for (typed, ms) in [("35.5", 35.5), ("-20", -20.0), ("9999", 1_000.0)] {
        // Its name stands before it.
        let named = window.harness.get_all_by_label("Latency offset");
        named.last().unwrap().click();
        window.harness.run_steps(3);
        window.harness.event(Event::Text(typed.to_owned()));
        window.harness.run_steps(2);
        window.key(Key::Enter);
        assert_eq!(kept(&window).latency_offset_ms, ms, "{typed}");
        assert_eq!(window.harness.state().desk().latency_offset_ms(), ms);
    }
}

#[test]
fn the_scale_follows_its_keys_within_its_range() {
    let mut window = Window::open();
    let percent = |window: &Window| window.params.session.prefs().zoom_percent;
    window.command(Key::Plus);
    assert_eq!(percent(&window), 110);
    window.command(Key::Equals);
    assert_eq!(percent(&window), 125);
    window.command(Key::Minus);
    assert_eq!(percent(&window), 110);
    window.command(Key::PageUp);
    assert_eq!(percent(&window), 125);
    window.command(Key::PageDown);
    assert_eq!(percent(&window), 110);
    assert!((window.harness.ctx.zoom_factor() - 1.1).abs() < 1e-3);
    for _ in 0..12 {
        window.command(Key::Plus);
    }
    assert_eq!(percent(&window), 250);
    for _ in 0..14 {
        window.command(Key::Minus);
    }
    assert_eq!(percent(&window), 75);
    window.command(Key::Num0);
    assert_eq!(percent(&window), 100);
    assert_eq!(kept(&window).scale_percent, 100);
}

#[test]
fn sessions_of_version_1_load_with_any_scale_they_could_hold() {
    let state: serde_json::Value = serde_json::from_str(VERSION_1).unwrap();
    let session = state["fields"]["session"].as_str().unwrap();
    for (stored, scale) in [(50, 75), (75, 75), (125, 125), (250, 250), (300, 250)] {
        let text = session.replace(
            "\"zoom_percent\":125",
            &format!("\"zoom_percent\":{stored}"),
        );
        let document = read_document(&text).unwrap();
        assert_eq!(document.editor.zoom_percent, stored);
        let session = Session::default();
        session.load(Stored::Document(document));
        assert_eq!(session.notice(), None);
        assert_eq!(session.prefs().zoom_percent, scale, "stored as {stored}");
        assert_eq!(session.prefs().theme, Theme::Light);
    }
}

#[test]
fn a_file_of_the_user_that_cannot_be_read_is_said_and_set_aside() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("editor.toml");
    std::fs::write(&file, "version = 1\n[content]\nscale_percent = 9\n").unwrap();
    let mut window = Window::within(fresh(), 1_100.0, 720.0, folder);
    assert_eq!(window.params.session.prefs(), EditorPrefs::default());
    window.click("Settings");
    window
        .harness
        .get_by_label_contains("Not kept for new instances");
    window.click("Light");
    assert_eq!(kept(&window).theme, Liked::Light);
    let said = "Not kept for new instances";
    assert!(window.harness.query_by_label_contains(said).is_none());
}

#[test]
fn the_list_of_keys_opens_and_closes_by_key_and_button() {
    let mut window = Window::open();
    window.key(Key::F1);
    window
        .harness
        .get_by_label_contains("Play or stop the internal clock");
    window.harness.get_by_label("Ctrl+Shift+Z, Ctrl+Y");
    window.harness.get_by_label("], +");
    window.key(Key::Escape);
    assert!(window.harness.query_by_label("Close").is_none());
    window.command(Key::L);
    window
        .harness
        .get_by_label_contains("Play or stop the internal clock");
    window.command(Key::L);
    assert!(window.harness.query_by_label("Close").is_none());
    window.click("Keys");
    window.harness.get_by_label("Out of the full window");
    window.click("Close");
    assert!(window.harness.query_by_label("Close").is_none());
}

/// A title and a file name much longer than there is room for.
#[test]
fn the_top_line_fits_the_least_window_and_nothing_overlaps() {
    let params = fresh();
    let text = params.session.checked().text().to_owned();
    let title = "The long way home from the harbour, second version, slow and with brushes";
    let line = text.lines().find(|l| l.starts_with("title")).unwrap();
    let text = text.replace(line, &format!("title = \"{title}\""));
    let checked = barform::state::check(&text, "test.barform").unwrap();
    params.session.accept(checked, "Test", None);
    let file = "/scores/the-long-way-home-from-the-harbour-second-version.barform";
    params.session.set_file(Some(file.to_owned()));
    for (width, height) in [(900.0, 560.0), (1_000.0, 560.0), (1_100.0, 720.0)] {
        let window = Window::sized(params.clone(), width, height);
        let labels = [
            "Stand",
            "Bench",
            "Score",
            "Kit",
            "Shelf",
            "Settings",
            "Undo",
            "Redo",
            "Open…",
            "Save",
            "Save as…",
            "Export…",
            "Keys",
        ];
        let mut rects: Vec<(&str, egui::Rect)> = labels
            .iter()
            .map(|label| {
                let mut nodes = window.harness.get_all_by_label(label);
                (*label, nodes.next().unwrap().rect())
            })
            .collect();
        rects.push(("title", window.harness.get_by_label(title).rect()));
        let name = "the-long-way-home-from-the-harbour-second-version.barform (not saved)";
        rects.push(("file", window.harness.get_by_label(name).rect()));
        for (n, (name, rect)) in rects.iter().enumerate() {
            let (left, right) = (window::FRAME, width + window::FRAME);
            assert!(
                rect.left() >= left && rect.right() <= right,
                "{name}: {rect}"
            );
            assert!(rect.top() < 40.0, "{name} is on the line: {rect}");
            assert!(rect.width() >= 10.0, "{name}: {rect}");
            for (other, with) in &rects[..n] {
                let common = rect.intersect(*with);
                assert!(!common.is_positive(), "{name} lies on {other}");
            }
        }
    }
}

#[test]
fn a_window_below_the_least_size_is_scrolled_not_squeezed() {
    let mut window = Window::sized(fresh(), 500.0, 300.0);
    let keys = window.harness.get_by_label("Keys").rect();
    assert!(
        keys.left() > 500.0,
        "off the edge, where it is scrolled to: {keys}"
    );
    window.command(Key::Num6);
    window.harness.get_by_label("Reduced motion");
}
