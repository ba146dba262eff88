//! Ornaments, letters by key, mutes, swaps and stops.

use crate::player_support;

use std::sync::Arc;

use barform_play::player::*;
use barform_score::music::*;
use barform_score::score::Rate;
use barform_score::timeline::*;
use proptest::prelude::*;

const RATE_HZ: f64 = 48_000.0;
/// 120 bpm at 48 kHz.
const BEAT: i64 = 24_000;

fn note(key: u8, limb: Limb) -> Note {
    Note {
        limb: Some(limb),
        ..player_support::note(key)
    }
}

/// Four beats: key 60 on beat 1 with three grace notes (key 61), a kick (36) on
/// beat 2, a buzz (key 62) on beat 3 with half a beat of room; an ostinato
/// (key 44) every three beats; a click (33) every beat; letter 0 a stroke (70)
/// each half beat, letter 1 a stroke (71) each beat.
fn timeline() -> Arc<Timeline> {
    let mut form = Lane::new(LaneRole::Form, Beats::whole(4));
    form.main.push(0.0, note(60, Limb::RightHand));
    form.main.push(1.0, note(36, Limb::KickFoot));
    form.main.push(2.0, note(62, Limb::LeftHand));
    for track in &mut form.graces {
        track.push(0.0, note(61, Limb::LeftHand));
    }
    for track in &mut form.bounces {
        track.push(2.0, note(62, Limb::LeftHand));
        track.room.push(0.5);
    }
    let mut ostinato = Lane::new(LaneRole::Ostinato(0), Beats::whole(3));
    ostinato.main.push(0.0, note(44, Limb::HatFoot));
    let mut click = Lane::new(LaneRole::Click, Beats::whole(1));
    click.main.push(
        0.0,
        Note {
            limb: None,
            ..note(33, Limb::HatFoot)
        },
    );
    let mut first = Lane::new(LaneRole::Letter(0), Beats::new(1, 2));
    first.main.push(0.0, note(70, Limb::RightHand));
    let mut second = Lane::new(LaneRole::Letter(1), Beats::whole(1));
    second.main.push(0.0, note(71, Limb::RightHand));
    player_support::timeline(Beats::whole(4), vec![form, ostinato, click, first, second])
}

/// A host at 120 bpm that cuts time into blocks of its choice.
struct Desk {
    player: Player,
    settings: Settings,
    sample: i64,
    beats: f64,
    cycle: Option<Loop>,
    events: Vec<(i64, EventKind)>,
}

impl Desk {
    fn new(settings: Settings) -> Desk {
        let mut player = Player::new();
        player.set_sample_rate(RATE_HZ);
        player.set_timeline(Some(timeline()));
        Desk {
            player,
            settings,
            sample: 0,
            beats: 0.0,
            cycle: None,
            events: vec![],
        }
    }

    fn block(&mut self, playing: bool, frames: u32) {
        let transport = Transport {
            playing,
            position_beats: Some(self.beats),
            song_samples: None,
            tempo_bpm: 120.0,
            cycle: self.cycle,
        };
        let start = self.sample;
        let events = &mut self.events;
        self.player
            .process(&transport, &self.settings, frames, &mut |e| {
                events.push((start + i64::from(e.offset), e.kind));
            });
        self.sample += i64::from(frames);
        if playing {
            self.beats += f64::from(frames) / BEAT as f64;
            if let Some(c) = self.cycle
                && self.beats >= c.end_beats
            {
                self.beats -= c.end_beats - c.start_beats;
            }
        }
    }

    fn play(&mut self, mut frames: i64, block: u32) {
        while frames > 0 {
            let n = block.min(frames as u32);
            self.block(true, n);
            frames -= i64::from(n);
        }
    }

    fn ons(&self, key: u8) -> Vec<i64> {
        let on = |e: &(i64, EventKind)| match e.1 {
            EventKind::On(n) if n.key.number() == key => Some(e.0),
            _ => None,
        };
        self.events.iter().filter_map(on).collect()
    }

    fn open(&self) -> i64 {
        let count = |e: &(i64, EventKind)| match e.1 {
            EventKind::On(_) => 1,
            EventKind::Off(_) => -1,
        };
        self.events.iter().map(count).sum()
    }
}

