//! What is heard by itself: to the sample against a calculation of our own.

mod rig;

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;
use std::sync::Arc;

use barform::audition::{Audition, Heard};
use barform_core::timeline::{LaneRole, Note as Struck, Timeline};
use nice_plug::midi::Key;
use nice_plug::prelude::*;
use proptest::prelude::*;
use rig::{Note, RATE_HZ, Rig, off, on};

thread_local! {
    static CALLS: Cell<usize> = const { Cell::new(0) };
}

/// Counts what each thread asks of the system's allocator.
struct Counting;

fn count() {
    // A thread that is ending has no counter any more, and none is needed.
    let _ = CALLS.try_with(|calls| calls.set(calls.get() + 1));
}

// SAFETY: every call goes on unchanged to the system's allocator.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        count();
        // SAFETY: the caller's promises are passed on.
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, at: *mut u8, layout: Layout) {
        count();
        // SAFETY: the caller's promises are passed on.
        unsafe { System.dealloc(at, layout) }
    }

    unsafe fn realloc(&self, at: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        count();
        // SAFETY: the caller's promises are passed on.
        unsafe { System.realloc(at, layout, size) }
    }
}

#[global_allocator]
static ALLOCATOR: Counting = Counting;

/// A cell of even strokes on one voice: so many a beat, over so many beats.
fn even(voice: &str, per_beat: u64, beats: u64) -> Arc<Timeline> {
    let spans = vec![per_beat.to_string(); beats as usize].join(" ");
    let strokes = ["R"].repeat((per_beat * beats) as usize).join(" ");
    timeline(&format!(
        "grid = \"{spans}\"\nsticking = \"{strokes}\"\nvoices = \"{voice}{}\"",
        " .".repeat((per_beat * beats - 1) as usize)
    ))
}

fn timeline(cell: &str) -> Arc<Timeline> {
    let text =
        format!("barform = 1\nmeter = \"4/4\"\ntempo = 90\nform = \"A\"\n[cell.A]\n{cell}\n");
    barform::state::check(&text, "test").unwrap().timeline
}

/// Acoustic snare in the General MIDI Level 1 percussion key map (MIDI
/// Association).
const SNARE: u8 = 38;

fn key_of(timeline: &Timeline) -> u8 {
    timeline.form().main.notes[0].key.number()
}

fn audition(rig: &Rig) -> &Audition {
    &rig.plugin.session().audition
}

/// The nearest sample to a moment of `numerator / denominator` beats, ties up.
fn sample(numerator: u64, denominator: u64, bpm: u64) -> u64 {
    let rate = RATE_HZ as u64;
    (2 * 60 * rate * numerator + denominator * bpm) / (2 * denominator * bpm)
}

/// Plays so many samples in blocks of the sizes given, round and round. Returns
/// time, whether on, and key of each note that came out.
fn play(rig: &mut Rig, samples: u64, blocks: &[usize]) -> Vec<(u64, bool, u8)> {
    let (mut done, mut notes) = (0, Vec::new());
    for block in blocks.iter().cycle() {
        let frames = (*block as u64).min(samples - done);
        if frames == 0 {
            break;
        }
        let out = rig.block(frames as usize, vec![]);
        notes.extend(out.iter().filter_map(|event| note(done, event)));
        done += frames;
    }
    notes
}

fn note(start: u64, event: &Note) -> Option<(u64, bool, u8)> {
    match *event {
        NoteEvent::NoteOn {
            timing,
            key: Key::Number(key),
            ..
        } => Some((start + u64::from(timing), true, key)),
        NoteEvent::NoteOff {
            timing,
            key: Key::Number(key),
            ..
        } => Some((start + u64::from(timing), false, key)),
        _ => None,
    }
}

fn ons_of(notes: &[(u64, bool, u8)], key: u8) -> Vec<u64> {
    let on = notes.iter().filter(|n| n.1 && n.2 == key);
    on.map(|n| n.0).collect()
}

/// Each note-on has one note-off, before the next note-on of its key; returns
/// how many are left sounding.
fn left_sounding(notes: &[(u64, bool, u8)]) -> usize {
    let mut sounding = std::collections::HashSet::new();
    for (at, on, key) in notes {
        if *on {
            assert!(sounding.insert(*key), "{key} struck twice, at {at}");
        } else {
            assert!(sounding.remove(key), "{key} ends nothing, at {at}");
        }
    }
    sounding.len()
}

