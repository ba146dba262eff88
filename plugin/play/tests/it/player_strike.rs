//! Single strokes, struck by hand beside what the player plays.

use crate::player_support;

use std::sync::Arc;

use barform_play::player::*;
use barform_score::music::*;
use barform_score::score::Score;
use barform_score::timeline::*;

/// A stroke of the snare (key 38) on every beat; 24,000 samples at 120 bpm and
/// the 48 kHz of a new player.
const SCORE: &str = "barform = 1\nmeter = \"4/4\"\ntempo = 120\nform = \"A\"\n\
                     [cell.A]\ngrid = \"1 1 1 1\"\nsticking = \"R L R L\"\n";

/// 5 ms at 48 kHz.
const GATE: i64 = 240;

fn note(key: u8) -> Note {
    Note {
        voice: Voice::Crash,
        limb: None,
        ..player_support::note(key)
    }
}

struct Desk {
    player: Player,
    sample: i64,
    /// Sample, whether on, key.
    events: Vec<(i64, bool, u8)>,
}

impl Desk {
    fn new() -> Desk {
        let score = Score::parse(SCORE, "test").unwrap();
        let mut player = Player::new();
        player.set_timeline(Some(Arc::new(Timeline::compile(&score).unwrap())));
        Desk {
            player,
            sample: 0,
            events: vec![],
        }
    }

    fn block(&mut self, playing: bool, frames: u32) {
        let transport = Transport {
            playing,
            position_beats: Some(self.sample as f64 / 24_000.0),
            song_samples: None,
            tempo_bpm: 120.0,
            cycle: None,
        };
        let settings = Settings {
            gate_ms: 5.0,
            ..Settings::default()
        };
        let (start, events) = (self.sample, &mut self.events);
        self.player
            .process(&transport, &settings, frames, &mut |event| {
                let (on, note) = match event.kind {
                    EventKind::On(note) => (true, note),
                    EventKind::Off(note) => (false, note),
                };
                events.push((start + i64::from(event.offset), on, note.key.number()));
            });
        self.sample += i64::from(frames);
    }

    fn of(&self, key: u8) -> Vec<(i64, bool)> {
        let of_key = |e: &&(i64, bool, u8)| e.2 == key;
        let events = self.events.iter().filter(of_key);
        events.map(|e| (e.0, e.1)).collect()
    }
}

#[test]
fn while_time_stands_a_stroke_starts_with_the_block_and_lasts_its_time() {
    let mut desk = Desk::new();
    desk.block(false, 100);
    assert!(!desk.player.is_sounding());
    desk.player.strike(note(49));
    assert!(desk.player.is_sounding(), "it waits for the block");
    for n in 0..5 {
        desk.block(false, 64);
        assert_eq!(desk.player.is_sounding(), (n + 1) * 64 <= GATE, "block {n}");
    }
    assert_eq!(desk.events, [(100, true, 49), (100 + GATE, false, 49)]);
    assert!(!desk.player.is_sounding());
}

#[test]
fn a_second_stroke_on_a_key_ends_the_first() {
    let mut desk = Desk::new();
    desk.player.strike(note(49));
    desk.block(false, 100);
    desk.player.strike(note(49));
    desk.block(false, 1_000);
    let want = [(0, true), (100, false), (100, true), (100 + GATE, false)];
    assert_eq!(desk.of(49), want);
}

#[test]
fn a_stroke_beside_the_form_leaves_it_as_it_was() {
    let (mut with, mut without) = (Desk::new(), Desk::new());
    for number in 0..500 {
        if number % 7 == 3 {
            with.player.strike(note(49));
        }
        with.block(true, 256);
        without.block(true, 256);
    }
    assert_eq!(with.of(38), without.of(38));
    assert_eq!(with.of(49).len(), 2 * 71);
    assert!(with.events.is_sorted_by_key(|event| event.0));
}

#[test]
fn a_stroke_in_the_block_in_which_time_starts_is_not_cut_off() {
    let mut desk = Desk::new();
    desk.block(false, 64);
    desk.player.strike(note(49));
    desk.block(true, 1_000);
    assert_eq!(desk.of(49), [(64, true), (64 + GATE, false)]);
}

#[test]
fn when_time_stops_every_note_ends_a_struck_one_too() {
    let mut desk = Desk::new();
    desk.player.strike(note(49));
    desk.block(true, 64);
    desk.block(false, 64);
    assert_eq!(desk.of(49), [(0, true), (64, false)]);
    assert_eq!(desk.of(38), [(0, true), (64, false)]);
    assert!(!desk.player.is_sounding());
}

#[test]
fn more_strokes_than_there_is_room_for_are_left_out() {
    let mut desk = Desk::new();
    for key in 0..=MAX_STRUCK as u8 {
        desk.player.strike(note(key));
    }
    desk.block(false, 1_000);
    assert_eq!(desk.events.len(), 2 * MAX_STRUCK);
}
