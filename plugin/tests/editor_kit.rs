//! The Kit page: keys, order, levels, learning, key maps.

mod window;

use barform::audition::{Heard, Stage};
use barform::editor::{App, Page};
use barform_app::music::{Articulation, Channel, Key as MidiKey, Kit, Voice};
use barform_app::shelf::Kits;
use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;
use window::Window;

const SCORE: &str = "barform = 1\nform = \"A B\"\n\n[cell.A]\ngrid = \"4\"\n\
                     sticking = \"R L R L\"\n\n[cell.B]\ngrid = \"2\"\nsticking = \"R L\"\n\
                     voices = \"tom1 .\"\n";

fn open() -> Window {
    on_page(Window::with_score(SCORE))
}

fn on_page(mut window: Window) -> Window {
    window.harness.state_mut().desk_mut().page = Page::Kit;
    window.settle();
    window
}

fn kit(window: &Window) -> Kit {
    window.params.session.checked().score().kit.clone()
}

fn key(window: &Window, voice: Voice, way: Articulation) -> Option<u8> {
    kit(window).voice(voice).keys[way.index()].map(MidiKey::number)
}

fn set(window: &mut Window, label: &str, value: f64) {
    window
        .harness
        .get_by_label(label)
        .set_value_accesskit(value);
    window.settle();
}

fn stage(window: &Window) -> Stage {
    window.params.session.audition.take_stage().unwrap()
}

/// A note comes in; the channel counts from 0, as on the wire.
fn play(window: &mut Window, stage: &mut Stage, key: u8, channel: u8) {
    assert!(stage.shared.is_listening());
    stage.hear(Heard {
        key,
        channel,
        velocity: 0.8,
        beats: None,
    });
    window.settle();
}

/// Presses a key with others.
fn press(window: &mut Window, modifiers: Modifiers, key: Key) {
    window.harness.key_press_modifiers(modifiers, key);
    window.settle();
}

/// Frames until something with this label is there.
fn wait_for(window: &mut Window, label: &str) {
    for _ in 0..2_000 {
        if window.harness.query_all_by_label_contains(label).count() > 0 {
            window.settle();
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(2));
        window.harness.run_steps(1);
    }
    panic!("nothing says {label}");
}

#[test]
fn a_key_a_channel_and_levels_are_set_and_undone() {
    let mut window = open();
    set(&mut window, "MIDI note of Snare", 60.0);
    assert_eq!(key(&window, Voice::Snare, Articulation::Plain), Some(60));
    assert!(window.text().contains("[kit.snare]\nkey = 60"));
    set(&mut window, "Channel of Snare", 3.0);
    assert_eq!(kit(&window).voice(Voice::Snare).channel.number(), 3);
    window
        .harness
        .get_by_label("Accent of Snare")
        .increment_accesskit();
    window.settle();
    assert_eq!(kit(&window).voice(Voice::Snare).curve.accent.value(), 119);
    for _ in 0..3 {
        window.command(Key::Z);
    }
    assert_eq!(window.text(), SCORE);
}

#[test]
fn levels_that_cannot_be_told_apart_are_named() {
    let mut window = on_page(Window::with_score(&format!(
        "{SCORE}\n[kit.snare]\nvelocity = [90, 84, 118]\n"
    )));
    window
        .harness
        .get_by_label_contains("A ghost note should be softer");
    // It may lie below what the page shows at first.
    window
        .harness
        .get_by_label("Voice as in General MIDI")
        .click_accesskit();
    window.settle();
    assert!(
        window
            .harness
            .query_by_label_contains("A ghost note should be softer")
            .is_none()
    );
    assert_eq!(kit(&window), Kit::general_midi());
}

#[test]
fn an_articulation_gives_up_its_key_and_gets_one_again() {
    let mut window = open();
    window.click("As plain: Snare, cross-stick");
    assert_eq!(key(&window, Voice::Snare, Articulation::Cross), None);
    assert!(window.text().contains("cross = \"none\""));
    window.click("Own note: Snare, cross-stick");
    assert_eq!(key(&window, Voice::Snare, Articulation::Cross), Some(38));
}