fn settings() -> Settings {
    // 10 ms = 480 samples, 20 ms = 960 samples.
    Settings {
        grace_ms: 10.0,
        buzz_ms: 20.0,
        gate_ms: 5.0,
        ..Settings::default()
    }
}

#[test]
fn grace_notes_come_their_time_ahead_and_wrap_with_the_form() {
    let mut desk = Desk::new(settings());
    desk.play(9 * BEAT, 512);
    let ahead = |main: i64| [main - 1440, main - 960, main - 480];
    let mut want = vec![0, 0, 0];
    want.extend(ahead(4 * BEAT));
    want.extend(ahead(8 * BEAT));
    assert_eq!(
        desk.ons(61),
        want,
        "at the very start they are kept and come at once"
    );
    assert_eq!(desk.ons(60), [0, 4 * BEAT, 8 * BEAT]);
}

#[test]
fn grace_notes_come_before_a_form_that_starts_later() {
    let mut desk = Desk::new(Settings {
        start_beats: 2.0,
        ..settings()
    });
    desk.play(3 * BEAT, 100);
    assert_eq!(
        desk.ons(61),
        [2 * BEAT - 1440, 2 * BEAT - 960, 2 * BEAT - 480]
    );
}

#[test]
fn grace_notes_of_a_loop_start_sound_before_the_loop_turns() {
    let mut desk = Desk::new(settings());
    desk.beats = 1.0;
    desk.cycle = Some(Loop {
        start_beats: 0.0,
        end_beats: 2.0,
    });
    desk.play(2 * BEAT, 777);
    // The loop turns after one beat of playing.
    assert_eq!(desk.ons(60), [BEAT]);
    assert_eq!(desk.ons(61), [BEAT - 1440, BEAT - 960, BEAT - 480]);
}

#[test]
fn a_jump_between_grace_and_main_stroke_keeps_the_ornament_whole() {
    let mut desk = Desk::new(settings());
    // 700 samples before beat 5: two of the three grace notes would be over.
    desk.beats = 4.0 - 700.0 / BEAT as f64;
    desk.play(2000, 64);
    assert_eq!(desk.ons(61), [0, 0, 700 - 480]);
    assert_eq!(desk.ons(60), [700]);
}

#[test]
fn a_buzz_bounces_on_until_the_next_slot_each_time_softer() {
    let mut desk = Desk::new(settings());
    desk.play(4 * BEAT - 2000, 333);
    let start = 2 * BEAT;
    // Room is half a beat = 250 ms; eight bounces 20 ms apart all fit.
    let want: Vec<i64> = (0..=8).map(|n| start + n * 960).collect();
    assert_eq!(desk.ons(62), want);
    let velocities: Vec<u8> = desk
        .events
        .iter()
        .filter_map(|e| match e.1 {
            EventKind::On(n) if n.key.number() == 62 => Some(n.velocity.value()),
            _ => None,
        })
        .collect();
    assert!(velocities.windows(2).all(|w| w[1] < w[0]), "{velocities:?}");

    let mut slow = Desk::new(Settings {
        buzz_ms: 100.0,
        ..settings()
    });
    slow.play(4 * BEAT - 2000, 333);
    assert_eq!(
        slow.ons(62),
        [start, start + 4800, start + 9600],
        "ends with the slot"
    );
}

#[test]
fn an_ostinato_keeps_its_own_cycle_under_the_repeating_form() {
    let mut desk = Desk::new(settings());
    desk.play(13 * BEAT, 480);
    assert_eq!(desk.ons(44), [0, 3 * BEAT, 6 * BEAT, 9 * BEAT, 12 * BEAT]);
}

#[test]
fn once_ends_form_ostinato_and_click_together() {
    let mut desk = Desk::new(Settings {
        repeat: false,
        mute: Mute::default(),
        ..settings()
    });
    desk.play(12 * BEAT, 480);
    assert_eq!(desk.ons(60), [0]);
    assert_eq!(desk.ons(44), [0, 3 * BEAT]);
    assert_eq!(desk.ons(33), [0, BEAT, 2 * BEAT, 3 * BEAT]);
    assert_eq!(desk.player.position_beats(), None);
}