/// The ways in which time may pass for the form meanwhile.
fn rigs() -> Vec<Rig> {
    let standing = Rig::new(PluginApi::Clap);
    let own = Rig::new(PluginApi::Standalone);
    own.set("own_run", 1.0);
    vec![standing, Rig::rolling(), own]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn each_stroke_is_on_its_nearest_sample_round_and_round(
        per_beat in 1u64..13,
        beats in 1u64..4,
        bpm in 20u64..401,
        blocks in prop::collection::vec(1usize..3_000, 1..8),
        before in 0u64..2_000,
    ) {
        let cell = even("tom1", per_beat, beats);
        let key = key_of(&cell);
        let samples = sample(3 * beats, 1, bpm).min(400_000);
        for mut rig in rigs() {
            rig.set("sound", 0.0);
            // The form has no toms in its way.
            let form = barform::state::check(FORM, "test").unwrap();
            rig.plugin.session().accept(form, "Test", None);
            play(&mut rig, before, &blocks);
            audition(&rig).play(cell.clone(), bpm as f64, false);
            let notes = play(&mut rig, samples, &blocks);
            let expected = (0..).map(|n| sample(n, per_beat, bpm));
            let expected: Vec<u64> = expected.take_while(|at| *at < samples).collect();
            prop_assert_eq!(ons_of(&notes, key), expected);
        }
    }
}

/// One stroke of the snare a beat.
const FORM: &str = "barform = 1\nmeter = \"4/4\"\ntempo = 90\nform = \"A\"\n\
                    [cell.A]\ngrid = \"1\"\nsticking = \"R\"\n";

fn over_form(mut rig: Rig) -> Rig {
    let form = barform::state::check(FORM, "test").unwrap();
    rig.plugin.session().accept(form, "Test", None);
    rig.block(1, vec![]);
    rig
}

#[test]
fn every_note_has_the_set_length_and_ends_once() {
    let mut rig = Rig::new(PluginApi::Clap);
    let cell = even("tom1", 2, 1);
    audition(&rig).play(cell.clone(), 120.0, false);
    // 60 ms at the start: 2880 samples.
    let notes = play(&mut rig, 30_000, &[333]);
    let expected: Vec<_> = [0, 12_000, 24_000]
        .into_iter()
        .flat_map(|at| {
            [
                (at, true, key_of(&cell)),
                (at + 2_880, false, key_of(&cell)),
            ]
        })
        .collect();
    assert_eq!(notes, expected);
}

#[test]
fn the_form_is_played_as_if_nothing_else_were_heard() {
    for api in [PluginApi::Clap, PluginApi::Standalone] {
        let make = || {
            let mut rig = Rig::rolling();
            if api == PluginApi::Standalone {
                rig = Rig::new(api);
                rig.set("own_run", 1.0);
            }
            over_form(rig)
        };
        let (mut with, mut without) = (make(), make());
        audition(&with).play(even("tom1", 7, 1), 131.0, true);
        let cell = key_of(&even("tom1", 7, 1));
        let form_of = |notes: Vec<(u64, bool, u8)>| -> Vec<_> {
            notes.into_iter().filter(|n| n.2 == SNARE).collect()
        };
        let both = play(&mut with, 200_000, &[500, 64, 1]);
        assert!(ons_of(&both, cell).len() > 50);
        assert!(both.is_sorted_by_key(|n| n.0), "in order of time");
        let alone = play(&mut without, 200_000, &[500, 64, 1]);
        assert_eq!(form_of(both), alone);
        let live = [&with, &without].map(|rig| rig.plugin.session().live.read());
        assert_eq!(live[0], live[1]);
        // Afterwards as well, other notes included.
        audition(&with).stop();
        play(&mut with, 500, &[500]);
        play(&mut without, 500, &[500]);
        let (with, without) = (
            play(&mut with, 100_000, &[500]),
            play(&mut without, 100_000, &[500]),
        );
        assert_eq!(with, without);
    }
}

#[test]
fn a_key_that_both_strike_ends_before_it_is_struck_again() {
    let mut rig = over_form(Rig::rolling());
    rig.set("note_ms", 1.0);
    let cell = even("snare", 5, 2);
    assert_eq!(key_of(&cell), SNARE);
    audition(&rig).play(cell, 171.0, false);
    let mut notes = play(&mut rig, 500_000, &[441, 1_000]);
    let struck = ons_of(&notes, SNARE).len();
    assert!(struck > 150, "{struck}");
    audition(&rig).stop();
    rig.host.transport.playing = false;
    let end = play(&mut rig, 100, &[100]);
    notes.extend(end.into_iter().map(|n| (500_000 + n.0, n.1, n.2)));
    // One note of the form is from before.
    if notes.first().is_some_and(|n| !n.1) {
        notes.remove(0);
    }
    assert_eq!(left_sounding(&notes), 0);
}

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
fn a_second_start_begins_at_the_beginning_even_within_a_block() {
    let mut rig = Rig::new(PluginApi::Clap);
    let (first, second) = (even("tom1", 1, 4), even("tom2", 1, 4));
    audition(&rig).play(first.clone(), 120.0, false);
    play(&mut rig, 30_000, &[500]);
    audition(&rig).stop();
    audition(&rig).play(second.clone(), 60.0, false);
    let notes = play(&mut rig, 100_000, &[500]);
    assert_eq!(ons_of(&notes, key_of(&second)), [0, 48_000, 96_000]);
    assert!(ons_of(&notes, key_of(&first)).is_empty());
    // The same again, with nothing else changed.
    audition(&rig).play(second.clone(), 60.0, false);
    let notes = play(&mut rig, 50_000, &[500]);
    assert_eq!(ons_of(&notes, key_of(&second)), [0, 48_000]);
}

