//! Playing a cell in: strokes as the audio thread hears them, and the score
//! after they are kept.

mod window;

use barform::audition::{Heard, Stage};
use barform_app::music::{Articulation, Cell, Letter, Level, Limb, Voice};
use barform_app::shelf::{Folders, Prefs};
use egui_kittest::kittest::Queryable;
use window::Window;

const SCORE: &str = r#"barform = 1
title = "Bench"
tempo = 120
meter = "4/4"
form = "A A | A A |"

[cell.A]
grid = "4 4"
sticking = "R - - -  L - - -"
"#;

/// The panel, open on cell A, and the audio thread's side of it.
struct Playing {
    window: Window,
    stage: Stage,
}

impl Playing {
    /// With the boxes named clicked before the start.
    fn start(clicks: &[&str]) -> Playing {
        let mut window = Window::with_score(SCORE);
        let stage = window.params.session.audition.take_stage().unwrap();
        let a = Letter::new("A").unwrap();
        window.harness.state_mut().desk_mut().to_bench(a);
        window.settle();
        window.click("Play in");
        let mut playing = Playing { window, stage };
        for label in clicks {
            playing.click(label);
        }
        playing.click("Play it in");
        assert!(playing.window.params.session.audition.is_playing());
        assert!(playing.stage.shared.is_listening());
        playing.at(0.0);
        playing
    }

    fn click(&mut self, label: &str) {
        self.window.harness.get_by_label(label).scroll_to_me();
        self.window.harness.run_steps(4);
        self.window.click(label);
    }

    /// The audio thread tells where it is.
    fn at(&mut self, beats: f64) {
        self.stage.shared.publish(Some(beats));
        self.window.harness.run_steps(2);
    }

    /// A pad of key `key` is struck so loud, so many beats into the round.
    fn pad(&mut self, key: u8, velocity: u8, beats: f64) {
        self.stage.hear(Heard {
            key,
            channel: 9,
            velocity: f32::from(velocity) / 127.0,
            beats: Some(beats),
        });
        self.at(beats);
    }

    fn cell(&self) -> Cell {
        let checked = self.window.params.session.checked();
        checked.score().cell(&Letter::new("A").unwrap()).unwrap()
    }

    fn heard(&self) -> Vec<Vec<(Voice, Level)>> {
        let slots = self.cell().slots;
        let one = |slot: &Vec<barform_app::music::Stroke>| {
            slot.iter().map(|s| (s.voice, s.level)).collect()
        };
        slots.iter().map(one).collect()
    }
}

#[test]
fn pads_are_taken_to_the_nearest_slot_and_kept_as_one_step() {
    let mut playing = Playing::start(&["Count-in"]);
    let before = playing.window.text();
    // General MIDI Level 1: 36 bass drum, 38 snare, 42 closed hi-hat, 44 pedal
    // hi-hat. Slots are a quarter of a beat.
    playing.pad(36, 90, 0.02);
    playing.pad(42, 120, 0.03);
    playing.pad(38, 30, 0.52);
    playing.pad(44, 90, 1.23);
    assert_eq!(
        playing.window.text(),
        before,
        "nothing changes before it is kept"
    );
    playing.click("Use take");
    use {Level::*, Voice::*};
    let none = Vec::new;
    assert_eq!(
        playing.heard(),
        [
            vec![(Hat, Accent), (Kick, Normal)],
            none(),
            vec![(Snare, Ghost)],
            none(),
            none(),
            vec![(HatFoot, Normal)],
            none(),
            none(),
        ]
    );
    assert_eq!(playing.cell().slots[0][1].limb, Limb::KickFoot);
    assert_eq!(playing.cell().slots[5][0].limb, Limb::HatFoot);
    assert!(!playing.stage.shared.is_listening());
    assert!(!playing.window.params.session.audition.is_playing());
    playing.window.command(egui::Key::Z);
    assert_eq!(playing.window.text(), before);
}

#[test]
fn how_far_each_stroke_is_off_is_told_in_milliseconds() {
    // At 120 beats a minute a beat lasts 500 ms.
    let mut playing = Playing::start(&["Count-in"]);
    playing.pad(38, 80, 0.29);
    playing
        .window
        .harness
        .get_by_label("slot 2, snare: 20 ms late");
    playing.pad(38, 120, 0.97);
    playing
        .window
        .harness
        .get_by_label("slot 5, snare, accent: 15 ms early");
    playing.pad(38, 80, 1.25);
    playing
        .window
        .harness
        .get_by_label("slot 6, snare: on time");
}

#[test]
fn a_stroke_before_the_join_is_the_first_of_the_next_round() {
    let mut playing = Playing::start(&["Count-in"]);
    playing.pad(38, 80, 1.95);
    playing
        .window
        .harness
        .get_by_label("slot 1, snare: 25 ms early");
    playing.click("Use take");
    assert_eq!(playing.cell().slots[0].len(), 1);
    assert_eq!(playing.cell().slots.iter().flatten().count(), 1);
}