#[test]
fn rates_stretch_and_squeeze_the_form() {
    for (rate, beat) in [(Rate::Half, 2 * BEAT), (Rate::Double, BEAT / 2)] {
        let mut desk = Desk::new(Settings { rate, ..settings() });
        desk.play(8 * BEAT, 480);
        let want: Vec<i64> = (0..)
            .map(|n| n * 4 * beat + beat)
            .take_while(|at| *at < 8 * BEAT)
            .collect();
        assert_eq!(desk.ons(36), want);
    }
}

#[test]
fn mutes_silence_their_own_and_nothing_else() {
    let all = |mute| {
        let mut desk = Desk::new(Settings { mute, ..settings() });
        desk.play(4 * BEAT, 480);
        [60, 36, 44, 33].map(|key| !desk.ons(key).is_empty())
    };
    let none = Mute::default();
    assert_eq!(all(none), [true, true, true, true]);
    assert_eq!(
        all(Mute {
            hands: true,
            ..none
        }),
        [false, true, true, true]
    );
    assert_eq!(all(Mute { feet: true, ..none }), [true, false, true, true]);
    assert_eq!(
        all(Mute {
            ostinato: true,
            ..none
        }),
        [true, true, false, true]
    );
    assert_eq!(
        all(Mute {
            click: true,
            ..none
        }),
        [true, true, true, false]
    );
}

#[test]
fn a_letter_by_key_starts_and_stops_on_beats_or_bar_lines() {
    for (quantise, line) in [(Quantise::Beat, BEAT), (Quantise::Bar, 4 * BEAT)] {
        let mut desk = Desk::new(settings());
        desk.play(BEAT / 2, 100);
        desk.player.letter_down(0, 0, quantise);
        desk.play(line + BEAT / 2, 100);
        assert_eq!(desk.player.live_letter(), Some(0));
        desk.player.letter_up(0, 0, quantise);
        desk.play(16 * BEAT - desk.sample, 100);
        let want: Vec<i64> = (0..)
            .map(|n| line + n * BEAT / 2)
            .take_while(|at| *at < 2 * line)
            .collect();
        assert_eq!(desk.ons(70), want, "{quantise:?}");
        let form = desk.ons(60);
        assert!(
            form.iter().all(|at| *at < line || *at >= 2 * line),
            "{quantise:?} {form:?}"
        );
        assert_eq!(form.len(), if quantise == Quantise::Bar { 3 } else { 4 });
        assert_eq!(desk.player.live_letter(), None);
    }
}

#[test]
fn a_second_letter_takes_over_from_the_first() {
    let mut desk = Desk::new(settings());
    desk.play(100, 100);
    desk.player.letter_down(0, 0, Quantise::Beat);
    desk.play(BEAT + 100, 100);
    desk.player.letter_down(1, 0, Quantise::Beat);
    desk.player.letter_up(0, 0, Quantise::Beat);
    desk.play(2 * BEAT, 100);
    assert_eq!(desk.ons(70), [BEAT, BEAT + BEAT / 2]);
    assert_eq!(desk.ons(71), [2 * BEAT, 3 * BEAT]);
    assert_eq!(desk.ons(36), [] as [i64; 0], "the form's beat 2 gave way");
}

#[test]
fn letters_pressed_on_successive_bars_each_have_a_bar() {
    for cycle in [None, Some((0.0, 12.0)), Some((0.0, 4.0))] {
        let mut desk = Desk::new(settings());
        desk.cycle = cycle.map(|(start_beats, end_beats)| Loop {
            start_beats,
            end_beats,
        });
        // More bars than are kept of those that are over.
        for bar in 0..20 {
            desk.play(4 * BEAT * bar + BEAT - desk.sample, 100);
            desk.player.letter_down(bar as usize % 2, 0, Quantise::Bar);
            desk.play(BEAT, 100);
            desk.player
                .letter_up((bar as usize + 1) % 2, 0, Quantise::Bar);
        }
        desk.play(4 * BEAT * 20 - desk.sample, 100);
        let want = |odd: bool, step: i64| -> Vec<i64> {
            let bars = (1..20).filter(|bar| (bar % 2 == 0) == odd);
            bars.flat_map(|bar| (4 * BEAT * bar..4 * BEAT * (bar + 1)).step_by(step as usize))
                .collect()
        };
        assert_eq!(desk.ons(70), want(false, BEAT / 2), "{cycle:?}");
        assert_eq!(desk.ons(71), want(true, BEAT), "{cycle:?}");
        assert_eq!(desk.ons(60), [0], "the form gave way: {cycle:?}");
    }
}

