//! The transport line: tapping a tempo, which clock rules, and that the line
//! fits.

mod window;

use barform::editor::Stroke;
use barform::handover::{Clock, Reading};
use egui::accesskit::Role;
use egui::{Event, Key, Modifiers};
use egui_kittest::kittest::{NodeT, Queryable};
use window::Window;

/// Taps the button at a moment of the window's clock, in seconds.
fn tap(window: &mut Window, at_s: f64) {
    window.harness.input_mut().time = Some(at_s);
    window.harness.get_by_label("Tap").click();
    window.harness.run_steps(1);
}

#[test]
fn a_tempo_is_tapped_from_the_second_tap_on() {
    let mut window = Window::open();
    assert!(window.params.own_score_tempo.value());
    let before = window.params.own_tempo.value();
    tap(&mut window, 100.0);
    assert!(window.params.own_score_tempo.value(), "one tap is no tempo");
    assert_eq!(window.params.own_tempo.value(), before);
    tap(&mut window, 100.5);
    assert!(!window.params.own_score_tempo.value());
    assert_eq!(window.params.own_tempo.value(), 120.0);
    tap(&mut window, 100.9);
    tap(&mut window, 101.5);
    // Gaps of 0.5, 0.4 and 0.6 s: the one in the middle.
    assert_eq!(window.params.own_tempo.value(), 120.0);
    // After a pause another tempo, from its second tap on.
    tap(&mut window, 110.0);
    assert_eq!(window.params.own_tempo.value(), 120.0);
    tap(&mut window, 111.0);
    assert_eq!(window.params.own_tempo.value(), 60.0);
}

#[test]
fn the_key_taps_once_each_time_it_goes_down() {
    let mut window = Window::open();
    for at_s in [50.0, 50.75] {
        window.harness.input_mut().time = Some(at_s);
        window.harness.key_press(egui::Key::F6);
        window.harness.run_steps(1);
    }
    assert_eq!(window.params.own_tempo.value(), 80.0);
    // Held: what the keyboard repeats is no tap.
    for at_s in [51.0, 51.1, 51.2] {
        window.harness.input_mut().time = Some(at_s);
        window.harness.input_mut().events.push(egui::Event::Key {
            key: egui::Key::F6,
            physical_key: None,
            pressed: true,
            repeat: true,
            modifiers: egui::Modifiers::NONE,
        });
        window.harness.run_steps(1);
    }
    assert_eq!(window.params.own_tempo.value(), 80.0);
}

#[test]
fn a_button_pressed_by_an_assistive_technology_taps_too() {
    let mut window = Window::open();
    for at_s in [50.0, 50.6] {
        window.harness.input_mut().time = Some(at_s);
        window.harness.get_by_label("Tap").click_accesskit();
        window.harness.run_steps(1);
    }
    assert_eq!(window.params.own_tempo.value(), 100.0);
}

/// What the audio thread would publish.
fn publish(window: &mut Window, clock: Clock, rolling: bool) {
    window.params.session.live.publish(Reading {
        position_beats: Some(0.5),
        tempo_bpm: 133.0,
        rolling,
        clock,
        letter: Some(0),
    });
    window.harness.run_steps(2);
}

#[test]
fn each_clock_is_named_and_only_the_own_one_is_worked_here() {
    let mut window = Window::open();
    publish(&mut window, Clock::OwnForWant, false);
    window.harness.get_by_label("Internal clock");
    window.harness.get_by_label("no host transport");
    publish(&mut window, Clock::Own, false);
    window.harness.get_by_label("Internal clock");
    assert!(window.harness.query_by_label("no host transport").is_none());
    publish(&mut window, Clock::Host, true);
    window.harness.get_by_label("Host clock");
    window.harness.get_by_label("playing");
    window.harness.get_by_label("133.0 BPM");
    for own in ["Internal clock", "Play", "To start", "Tap"] {
        assert!(window.harness.query_by_label(own).is_none(), "{own}");
    }
    let before = window.params.own_tempo.value();
    for at_s in [50.0, 50.6] {
        window.harness.input_mut().time = Some(at_s);
        window.key(egui::Key::F6);
    }
    assert_eq!(window.params.own_tempo.value(), before);
}