#[test]
fn the_count_in_is_not_taken_but_an_early_first_stroke_is() {
    // A bar of four beats is two rounds of two.
    let mut playing = Playing::start(&[]);
    playing
        .window
        .harness
        .get_by_label("Count-in: you begin in 2 rounds.");
    playing.pad(38, 80, 0.5);
    playing.at(1.9);
    playing.at(0.1);
    playing
        .window
        .harness
        .get_by_label("Count-in: you begin with the next round.");
    playing.pad(38, 80, 1.0);
    playing.window.harness.get_by_label("Nothing played yet");
    playing.pad(36, 80, 1.98);
    playing.at(0.02);
    playing.window.harness.get_by_label("Play.");
    playing.pad(38, 80, 1.0);
    playing.click("Use take");
    let heard = playing.heard();
    assert_eq!(heard[0], [(Voice::Kick, Level::Normal)]);
    assert_eq!(heard[4], [(Voice::Snare, Level::Normal)]);
    assert_eq!(heard.iter().flatten().count(), 2);
}

#[test]
fn overdubbing_adds_to_what_is_there_and_replacing_does_not() {
    let mut playing = Playing::start(&["Count-in", "Overdub"]);
    playing.pad(51, 80, 0.5);
    playing.click("Use take");
    let heard = playing.heard();
    assert_eq!(heard[0], [(Voice::Snare, Level::Normal)]);
    assert_eq!(heard[2], [(Voice::Ride, Level::Normal)]);
    assert_eq!(playing.cell().slots[4][0].limb, Limb::LeftHand);

    let mut playing = Playing::start(&["Count-in"]);
    playing.pad(51, 80, 0.5);
    playing.click("Use take");
    assert_eq!(playing.heard().iter().flatten().count(), 1);
}

#[test]
fn again_throws_the_take_away_and_last_back_one_stroke() {
    let mut playing = Playing::start(&["Count-in"]);
    playing.pad(38, 80, 0.0);
    playing.pad(38, 80, 0.5);
    playing.click("Undo last stroke");
    playing
        .window
        .harness
        .get_by_label("1 stroke, on average on time");
    playing.click("Again");
    playing.window.harness.get_by_label("Nothing played yet");
    playing.at(0.0);
    playing.pad(42, 80, 0.25);
    playing.click("Use take");
    let all: Vec<_> = playing.heard().into_iter().flatten().collect();
    assert_eq!(all, [(Voice::Hat, Level::Normal)]);
}

#[test]
fn the_latency_offset_is_taken_off_and_kept_for_the_user() {
    let mut playing = Playing::start(&["Count-in"]);
    // 0.1 beats are 50 ms: late throughout.
    for beats in [0.1, 0.6, 1.1] {
        playing.pad(38, 80, beats);
    }
    playing
        .window
        .harness
        .get_by_label("3 strokes, on average 50 ms late");
    playing.click("Compensate");
    let file = Folders::at(playing.window.folder.path()).editor();
    assert_eq!(Prefs::load(file).unwrap().latency_offset_ms, 50.0);
    // Without the offset that is nearer to slot 3; with it, slot 2 to the point.
    playing.pad(38, 80, 0.35);
    playing
        .window
        .harness
        .get_by_label("slot 2, snare: on time");
}

#[test]
fn keys_that_no_voice_answers_to_are_told() {
    let mut playing = Playing::start(&["Count-in"]);
    playing.pad(100, 80, 0.5);
    playing.pad(100, 80, 1.0);
    playing
        .window
        .harness
        .get_by_label("Note 100 on channel 10 plays no voice (2 times): teach it on the Kit page.");
    playing.window.harness.get_by_label("Nothing played yet");
}

#[test]
fn the_computer_keyboard_plays_limbs_and_is_sounded() {
    let mut playing = Playing::start(&["Count-in", "Computer keyboard"]);
    playing
        .window
        .harness
        .get_by_label_contains("Right hand: J snare");
    let note = |playing: &mut Playing, key: egui::Key, beats: f64| {
        playing.at(beats);
        playing.window.harness.key_press(key);
        playing.window.harness.run_steps(2);
        playing.stage.next_strike().unwrap()
    };
    let struck = note(&mut playing, egui::Key::F, 0.01);
    assert_eq!((struck.voice, struck.key.number()), (Voice::Snare, 38));
    note(&mut playing, egui::Key::Space, 0.5);
    playing.at(0.76);
    let shift = egui::Modifiers::SHIFT;
    playing
        .window
        .harness
        .key_press_modifiers(shift, egui::Key::J);
    playing.window.harness.run_steps(2);
    // Enter keeps: no button is near.
    playing.window.key(egui::Key::Enter);
    let slots = playing.cell().slots;
    assert_eq!(
        (slots[0][0].limb, slots[0][0].voice),
        (Limb::LeftHand, Voice::Snare)
    );
    assert_eq!(
        (slots[2][0].limb, slots[2][0].voice),
        (Limb::KickFoot, Voice::Kick)
    );
    assert_eq!(
        (slots[3][0].limb, slots[3][0].level),
        (Limb::RightHand, Level::Accent)
    );
    assert_eq!(slots[0][0].articulation, Articulation::Plain);
    assert_eq!(slots.iter().flatten().count(), 3);
}

#[test]
fn leaving_the_bench_ends_the_loop_and_nothing_is_lost() {
    let mut playing = Playing::start(&["Count-in"]);
    playing.pad(38, 80, 0.5);
    playing.window.command(egui::Key::Num4);
    assert!(!playing.window.params.session.audition.is_playing());
    assert!(!playing.stage.shared.is_listening());
    playing.window.command(egui::Key::Num2);
    playing.click("Use take");
    assert_eq!(playing.heard().iter().flatten().count(), 1);
}