/// Letter 0 goes round in four beats with a buzz (key 72) on its last half beat,
/// letter 1 is one beat of nothing but a stroke (71); the form has a buzz (62) on
/// the last half of its four beats. Bounces are 30 ms apart, eight of them.
fn buzzing() -> Arc<Timeline> {
    let buzz = |lane: &mut Lane, note: Note| {
        lane.main.push(3.5, note);
        for track in &mut lane.bounces {
            track.push(3.5, note);
            track.room.push(1.0);
        }
    };
    let mut form = Lane::new(LaneRole::Form, Beats::whole(4));
    buzz(&mut form, note(62, Limb::LeftHand));
    let mut first = Lane::new(LaneRole::Letter(0), Beats::whole(4));
    buzz(&mut first, note(72, Limb::RightHand));
    let mut second = Lane::new(LaneRole::Letter(1), Beats::whole(1));
    second.main.push(0.0, note(71, Limb::RightHand));
    player_support::timeline(Beats::whole(4), vec![form, first, second])
}

#[test]
fn a_buzz_ends_where_another_letter_or_the_form_takes_over() {
    // Main stroke and bounces, 30 ms apart, before the bar line at beat `line`.
    let buzz = |line: i64, spacing: i64| -> Vec<i64> {
        let at = line * BEAT - BEAT / 2;
        (0..=BOUNCES as i64)
            .map(|n| at + n * spacing)
            .take_while(|at| *at < line * BEAT)
            .collect()
    };
    for (buzz_ms, spacing) in [(30.0, 1_440), (70.0, 3_360)] {
        let settings = Settings {
            buzz_ms,
            ..settings()
        };
        let begin = || {
            let mut desk = Desk::new(settings);
            desk.player.set_timeline(Some(buzzing()));
            desk.play(BEAT, 100);
            desk.player.letter_down(0, 0, Quantise::Bar);
            desk
        };
        // Another key in the middle of the buzz, and a third behind its end.
        let mut desk = begin();
        desk.play(8 * BEAT - BEAT / 4 - desk.sample, 100);
        desk.player.letter_down(1, 0, Quantise::Bar);
        desk.play(BEAT / 2, 100);
        desk.player.letter_down(0, 0, Quantise::Bar);
        desk.play(12 * BEAT - desk.sample, 100);
        assert_eq!(desk.ons(62), buzz(4, spacing), "the form's, {buzz_ms} ms");
        assert_eq!(desk.ons(72), buzz(8, spacing), "the first's, {buzz_ms} ms");
        assert_eq!(desk.ons(71), [8, 9, 10, 11].map(|n| n * BEAT));
        assert_eq!(desk.open(), 0);
        // The key goes up in the middle of the buzz.
        let mut desk = begin();
        desk.play(8 * BEAT - BEAT / 4 - desk.sample, 100);
        desk.player.letter_up(0, 0, Quantise::Bar);
        desk.play(11 * BEAT - desk.sample, 100);
        assert_eq!(desk.ons(72), buzz(8, spacing), "let go, {buzz_ms} ms");
        assert_eq!(desk.open(), 0);
    }
}

