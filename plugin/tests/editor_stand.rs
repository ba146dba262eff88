//! The Stand, worked as a user would: what it shows, the full window, and that
//! nothing can be clicked there.

mod window;

use std::sync::Arc;

use barform::editor::Page;
use barform::handover::{Clock, Reading};
use barform::params::BarformParams;
use barform::state::Session;
use egui::{Key, pos2};
use egui_kittest::kittest::{NodeT, Queryable};
use window::Window;

fn on_stand(width: f32, height: f32) -> Window {
    let params = Arc::new(BarformParams::new(Arc::new(Session::default())));
    let mut window = Window::sized(params, width, height);
    window.harness.state_mut().desk_mut().page = Page::Stand;
    window.settle();
    window
}

fn at(window: &mut Window, beats: f64) {
    window.params.session.live.publish(Reading {
        position_beats: Some(beats),
        tempo_bpm: 92.0,
        rolling: true,
        clock: Clock::Own,
        letter: None,
    });
    window.settle();
}

/// What the Stand says of itself.
fn said(window: &Window) -> String {
    let node = window.harness.get_by_label_contains("Stand: ");
    node.accesskit_node().label().unwrap_or_default()
}

#[test]
fn letter_bar_beat_count_hand_and_what_follows_are_told() {
    let mut window = on_stand(1_100.0, 720.0);
    let timeline = window.params.session.checked().timeline;
    let place = &timeline.places[1];
    at(&mut window, place.start.to_f64());
    let printed = |letter: u32| {
        timeline.letters[letter as usize]
            .as_str()
            .replace('\'', "’")
    };
    let said = said(&window);
    let letter = printed(place.letter);
    assert!(
        said.starts_with(&format!("Stand: {letter}. Bar ")),
        "{said}"
    );
    let count = &timeline.counts(place).unwrap()[0];
    let next = printed(timeline.places[2].letter);
    assert!(said.contains(&format!(". {count} ")), "{said}");
    assert!(said.ends_with(&format!("Next {next}.")), "{said}");
}

#[test]
fn f11_and_enter_take_the_full_window_and_give_it_back() {
    for key in [Key::F11, Key::Enter] {
        let mut window = on_stand(900.0, 560.0);
        window.harness.get_by_label("Settings");
        window.key(key);
        said(&window);
        for gone in ["Settings", "Play", "Undo", "Open…"] {
            assert!(window.harness.query_by_label(gone).is_none(), "{gone}");
        }
        window.key(key);
        window.harness.get_by_label("Settings");
        window.key(key);
        window.key(Key::Escape);
        window.harness.get_by_label("Settings");
    }
}

#[test]
fn in_the_full_window_clicks_do_nothing() {
    let mut window = on_stand(900.0, 560.0);
    at(&mut window, 2.0);
    window.key(Key::F11);
    let before = window.text();
    for x in 0..9 {
        for y in 0..6 {
            let at = pos2(50.0 + 100.0 * x as f32, 40.0 + 90.0 * y as f32);
            window.harness.drag_at(at);
            window.harness.run_steps(1);
            window.harness.drop_at(at);
            window.harness.run_steps(1);
        }
    }
    window.settle();
    said(&window);
    assert_eq!(window.text(), before);
    assert_eq!(window.harness.state().desk().page, Page::Stand);
    assert_eq!(window.params.session.live.take_locate(), None);
    assert!(!window.params.own_run.value());
}

#[test]
fn in_the_full_window_the_own_clock_obeys_its_keys() {
    let mut window = on_stand(900.0, 560.0);
    window.key(Key::F11);
    window.key(Key::F5);
    assert!(window.params.own_run.value());
    window.key(Key::F4);
    assert_eq!(window.params.session.live.take_locate(), Some(0.0));
    window.key(Key::F5);
    assert!(!window.params.own_run.value());
    window.command(Key::R);
    assert!(window.params.own_run.value());
    window.command(Key::B);
    assert_eq!(window.params.session.live.take_locate(), Some(0.0));
}

/// A frame of the driver is a quarter of a second.
#[test]
fn the_way_out_is_told_for_some_seconds_and_stays_with_reduced_motion() {
    let hint = "leaves the full window";
    let mut window = on_stand(900.0, 560.0);
    window.key(Key::F11);
    window.harness.get_by_label_contains(hint);
    window.harness.run_steps(40);
    assert!(window.harness.query_by_label_contains(hint).is_none());
    window.key(Key::Escape);

    let desk = window.harness.state_mut().desk_mut();
    desk.prefs.set(|prefs| prefs.reduced_motion = true);
    window.key(Key::F11);
    window.harness.run_steps(40);
    window.harness.get_by_label_contains(hint);
}

#[test]
fn a_button_with_the_focus_keeps_its_enter() {
    let mut window = on_stand(1_100.0, 720.0);
    window.harness.get_by_label("Settings").focus();
    window.settle();
    window.key(Key::Enter);
    assert_eq!(window.harness.state().desk().page, Page::Settings);
}

#[test]
fn enter_on_another_page_is_not_the_stands() {
    let mut window = on_stand(1_100.0, 720.0);
    window.command(Key::Num6);
    window.key(Key::F11);
    window.harness.get_by_label("Undo");
    window.command(Key::Num1);
    window.harness.get_by_label("Undo");
}

#[test]
fn an_empty_form_says_what_to_do() {
    let text = "barform = 1\ntempo = 90\nmeter = \"4/4\"\nform = \"A\"\n\
                [cell.A]\ngrid = \"1\"\nsticking = \"-\"\n";
    let mut window = Window::with_score(text);
    window.harness.state_mut().desk_mut().page = Page::Stand;
    window.settle();
    let rest = said(&window);
    assert!(rest.starts_with("Stand: A."), "{rest}");
}

/// Height in points of the ink of the letter on its ground.
fn letter_height(window: &Window) -> f32 {
    let timeline = window.params.session.checked().timeline;
    let name = timeline.letters[timeline.places[0].letter as usize].as_str();
    let ground = window
        .harness
        .get_by_label(&format!("Letter {name}"))
        .rect();
    let picture = window.picture();
    // The letter is black or white, its ground is neither.
    let ink = |x: usize, y: usize| {
        let dot = &picture.rgba[(y * picture.width + x) * 4..][..3];
        dot == [0; 3] || dot == [255; 3]
    };
    let rows: Vec<usize> = (ground.top().ceil() as usize..ground.bottom() as usize)
        .filter(|y| (ground.left().ceil() as usize..ground.right() as usize).any(|x| ink(x, *y)))
        .collect();
    (rows[rows.len() - 1] - rows[0] + 1) as f32
}

#[test]
fn the_letter_is_painted_a_quarter_of_the_window_high() {
    for (width, height) in [(900.0, 560.0), (1_100.0, 720.0), (1_920.0, 1_080.0)] {
        let mut window = on_stand(width, height);
        let painted = letter_height(&window);
        assert!(painted >= height / 4.0, "{width} by {height}: {painted}");
        window.key(Key::F11);
        let full = letter_height(&window);
        assert!(full >= painted, "the full window: {full}, not {painted}");
    }
}
