//! What is heard by itself beside all else: its end, single strokes, notes that
//! come in, bypass, and no allocation.

mod rig;

use barform::audition::Heard;
use nice_plug::prelude::*;
use rig::aside::{
    FORM, SNARE, audition, even, key_of, left_sounding, ons_of, over_form, play, rigs, sample,
    struck, timeline,
};
use rig::{Rig, off, on};

#[test]
fn stop_ends_its_notes_and_its_position() {
    let mut rig = Rig::new(PluginApi::Clap);
    audition(&rig).play(even("tom1", 4, 1), 100.0, true);
    let mut notes = play(&mut rig, 100, &[100]);
    assert_eq!(left_sounding(&notes), 2, "the stroke and the click");
    assert!(audition(&rig).is_playing());
    assert!(audition(&rig).position_beats().is_some());
    audition(&rig).stop();
    let end = play(&mut rig, 100, &[100]);
    assert!(end.iter().all(|n| n.0 == 0 && !n.1));
    notes.extend(end);
    assert_eq!(left_sounding(&notes), 0);
    assert_eq!(audition(&rig).position_beats(), None);
    assert!(play(&mut rig, 100_000, &[512]).is_empty());
    assert!(!audition(&rig).is_playing());
}

#[test]
fn a_stroke_sounds_at_the_start_of_the_block_for_the_set_length() {
    for mut rig in rigs() {
        let key = struck().key.number();
        rig.plugin
            .session()
            .accept(barform::state::check(FORM, "test").unwrap(), "Test", None);
        play(&mut rig, 40_000, &[500]);
        audition(&rig).strike(struck());
        let notes = play(&mut rig, 5_000, &[500]);
        let own: Vec<_> = notes.iter().filter(|n| n.2 == key).collect();
        assert_eq!(own, [&(0, true, key), &(2_880, false, key)]);
        assert_eq!(audition(&rig).position_beats(), None);
    }
    let mut rig = Rig::new(PluginApi::Clap);
    let key = struck().key.number();
    rig.set("note_ms", 0.0);
    audition(&rig).strike(struck());
    // 5 ms, the least.
    assert_eq!(
        play(&mut rig, 500, &[500]),
        [(0, true, key), (240, false, key)]
    );
    assert!(rig.peak > 0.0, "the kit sounds it");
    rig.block(100, vec![]);
}

#[test]
fn a_stroke_beside_what_is_heard_leaves_that_in_time() {
    let mut rig = Rig::new(PluginApi::Clap);
    let cell = even("tom2", 1, 2);
    audition(&rig).play(cell.clone(), 120.0, false);
    let mut notes = Vec::new();
    for block in 0..100 {
        if block % 9 == 0 {
            audition(&rig).strike(struck());
        }
        let out = play(&mut rig, 500, &[500]);
        notes.extend(out.into_iter().map(|n| (block * 500 + n.0, n.1, n.2)));
    }
    assert_eq!(ons_of(&notes, key_of(&cell)), [0, 24_000, 48_000]);
    assert_eq!(ons_of(&notes, struck().key.number()).len(), 12);
    audition(&rig).stop();
    notes.extend(
        play(&mut rig, 5_000, &[500])
            .into_iter()
            .map(|n| (50_000 + n.0, n.1, n.2)),
    );
    assert_eq!(left_sounding(&notes), 0);
}

#[test]
fn with_the_kit_off_only_notes_go_out() {
    let mut rig = Rig::new(PluginApi::Clap);
    rig.set("sound", 0.0);
    audition(&rig).play(even("tom1", 4, 1), 120.0, false);
    audition(&rig).strike(struck());
    for _ in 0..20 {
        rig.block(500, vec![]);
        assert_eq!(rig.peak, 0.0);
    }
}