#[test]
fn stop_jump_silence_and_swap_leave_nothing_hanging() {
    let long = Settings {
        gate_ms: 5000.0,
        ..settings()
    };
    let mut desk = Desk::new(long);
    desk.play(100, 100);
    assert!(desk.open() > 0);
    desk.block(false, 10);
    assert_eq!(desk.open(), 0, "stop");
    desk.play(100, 100);
    desk.beats = 100.5;
    desk.block(true, 100);
    assert_eq!(desk.open(), 0, "jump");
    desk.beats = 0.0;
    desk.block(true, 100);
    desk.player.silence();
    desk.block(true, 100);
    assert_eq!(desk.open(), 0, "silence");
    desk.beats = 0.0;
    desk.block(true, 100);
    let open = desk.open();
    assert!(open > 0);
    assert!(desk.player.set_timeline(None).is_some());
    desk.play(6 * 48_000, 4096);
    assert_eq!(desk.open(), 0, "swap: notes end in their own time");
}

#[test]
fn a_swap_while_playing_neither_loses_nor_doubles() {
    let mut desk = Desk::new(settings());
    for _ in 0..(9 * BEAT / 240) {
        desk.play(240, 240);
        let old = desk.player.set_timeline(Some(timeline()));
        assert!(old.is_some());
    }
    let mut calm = Desk::new(settings());
    calm.play(9 * BEAT, 240);
    assert_eq!(desk.events, calm.events);
}

#[test]
fn the_playhead_is_in_the_form_and_folds_with_it() {
    let mut desk = Desk::new(settings());
    assert_eq!(desk.player.position_beats(), None);
    desk.play(5 * BEAT, 1000);
    let position = desk.player.position_beats().unwrap();
    assert!((position - 1.0).abs() < 1e-9, "{position}");
    desk.player.set_timeline(None);
    assert_eq!(desk.player.unwrapped_beats(), None);
}

#[test]
fn the_playhead_counts_from_the_form_s_start_in_the_form_s_beats() {
    let beats = |at: f64| {
        let mut desk = Desk::new(Settings {
            start_beats: 2.0,
            rate: Rate::Half,
            ..settings()
        });
        desk.beats = at;
        desk.block(true, 1);
        let beats = desk.player.unwrapped_beats();
        beats.map(|beats| (beats * 1e3).round() / 1e3)
    };
    assert_eq!(beats(1.0), None);
    assert_eq!(beats(2.0), Some(0.0));
    assert_eq!(beats(12.0), Some(5.0));
    // A beat in this many samples is exact: the playhead is on the form's first.
    let mut player = Player::new();
    player.set_sample_rate(32_768.0);
    player.set_timeline(Some(timeline()));
    let settings = Settings {
        start_beats: 2.0,
        ..settings()
    };
    player.process(&Transport::at(1.0, 60.0), &settings, 32_768, &mut |_| {});
    assert_eq!(player.unwrapped_beats(), Some(0.0));
}

/// The tempo that is told may be a little slow at a loop's end.
#[test]
fn a_loop_s_end_that_the_host_reaches_first_is_a_turn() {
    const FRAMES: u32 = 480;
    let mut desk = Desk::new(Settings {
        gate_ms: 50.0,
        ..settings()
    });
    desk.cycle = Some(Loop {
        start_beats: 0.0,
        end_beats: 2.0,
    });
    let turn = 50 * i64::from(FRAMES);
    let mut beats = 2.0 - (turn + 10) as f64 / BEAT as f64;
    while desk.sample < 3 * turn {
        if desk.sample == turn {
            beats = 14.0 / BEAT as f64;
        }
        desk.beats = beats;
        desk.block(true, FRAMES);
        beats += f64::from(FRAMES) / BEAT as f64;
    }
    assert_eq!(
        desk.ons(60),
        [turn, turn + 2 * BEAT - 14],
        "as soon as it can"
    );
    assert_eq!(desk.ons(36), [10, turn + BEAT - 14]);
    let off = |key: u8| {
        let end = |e: &&(i64, EventKind)| matches!(e.1, EventKind::Off(n) if n.key.number() == key);
        desk.events
            .iter()
            .filter(end)
            .map(|e| e.0)
            .collect::<Vec<_>>()
    };
    assert_eq!(off(60), [turn + 2_400], "and not cut short");
}

#[test]
fn a_letter_does_not_outlast_a_stop() {
    let mut desk = Desk::new(settings());
    desk.play(100, 100);
    desk.player.letter_down(0, 0, Quantise::Beat);
    desk.play(2 * BEAT, 500);
    assert_eq!(desk.player.live_letter(), Some(0));
    desk.block(false, 500);
    let from = desk.sample;
    desk.beats = 4.0;
    desk.play(2 * BEAT, 500);
    assert_eq!(desk.player.live_letter(), None);
    assert_eq!(desk.ons(60).last(), Some(&from));
}