#[test]
fn a_key_is_learned_with_its_channel() {
    let mut window = open();
    let mut stage = stage(&window);
    window.click("Learn Snare, rimshot");
    window
        .harness
        .get_by_label_contains("press the key for Snare, rimshot now");
    play(&mut window, &mut stage, 91, 1);
    assert_eq!(key(&window, Voice::Snare, Articulation::Rim), Some(91));
    assert_eq!(
        kit(&window).voice(Voice::Snare).channel,
        Channel::new(2).unwrap()
    );
    assert!(!stage.shared.is_listening());
    window
        .harness
        .get_by_label_contains("All strokes of the voice are on that channel now.");
}

#[test]
fn a_key_that_another_voice_has_is_shared_or_swapped_as_the_user_says() {
    for (button, kick) in [("Both play it", 36), ("Swap the notes", 38)] {
        let mut window = open();
        let mut stage = stage(&window);
        window.click("Learn Snare");
        play(&mut window, &mut stage, 36, 9);
        window
            .harness
            .get_by_label_contains("Kick already plays note 36 (Bass Drum 1)");
        assert_eq!(window.text(), SCORE);
        window.click(button);
        assert_eq!(key(&window, Voice::Snare, Articulation::Plain), Some(36));
        assert_eq!(key(&window, Voice::Kick, Articulation::Plain), Some(kick));
    }
    let mut window = open();
    let mut stage = stage(&window);
    window.click("Learn Snare");
    play(&mut window, &mut stage, 36, 9);
    window.click("Leave it");
    assert_eq!(window.text(), SCORE);
}

#[test]
fn escape_and_leaving_the_page_end_the_learning() {
    let mut window = open();
    let stage = stage(&window);
    window.click("Learn Snare");
    assert!(stage.shared.is_listening());
    window.key(Key::Escape);
    assert!(!stage.shared.is_listening());
    window.key(Key::L);
    assert!(stage.shared.is_listening());
    window.command(Key::Num3);
    assert!(!stage.shared.is_listening());
    // The Stand may take the full window at once, as it had it before.
    window.harness.state_mut().desk_mut().page = Page::Stand;
    window.settle();
    window.key(Key::F11);
    window.harness.state_mut().desk_mut().page = Page::Kit;
    window.settle();
    window.click("Learn Snare");
    assert!(stage.shared.is_listening());
    window.harness.state_mut().desk_mut().page = Page::Stand;
    window.settle();
    assert!(window.harness.query_by_label("Settings").is_none());
    assert!(!stage.shared.is_listening());
    assert_eq!(window.text(), SCORE);
}

#[test]
fn voices_sound_at_every_level_by_mouse_and_key() {
    let mut window = open();
    let mut stage = stage(&window);
    let mut struck = move || {
        let note = stage.next_strike()?;
        Some((note.key.number(), note.velocity.value()))
    };
    window.click("Ride: note 51");
    assert_eq!(struck(), Some((51, 84)));
    window.key(Key::Enter);
    assert_eq!(struck(), Some((51, 84)));
    press(&mut window, Modifiers::SHIFT, Key::Enter);
    assert_eq!(struck(), Some((51, 118)));
    for (key, velocity) in [(Key::G, 32), (Key::N, 84), (Key::A, 118)] {
        window.key(key);
        assert_eq!(struck(), Some((51, velocity)));
    }
    window.click("Hear Ride, bell");
    assert_eq!(struck(), Some((53, 84)));
    window.click("Hear ghost note");
    assert_eq!(struck(), Some((51, 32)));
    // The arrow keys choose in silence.
    window.click("Ride: note 51");
    assert_eq!(struck(), Some((51, 84)));
    window.key(Key::ArrowDown);
    assert_eq!(struck(), None);
    window.key(Key::N);
    assert_eq!(struck(), Some((49, 84)));
    assert_eq!(struck(), None);
}

#[test]
fn the_order_round_the_kit_is_changed_by_key_and_button() {
    use Voice::*;
    let mut window = open();
    window.click("Tom 1: note 50");
    press(&mut window, Modifiers::ALT, Key::ArrowUp);
    assert_eq!(kit(&window).order[..4], [Hat, Tom1, Snare, Tom2]);
    window.key(Key::N);
    press(&mut window, Modifiers::ALT, Key::ArrowDown);
    window.click("Move down");
    assert_eq!(kit(&window).order[..4], [Hat, Snare, Tom2, Tom1]);
    assert!(window.text().contains("order = \"hat snare tom2 tom1"));
}