#[test]
fn notes_that_come_in_are_heard_with_the_place_they_fell_on_and_pass_through() {
    let mut rig = Rig::new(PluginApi::Clap);
    rig.block(512, vec![on(3, 60)]);
    assert_eq!(audition(&rig).heard(), None, "nobody listens");
    audition(&rig).listen(true);
    let out = rig.block(512, vec![on(3, 60), off(9, 60)]);
    assert!(out.contains(&on(3, 60)) && out.contains(&off(9, 60)));
    let heard = |beats| Heard {
        key: 60,
        channel: 9,
        velocity: 0.5,
        beats,
    };
    assert_eq!(audition(&rig).heard(), Some(heard(None)));
    assert_eq!(audition(&rig).heard(), None);

    // Two beats of 24,000 samples: sample 52,100 is 4,100 into the second round.
    audition(&rig).play(even("tom1", 1, 2), 120.0, false);
    play(&mut rig, 52_000, &[500]);
    let out = rig.block(500, vec![on(100, 60)]);
    assert!(out.contains(&on(100, 60)));
    let beats = audition(&rig).heard().unwrap().beats.unwrap();
    assert!((beats - 4_100.0 / 24_000.0).abs() < 1e-9, "{beats}");
    // In the very block in which it starts, too.
    audition(&rig).play(even("tom1", 1, 2), 120.0, false);
    rig.block(500, vec![on(240, 60)]);
    let beats = audition(&rig).heard().unwrap().beats.unwrap();
    assert!((beats - 0.01).abs() < 1e-9, "{beats}");
    // A key that plays a letter is heard as well.
    rig.block(500, vec![on(10, 85)]);
    assert_eq!(audition(&rig).heard().unwrap().key, 85);
    rig.block(500, vec![on(10, 60)]);
    audition(&rig).listen(false);
    assert_eq!(audition(&rig).heard(), None, "what waited is dropped");
}

#[test]
fn bypass_silences_it_and_it_starts_anew_afterwards() {
    let mut rig = Rig::new(PluginApi::Clap);
    let cell = even("tom1", 1, 2);
    audition(&rig).play(cell.clone(), 120.0, false);
    let mut notes = play(&mut rig, 100, &[100]);
    rig.set("bypass", 1.0);
    audition(&rig).strike(struck());
    notes.extend(play(&mut rig, 60_000, &[500]));
    assert_eq!(notes.len(), 2, "{notes:?}");
    assert_eq!(left_sounding(&notes), 0);
    assert_eq!(audition(&rig).position_beats(), None);
    assert_eq!(rig.peak, 0.0);
    rig.set("bypass", 0.0);
    let notes = play(&mut rig, 50_000, &[500]);
    assert_eq!(ons_of(&notes, key_of(&cell)), [0, 24_000, 48_000]);
}

#[test]
fn more_notes_than_there_is_room_for_are_played_all_the_same() {
    // Two limbs on 1,024 slots a beat at 400 beats a minute, in the longest
    // block: more than 4,000 events.
    let mut rig = over_form(Rig::rolling());
    rig.set("note_ms", 0.0);
    let strokes = ["R+K"].repeat(64).join(" ");
    let cell = timeline(&format!("grid = \"64@1/16\"\nsticking = \"{strokes}\""));
    let kick = cell.form().main.notes.iter().map(|n| n.key.number());
    let kick = kick.max_by_key(|key| *key != SNARE).unwrap();
    audition(&rig).play(cell, 400.0, false);
    let mut notes = play(&mut rig, 8_192, &[8_192]);
    let expected: Vec<u64> = (0..)
        .map(|n| sample(n, 1_024, 400))
        .take_while(|at| *at < 8_192)
        .collect();
    assert_eq!(ons_of(&notes, kick), expected);
    audition(&rig).stop();
    rig.host.transport.playing = false;
    notes.extend(play(&mut rig, 500, &[500]));
    notes.retain(|n| n.2 == kick);
    assert_eq!(left_sounding(&notes), 0);
}

#[test]
fn playing_by_itself_neither_allocates_nor_frees() {
    // The rig aborts where one does, in a build with the framework's check.
    let mut rig = Rig::rolling();
    let cells = [even("tom1", 6, 2), even("snare", 5, 3), even("tom2", 1, 1)];
    for round in 0..60 {
        let cell = cells[round % 3].clone();
        match round % 5 {
            0 => audition(&rig).play(cell, 100.0 + round as f64, round % 2 == 0),
            1 | 2 => audition(&rig).swap(cell),
            3 => audition(&rig).strike(struck()),
            _ => audition(&rig).stop(),
        }
        audition(&rig).listen(round % 4 != 0);
        for _ in 0..20 {
            rig.block(700, vec![on(5, 60), off(30, 60)]);
        }
        rig.plugin.session().prune();
    }
}
