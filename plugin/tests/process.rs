//! One block after the other through the plugin, with a host that records what
//! it is sent.

mod rig;

use barform::handover::{Clock, Live};
use nice_plug::prelude::*;
use rig::{Rig, off, offs, on, ons};

#[test]
fn the_form_sounds_in_the_hosts_time() {
    let mut rig = Rig::rolling();
    let first = rig.block(512, vec![]);
    assert!(
        matches!(first[0], NoteEvent::NoteOn { timing: 0, .. }),
        "the first stroke is at once"
    );
    assert!(rig.peak > 0.0, "and heard");
}

#[test]
fn what_comes_in_goes_out_in_order_with_ours() {
    let mut rig = Rig::rolling();
    let cc = NoteEvent::MidiCC {
        timing: 100,
        channel: 9,
        cc: 4,
        value: 0.25,
    };
    let out = rig.block(8_192, vec![on(0, 60), cc, on(5_000, 61), off(8_191, 60)]);
    let times: Vec<u32> = out.iter().map(NoteEvent::timing).collect();
    assert!(times.is_sorted(), "{times:?}");
    for came_in in [on(0, 60), cc, on(5_000, 61), off(8_191, 60)] {
        assert_eq!(
            out.iter().filter(|e| **e == came_in).count(),
            1,
            "{came_in:?}"
        );
    }
    assert_eq!(
        out[0],
        on(0, 60),
        "at the same sample, what comes in goes first"
    );
}

#[test]
fn a_letter_key_is_played_and_not_passed_on() {
    let mut rig = Rig::rolling();
    rig.block(512, vec![]);
    let out = rig.block(512, vec![on(10, 85)]);
    assert!(!out.contains(&on(10, 85)));
    // Letter B starts at the next bar line, two seconds from the start.
    while rig.now < 96_512 {
        rig.block(512, vec![]);
    }
    assert_eq!(rig.plugin.session().live.read().letter, Some(1));
    let out = rig.block(512, vec![off(0, 85)]);
    assert!(!out.contains(&off(0, 85)));
}

#[test]
fn with_letter_keys_off_every_key_passes_through() {
    let mut rig = Rig::rolling();
    rig.set("keys", 0.0);
    assert!(rig.block(512, vec![on(10, 85)]).contains(&on(10, 85)));
    // Switching them on meanwhile must not swallow the key's end.
    rig.set("keys", 1.0);
    assert!(rig.block(512, vec![off(10, 85)]).contains(&off(10, 85)));
}

#[test]
fn bypass_ends_the_notes_and_lets_through_what_comes_in() {
    let mut rig = Rig::rolling();
    let before = rig.block(512, vec![]);
    assert!(ons(&before) > offs(&before));
    rig.set("bypass", 1.0);
    let out = rig.block(512, vec![on(3, 85)]);
    assert_eq!(ons(&before), offs(&before) + offs(&out));
    assert!(out.contains(&on(3, 85)));
    for _ in 0..4 {
        rig.block(512, vec![]);
    }
    assert_eq!(rig.peak, 0.0, "and the kit is silent");
}

#[test]
fn stopping_the_host_ends_the_notes() {
    let mut rig = Rig::rolling();
    let before = rig.block(512, vec![]);
    rig.host.transport.playing = false;
    let out = rig.block(512, vec![]);
    assert_eq!(ons(&before), offs(&before) + offs(&out));
}

#[test]
fn a_note_off_that_found_no_room_comes_later() {
    let mut rig = Rig::rolling();
    let before = rig.block(512, vec![]);
    rig.host.transport.playing = false;
    rig.host.room = 0;
    assert!(rig.block(512, vec![]).is_empty());
    rig.host.room = usize::MAX;
    let out = rig.block(512, vec![]);
    assert_eq!(ons(&before), offs(&before) + offs(&out));
}

#[test]
fn without_a_position_the_own_clock_rules_and_waits_to_be_started() {
    let mut rig = Rig::new(PluginApi::Clap);
    rig.host.transport.playing = true;
    assert!(rig.block(512, vec![]).is_empty());
    assert_eq!(rig.plugin.session().live.read().clock, Clock::OwnForWant);
    rig.set("own_run", 1.0);
    assert_eq!(ons(&rig.block(512, vec![])), 1);
    assert!(rig.plugin.session().live.read().rolling);
}

#[test]
fn the_own_clock_stands_goes_on_and_goes_back() {
    let mut rig = Rig::new(PluginApi::Standalone);
    let live = rig.plugin.session().live.clone();
    rig.set("own_run", 1.0);
    for _ in 0..100 {
        rig.block(512, vec![]);
    }
    // 51,200 samples at 92 BPM and 48 kHz.
    let expected = 51_200.0 / 48_000.0 * 92.0 / 60.0;
    let read = |live: &Live| live.read().position_beats.unwrap();
    assert!((read(&live) - expected).abs() < 1e-9);
    rig.set("own_run", 0.0);
    rig.block(512, vec![]);
    let stood = read(&live);
    rig.block(512, vec![]);
    assert_eq!(read(&live), stood, "it stands");
    rig.set("own_run", 1.0);
    rig.block(512, vec![]);
    assert!(
        read(&live) > stood && read(&live) < stood + 0.1,
        "it goes on from there"
    );
    live.locate(0.0);
    rig.block(512, vec![]);
    assert!(read(&live) < 0.1, "it goes back");
}

#[test]
fn a_score_accepted_meanwhile_plays_from_the_next_block() {
    let mut rig = Rig::rolling();
    rig.set("sound", 0.0);
    rig.block(512, vec![]);
    let text = "barform = 1\nmeter = \"4/4\"\ntempo = 90\nform = \"A\"\n\
                [cell.A]\ngrid = \"64\"\nsticking = \"";
    let text = text.to_owned() + &"R ".repeat(64) + "\"\n";
    let checked = barform::state::check(&text, "test").unwrap();
    rig.plugin.session().accept(checked, "Typing", None);
    // 64 strokes a beat are one every 375 samples.
    assert_eq!(ons(&rig.block(3_750, vec![])), 10);
    assert_eq!(rig.peak, 0.0, "with the sound off only notes go out");
}