/// Types a space, as the library of the real window passes it on.
fn space(window: &mut Window) {
    let key = |pressed| Event::Key {
        key: Key::Space,
        physical_key: None,
        pressed,
        repeat: false,
        modifiers: Modifiers::NONE,
    };
    let events = [key(true), Event::Text(" ".to_owned()), key(false)];
    window.harness.input_mut().events.extend(events);
    window.settle();
}

/// Keys that went on to the host, by those that went down.
fn handed_back(window: &mut Window) -> Vec<Key> {
    let strokes = window.harness.state_mut().keys_for_host();
    let (down, up): (Vec<Stroke>, Vec<Stroke>) = strokes.into_iter().partition(|s| s.pressed);
    let keys = |strokes: &[Stroke]| strokes.iter().map(|s| s.key).collect::<Vec<_>>();
    assert_eq!(keys(&down), keys(&up), "what goes down comes up");
    keys(&down)
}

/// Page, and what is clicked on it.
const PLACES: [(Key, &str); 7] = [
    (Key::Num1, "Form strip"),
    (Key::Num2, "Form strip"),
    (Key::Num2, "Rest"),
    (Key::Num3, "Host clock"),
    (Key::Num4, "Ride: note 51"),
    (Key::Num5, "Form strip"),
    (Key::Num6, "Form strip"),
];

#[test]
fn with_the_hosts_clock_the_space_bar_is_the_hosts_wherever_was_clicked() {
    let mut window = Window::open();
    publish(&mut window, Clock::Host, false);
    for (page, clicked) in PLACES {
        window.command(page);
        window.click(clicked);
        let before = window.text();
        space(&mut window);
        assert_eq!(handed_back(&mut window), [Key::Space], "{page:?} {clicked}");
        assert_eq!(window.text(), before, "{page:?} {clicked}");
        assert!(!window.params.own_run.value());
    }
    // A button that the keyboard went to, too; Enter presses it.
    window.command(Key::Num2);
    window.harness.get_by_label("Rest").focus();
    window.harness.run_steps(2);
    let before = window.text();
    space(&mut window);
    assert_eq!(handed_back(&mut window), [Key::Space]);
    assert_eq!(window.text(), before);
}

#[test]
fn with_the_own_clock_the_space_bar_starts_and_stops_it() {
    let mut window = Window::open();
    publish(&mut window, Clock::Own, false);
    let mut runs = false;
    for (page, clicked) in PLACES {
        let clicked = if clicked == "Host clock" {
            "Internal clock"
        } else {
            clicked
        };
        window.command(page);
        window.click(clicked);
        let before = window.text();
        space(&mut window);
        runs = !runs;
        assert_eq!(window.params.own_run.value(), runs, "{page:?} {clicked}");
        assert_eq!(window.text(), before, "{page:?} {clicked}");
        assert!(handed_back(&mut window).is_empty());
    }
}

#[test]
fn where_text_is_typed_a_space_is_a_space() {
    for clock in [Clock::Own, Clock::Host] {
        let mut window = Window::open();
        publish(&mut window, clock, false);
        window.type_at_end("\n# two");
        space(&mut window);
        let typed = window.harness.get_by_label("Score text");
        typed.type_text("words");
        window.settle();
        assert!(window.text().ends_with("# two words"), "{clock:?}");
        assert!(handed_back(&mut window).is_empty());
        assert!(!window.params.own_run.value());
    }
}

