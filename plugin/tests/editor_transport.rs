//! The transport line: tapping a tempo, which clock rules, and that the line
//! fits.

mod window;

use barform::handover::{Clock, Reading};
use egui::accesskit::Role;
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
    window.harness.get_by_label("Own clock");
    window.harness.get_by_label("no host time");
    publish(&mut window, Clock::Own, false);
    window.harness.get_by_label("Own clock");
    assert!(window.harness.query_by_label("no host time").is_none());
    publish(&mut window, Clock::Host, true);
    window.harness.get_by_label("Host clock");
    window.harness.get_by_label("runs");
    window.harness.get_by_label("133.0 BPM");
    for own in ["Own clock", "Run", "To start", "Tap"] {
        assert!(window.harness.query_by_label(own).is_none(), "{own}");
    }
    let before = window.params.own_tempo.value();
    for at_s in [50.0, 50.6] {
        window.harness.input_mut().time = Some(at_s);
        window.key(egui::Key::F6);
    }
    assert_eq!(window.params.own_tempo.value(), before);
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
            "Own clock"
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