#[test]
fn a_swap_goes_on_from_where_it_is() {
    // Three beats of 24,000 samples; the swap falls in the second round.
    let mut rig = Rig::new(PluginApi::Clap);
    audition(&rig).play(even("tom1", 1, 3), 120.0, false);
    play(&mut rig, 100_000, &[500]);
    // 100,000 samples are 4 1/6 beats: a sixth into the second beat.
    let other = even("tom2", 3, 3);
    audition(&rig).swap(other.clone());
    let notes = play(&mut rig, 20_000, &[500]);
    // The next third of a beat is at 4 1/3, and the one after at 4 2/3.
    assert_eq!(ons_of(&notes, key_of(&other)), [4_000, 12_000]);
    let at = audition(&rig).position_beats().unwrap();
    assert!((at - 2.0).abs() < 1e-9, "{at}");
}

#[test]
fn a_swap_for_another_length_keeps_the_place_in_the_round() {
    let mut rig = Rig::new(PluginApi::Clap);
    audition(&rig).play(even("tom1", 1, 3), 120.0, false);
    play(&mut rig, 100_000, &[500]);
    // Longer: 1 1/6 beats into the round, so four beats end 68,000 later.
    let longer = timeline("grid = \"1 1 1 1\"\nsticking = \"R - - -\"\nvoices = \"tom2 - - -\"");
    audition(&rig).swap(longer.clone());
    let notes = play(&mut rig, 80_000, &[500]);
    assert_eq!(ons_of(&notes, key_of(&longer)), [68_000]);
    // Shorter: half a beat into the round, so the one beat ends 12,000 later.
    let shorter = even("tom1", 1, 1);
    audition(&rig).swap(shorter.clone());
    let notes = play(&mut rig, 40_000, &[500]);
    assert_eq!(ons_of(&notes, key_of(&shorter)), [12_000, 36_000]);
    // A place behind the end of the shorter one is a place in a later round.
    audition(&rig).play(even("tom1", 1, 4), 120.0, false);
    play(&mut rig, 60_000, &[500]);
    audition(&rig).swap(shorter.clone());
    let notes = play(&mut rig, 20_000, &[500]);
    assert_eq!(ons_of(&notes, key_of(&shorter)), [12_000]);
}

#[test]
fn a_swap_while_nothing_plays_starts_nothing() {
    let mut rig = Rig::new(PluginApi::Clap);
    audition(&rig).swap(even("tom1", 1, 1));
    assert!(play(&mut rig, 50_000, &[512]).is_empty());
}

#[test]
fn the_tempo_is_followed_and_kept_within_its_bounds() {
    let mut rig = Rig::new(PluginApi::Clap);
    let cell = even("tom1", 1, 2);
    audition(&rig).play(cell.clone(), 120.0, false);
    play(&mut rig, 12_000, &[500]);
    // Half a beat is left; at 60 it takes 24,000 samples.
    audition(&rig).set_tempo(60.0);
    let notes = play(&mut rig, 80_000, &[500]);
    assert_eq!(ons_of(&notes, key_of(&cell)), [24_000, 72_000]);
    audition(&rig).set_tempo(f64::NAN);
    audition(&rig).set_tempo(1e9);
    let notes = play(&mut rig, 80_000, &[500]);
    let gaps = ons_of(&notes, key_of(&cell));
    // 400 a minute: 7,200 samples.
    assert!(gaps.windows(2).all(|w| w[1] - w[0] == 7_200), "{gaps:?}");
}

#[test]
fn a_click_goes_along_if_asked_for() {
    let mut rig = Rig::new(PluginApi::Clap);
    let cell = timeline("grid = \"1 1 1 1\"\nsticking = \"R - - -\"");
    let click = cell
        .lanes
        .iter()
        .find(|lane| lane.role == LaneRole::Click)
        .unwrap();
    let keys: Vec<u8> = click.main.notes.iter().map(|n| n.key.number()).collect();
    audition(&rig).play(cell, 120.0, false);
    let clicks = |notes: &[(u64, bool, u8)]| -> Vec<u64> {
        let on = notes.iter().filter(|n| n.1 && keys.contains(&n.2));
        on.map(|n| n.0).collect()
    };
    assert!(clicks(&play(&mut rig, 90_000, &[500])).is_empty());
    audition(&rig).set_click(true);
    assert_eq!(
        clicks(&play(&mut rig, 60_000, &[500])),
        [6_000, 30_000, 54_000]
    );
}

/// A stroke as the kit page sounds it.
fn struck() -> Struck {
    even("tom1", 1, 1).form().main.notes[0]
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
    let mut rig = Rig::rolling();
    rig.count = || CALLS.get();
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
    assert_eq!(rig.counted, 0);
    // The counter does count.
    let here = CALLS.get();
    drop(std::hint::black_box(vec![0_u8; 1000]));
    assert_eq!(CALLS.get(), here + 2);
}
