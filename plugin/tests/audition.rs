//! What is heard by itself: to the sample against a calculation of our own.

mod rig;

use barform_app::timeline::LaneRole;
use nice_plug::prelude::*;
use proptest::prelude::*;
use rig::Rig;
use rig::aside::{
    FORM, SNARE, audition, even, key_of, left_sounding, ons_of, over_form, play, rigs, sample,
    timeline,
};

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