#[test]
fn keys_without_a_meaning_here_are_the_hosts() {
    let mut window = Window::open();
    publish(&mut window, Clock::Host, false);
    window.command(Key::Num2);
    window.click("Rest");
    assert!(handed_back(&mut window).is_empty(), "Ctrl+2 is a page");
    for (key, is_ours) in [
        (Key::W, false),
        (Key::R, true),
        (Key::Home, true),
        (Key::PageDown, false),
        (Key::Tab, true),
    ] {
        window.key(key);
        let wanted: &[Key] = if is_ours { &[] } else { &[key] };
        assert_eq!(handed_back(&mut window), wanted, "{key:?}");
    }
    // The own clock's keys mean nothing now. What is copied is never the host's.
    for (key, is_ours) in [
        (Key::R, false),
        (Key::Q, false),
        (Key::Z, true),
        (Key::C, true),
    ] {
        window.command(key);
        let wanted: &[Key] = if is_ours { &[] } else { &[key] };
        assert_eq!(handed_back(&mut window), wanted, "Ctrl+{key:?}");
    }
    // On the Stand a stroke's key has no meaning; in the strip it is a letter.
    window.command(Key::Num1);
    window.key(Key::L);
    assert_eq!(handed_back(&mut window), [Key::L]);
    window.click("Form strip");
    window.key(Key::L);
    assert!(handed_back(&mut window).is_empty());
    // Over an open panel nothing gets through but the space bar.
    window.click("Keys");
    window.key(Key::W);
    assert!(handed_back(&mut window).is_empty());
    space(&mut window);
    assert_eq!(handed_back(&mut window), [Key::Space]);
}

/// A section whose name is longer than the window.
fn long_name() -> String {
    format!("Verse {}", "and the long way round ".repeat(8))
}

#[test]
fn the_line_fits_the_smallest_window_whatever_the_section_is_called() {
    let name = long_name();
    let text = format!(
        "barform = 1\nmeter = \"4/4\"\ntempo = 90\n[[section]]\nname = \"{}\"\nform = \"A\"\n\
         [cell.A]\ngrid = \"1 1 1 1\"\nsticking = \"R L R L\"\n",
        name.trim()
    );
    let mut window = Window::with_score(&text);
    window.harness.set_size(egui::vec2(900.0, 560.0));
    let params = window.params.clone();
    // A host would set them.
    let context = nice_plug::context::gui::GuiContext::new(std::sync::Arc::new(window::Obedient));
    let setter = context.param_setter();
    setter.set_parameter(&params.bypass, true);
    for clock in [Clock::Host, Clock::Own, Clock::OwnForWant] {
        publish(&mut window, clock, true);
        let badge = if clock == Clock::Host {
            "Host clock"
        } else {
            "Internal clock"
        };
        let row = window.harness.get_by_label(badge).rect();
        let bypassed = window.harness.get_by_label("Bypassed").rect();
        let letter = window.harness.get_by_label("Key plays A").rect();
        let beat = window.harness.get_by_label("Bar 1, beat 1").rect();
        let section = window.harness.get_by_label(name.trim()).rect();
        let mut before = 0.0;
        for (what, rect) in [
            ("badge", row),
            ("beat", beat),
            ("section", section),
            ("letter", letter),
            ("bypassed", bypassed),
        ] {
            assert!(
                rect.left() >= before,
                "{clock:?}: {what} overlaps what is before it"
            );
            assert!(rect.right() <= 900.0, "{clock:?}: {what} leaves the window");
            assert!(
                rect.center().y > row.top() && rect.center().y < row.bottom(),
                "{what}: one row"
            );
            before = rect.right();
        }
        assert!(
            section.width() > 20.0,
            "{clock:?}: something of the name is left"
        );
        // Nothing else of the line lies over another.
        let line: Vec<_> = window
            .harness
            .root()
            .children_recursive()
            .filter(|node| {
                matches!(
                    node.accesskit_node().role(),
                    Role::Label | Role::Button | Role::SpinButton
                )
            })
            .map(|node| node.rect())
            .filter(|rect| (rect.center().y - row.center().y).abs() < 4.0)
            .collect();
        assert!(line.len() >= 6, "{}", line.len());
        for (n, one) in line.iter().enumerate() {
            for other in &line[..n] {
                assert!(
                    !one.shrink(0.5).intersects(*other),
                    "{clock:?}: {one} over {other}"
                );
            }
        }
    }
}