#[test]
fn behind_a_loop_s_end_time_goes_on() {
    let cycle = Some(Loop {
        start_beats: 0.0,
        end_beats: 2.0,
    });
    for from in [2.0, 2.5] {
        let mut desk = Desk::new(settings());
        (desk.beats, desk.cycle) = (from, cycle);
        let left = ((3.5 - from) * BEAT as f64) as i64;
        while desk.sample < left {
            // The host does not turn either.
            let beats = desk.beats;
            desk.block(true, 500);
            desk.beats = beats + 500.0 / BEAT as f64;
        }
        let third = ((3.0 - from) * BEAT as f64) as i64;
        assert_eq!(desk.ons(44), [third], "from {from}");
        assert_eq!(desk.ons(60), [0; 0], "from {from}");
    }
}

#[test]
fn at_one_sample_the_form_comes_first() {
    let mut desk = Desk::new(Settings {
        mute: Mute::default(),
        ..settings()
    });
    desk.block(true, 64);
    let keys: Vec<u8> = desk
        .events
        .iter()
        .filter_map(|e| match e.1 {
            EventKind::On(n) => Some(n.key.number()),
            EventKind::Off(_) => None,
        })
        .collect();
    let order = |key| keys.iter().position(|k| *k == key);
    assert!(order(60) < order(44) && order(44) < order(33), "{keys:?}");
}

#[test]
fn a_bounce_gives_way_to_the_stroke_on_its_sample() {
    // A beat is 32,768 samples, and a quarter of it 250 ms, exactly.
    let mut form = Lane::new(LaneRole::Form, Beats::whole(2));
    form.main.push(0.0, note(62, Limb::LeftHand));
    form.main.push(1.0, note(60, Limb::RightHand));
    for track in &mut form.bounces {
        track.push(0.0, note(62, Limb::LeftHand));
        track.room.push(1.0);
    }
    let mut player = Player::new();
    player.set_sample_rate(32_768.0);
    player.set_timeline(Some(player_support::timeline(Beats::whole(2), vec![form])));
    let settings = Settings {
        buzz_ms: 250.0,
        ..settings()
    };
    let mut ons = vec![];
    player.process(&Transport::at(0.0, 60.0), &settings, 65_536, &mut |e| {
        if let EventKind::On(n) = e.kind {
            ons.push((e.offset, n.key.number()));
        }
    });
    let quarter = |n: u32| (n * 8_192, 62);
    assert_eq!(
        ons,
        [quarter(0), quarter(1), quarter(2), quarter(3), (32_768, 60)]
    );
}

#[test]
fn nonsense_from_a_host_is_silence() {
    let mut desk = Desk::new(settings());
    for (position_beats, tempo_bpm) in [
        (f64::NAN, 120.0),
        (f64::INFINITY, 120.0),
        (1e300, 120.0),
        (0.0, 0.0),
        (0.0, -5.0),
        (0.0, f64::NAN),
    ] {
        let t = Transport {
            playing: true,
            position_beats: Some(position_beats),
            song_samples: None,
            tempo_bpm,
            cycle: None,
        };
        desk.player
            .process(&t, &desk.settings, 512, &mut |_| panic!("no event"));
        assert_eq!(desk.player.unwrapped_beats(), None);
    }
    for (start_beats, end_beats) in [(2.0, 2.0), (3.0, 1.0), (f64::NAN, 1.0), (0.0, 1e-12)] {
        desk.cycle = Some(Loop {
            start_beats,
            end_beats,
        });
        let from = end_beats - 0.1;
        desk.beats = from;
        desk.block(false, 64);
        desk.beats = from;
        desk.block(true, 8192);
        let now = from + 8192.0 / BEAT as f64;
        let heard = desk
            .player
            .unwrapped_beats()
            .filter(|beats| (beats - now).abs() < 1e-9);
        assert!(heard.is_some(), "{start_beats} to {end_beats} is no loop");
    }
}