#[test]
fn voices_are_taken_off_and_put_on_in_their_place() {
    let mut window = open();
    window.click("Tom 1: note 50");
    window.key(Key::Delete);
    assert!(!kit(&window).order.contains(&Voice::Tom1));
    window
        .harness
        .get_by_label_contains("Tom 1 is removed from the kit. Strokes in B: R 1, L 1.");
    window.click("Add to the kit");
    assert_eq!(kit(&window), Kit::general_midi());
    // It lies below what the list shows at first.
    window
        .harness
        .get_by_label("Tom 5: note 43")
        .click_accesskit();
    window.settle();
    window.click("Add to the kit");
    let order = kit(&window).order;
    let at = order.iter().position(|v| *v == Voice::Tom5).unwrap();
    assert_eq!(order[at - 1], Voice::Tom4);
    window.click("Whole kit as in General MIDI");
    assert_eq!(kit(&window), Kit::general_midi());
}

#[test]
fn the_last_voice_stays_and_the_page_says_why() {
    let text = format!("{SCORE}\n[kit]\norder = \"snare\"\n");
    let mut window = on_page(Window::with_score(&text));
    window.click("Remove from the kit");
    assert_eq!(window.text(), text);
    window.harness.get_by_label_contains("order");
    assert!(
        window
            .harness
            .state()
            .desk()
            .refused_at(barform::editor::Spot::Kit)
            .is_some()
    );
}

#[test]
fn key_maps_are_kept_loaded_renamed_removed_and_restored() {
    let mut window = on_page(Window::with_score(&format!(
        "{SCORE}\n[kit.snare]\nkey = 60\n"
    )));
    let kits = Kits::open(window.folder.path().join("kits"));
    let names = || -> Vec<String> {
        let kits = kits.list().unwrap().kits;
        kits.into_iter().map(|k| k.name).collect()
    };
    let mine = kit(&window);
    window.click("Key maps");
    window
        .harness
        .get_by_label_contains("No key map is kept yet");
    window.harness.get_by_label("Name of the key map").focus();
    window.harness.run_steps(2);
    window
        .harness
        .get_by_label("Name of the key map")
        .type_text("Brown module");
    window.settle();
    window.click("Keep this kit");
    wait_for(&mut window, "plays now");
    assert_eq!(names(), ["Brown module"]);
    assert_eq!(kits.list().unwrap().kits[0].kit, mine);

    window.click("Whole kit as in General MIDI");
    window.click("Load Brown module");
    assert_eq!(kit(&window), mine);

    window.click("Rename Brown module");
    window.harness.get_by_label("New name").type_text(" 2");
    window.settle();
    window.click("Rename");
    wait_for(&mut window, "Brown module 2");
    assert_eq!(names(), ["Brown module 2"]);

    window.click("Whole kit as in General MIDI");
    window.click("Replace Brown module 2");
    wait_for(&mut window, "plays now");
    assert_eq!(kits.list().unwrap().kits[0].kit, Kit::general_midi());

    window.click("Remove Brown module 2");
    wait_for(&mut window, "was removed");
    assert!(names().is_empty());
    window.click("Restore Brown module 2");
    wait_for(&mut window, "is back");
    assert_eq!(names(), ["Brown module 2"]);
}

#[test]
fn a_damaged_key_map_and_a_name_that_cannot_be_kept_are_told_in_words() {
    let window = Window::with_score(SCORE);
    let folder = window.folder.path().join("kits");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(
        folder.join("odd.toml"),
        "barform = 1\n[kit.snare]\nkey = 300\n",
    )
    .unwrap();
    let mut window = on_page(window);
    window.click("Key maps");
    wait_for(&mut window, "odd.toml");
    window.harness.get_by_label_contains("300");
    window.click("Keep this kit");
    wait_for(&mut window, "allowed is one line of 1 to");
}

#[test]
fn without_a_folder_the_page_says_what_still_works() {
    let mut window = Window::with_score(SCORE);
    let app = App::with_folders(window.params.clone(), None);
    *window.harness.state_mut() = app;
    let mut window = on_page(window);
    window.click("Key maps");
    window
        .harness
        .get_by_label_contains("The kit itself is saved with the score.");
}