#[test]
fn own_clock_runs_to_the_sample_through_tempo_changes() {
    let mut clock = OwnClock::default();
    clock.start_at(3.0);
    assert_eq!(clock.position_beats(), 3.0, "before the first block");
    let mut clock = OwnClock::default();
    assert!(!clock.advance(64, 120.0, RATE_HZ).playing);
    assert!(!clock.is_running());
    clock.start_at(0.0);
    assert!(clock.is_running());
    for _ in 0..1000 {
        clock.advance(480, 120.0, RATE_HZ);
    }
    assert!((clock.position_beats() - 20.0).abs() < 1e-12);
    for _ in 0..1000 {
        clock.advance(480, 90.0, RATE_HZ);
    }
    assert!((clock.position_beats() - 35.0).abs() < 1e-12);
    // No rounding adds up, however many blocks it takes.
    let mut long = OwnClock::default();
    long.start_at(0.1);
    for _ in 0..100_000 {
        long.advance(7, 91.0, 44_100.0);
    }
    let slope = 91.0 / (60.0 * 44_100.0);
    assert_eq!(long.position_beats(), 0.1 + 700_000.0 * slope);
    clock.advance(0, 90.0, 2.0 * RATE_HZ);
    assert!(
        (clock.position_beats() - 35.0).abs() < 1e-12,
        "another rate"
    );
    clock.advance(0, 90.0, RATE_HZ);
    clock.stop();
    assert!(!clock.advance(480, 90.0, RATE_HZ).playing);
    assert!((clock.position_beats() - 35.0).abs() < 1e-12);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    /// A key goes up that was not down: all is looked up anew, and as it was.
    #[test]
    fn looking_all_up_anew_changes_nothing(
        frames in proptest::collection::vec(prop_oneof![1u32..60, 60u32..3_000], 1..9),
        asks in proptest::collection::vec(any::<bool>(), 1..20),
        length in prop_oneof![0.01f64..0.2, 0.2f64..5.0],
        start in prop_oneof![Just(0.0), 0.0f64..3.0],
        (from, rate, looped) in (0.0f64..6.0, 0usize..3, any::<bool>()),
    ) {
        let settings = Settings {
            rate: [Rate::Half, Rate::Normal, Rate::Double][rate],
            start_beats: start,
            mute: Mute::default(),
            ..settings()
        };
        let play = |anew: bool| {
            let mut desk = Desk::new(settings);
            desk.beats = from;
            desk.cycle = looped.then_some(Loop {
                start_beats: from,
                end_beats: from + length,
            });
            let mut asks = asks.iter().cycle();
            for frames in frames.iter().cycle().take(400) {
                if anew && *asks.next().unwrap() {
                    desk.player.letter_up(1, 0, Quantise::Beat);
                }
                desk.block(true, *frames);
                if let Some(cycle) = desk.cycle {
                    // A block may be longer than the loop.
                    desk.beats = from + (desk.beats - from).rem_euclid(cycle.end_beats - from);
                }
            }
            let mut events: Vec<_> = desk.events.iter().map(|e| (e.0, format!("{:?}", e.1))).collect();
            events.sort();
            events
        };
        prop_assert_eq!(play(true), play(false));
    }

    /// However the host cuts its blocks, the same comes out.
    #[test]
    fn block_sizes_do_not_matter(
        cuts in proptest::collection::vec(prop_oneof![1u32..8, 1u32..700, 1u32..8193], 1..200),
        from in 0.0f64..4.0,
        looped in any::<bool>(),
    ) {
        let cycle = looped.then_some(Loop { start_beats: 0.25, end_beats: 3.6 });
        let mut cut = Desk::new(Settings { mute: Mute::default(), ..settings() });
        cut.beats = from.min(3.0);
        cut.cycle = cycle;
        for frames in &cuts {
            cut.block(true, *frames);
        }
        let mut whole = Desk::new(Settings { mute: Mute::default(), ..settings() });
        whole.beats = from.min(3.0);
        whole.cycle = cycle;
        whole.play(cut.sample, 4096);
        prop_assert_eq!(cut.events, whole.events);
    }
}
