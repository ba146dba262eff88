//! One block after the other through the plugin, with a host that records what
//! it is sent.

mod rig;

use barform::handover::{Clock, Live};
use nice_plug::midi::{Channel, Key, VoiceID};
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

/// Whether a letter sounds at the end of the bar after the one that `rig` is in.
fn letter_sounds_a_bar_on(rig: &mut Rig) -> bool {
    // A bar of 4/4 at 120 BPM and 48 kHz.
    let until = (rig.now / 96_000 + 2) * 96_000;
    while rig.now < until {
        rig.block(500, vec![]);
    }
    rig.plugin.session().live.read().letter.is_some()
}

#[test]
fn an_end_of_all_notes_ends_a_letter_too() {
    let (voice_id, key) = (VoiceID::Wildcard, Key::Wildcard);
    let off = |voice_id, channel| NoteEvent::NoteOff {
        timing: 7,
        voice_id,
        channel,
        key,
        velocity: 0.0,
    };
    let choke = |channel| NoteEvent::Choke {
        timing: 7,
        voice_id,
        channel,
        key,
    };
    // All sound off and all notes off: channel mode messages of MIDI 1.0 (MIDI
    // Association).
    let mode = |cc| NoteEvent::MidiCC {
        timing: 7,
        channel: 9,
        cc,
        value: 0.0,
    };
    // What comes in, whether it ends a letter held on channel 9, and whether it
    // goes out to whoever else it is for.
    for (event, ends, passes) in [
        (off(voice_id, Channel::Wildcard), true, true),
        (off(voice_id, Channel::Number(9)), true, true),
        (off(voice_id, Channel::Number(3)), false, true),
        (off(VoiceID::ID(5), Channel::Wildcard), true, false),
        (off(VoiceID::ID(6), Channel::Wildcard), false, true),
        (choke(Channel::Wildcard), true, true),
        (choke(Channel::Number(9)), true, true),
        (mode(120), true, true),
        (mode(123), true, true),
        (mode(64), false, true),
    ] {
        let mut rig = Rig::rolling();
        rig.block(500, vec![]);
        let mut press = on(10, 85);
        if let NoteEvent::NoteOn { voice_id, .. } = &mut press {
            *voice_id = VoiceID::ID(5);
        }
        rig.block(500, vec![press]);
        assert!(letter_sounds_a_bar_on(&mut rig));
        let out = rig.block(500, vec![event]);
        assert_eq!(out.contains(&event), passes, "{event:?}");
        assert_eq!(letter_sounds_a_bar_on(&mut rig), !ends, "{event:?}");
        let up = rig.block(500, vec![crate::off(3, 85)]);
        assert!(!up.contains(&crate::off(3, 85)), "{event:?}");
    }
}

#[test]
fn a_letter_keys_end_goes_nowhere_whatever_came_between() {
    let score = "barform = 1\nmeter = \"4/4\"\ntempo = 90\nform = \"A\"\n\
                 [cell.A]\ngrid = \"1\"\nsticking = \"R\"\n";
    type Happens = fn(&mut Rig, &str);
    let between: [(&str, Happens); 5] = [
        ("bypass", |rig, _| rig.set("bypass", 1.0)),
        ("bypass and back", |rig, _| {
            rig.set("bypass", 1.0);
            rig.block(500, vec![]);
            rig.set("bypass", 0.0);
        }),
        ("another score", |rig, score| {
            let checked = barform::state::check(score, "test").unwrap();
            rig.plugin.session().accept(checked, "Typing", None);
        }),
        ("reset", |rig, _| rig.plugin.reset()),
        ("keys off", |rig, _| rig.set("keys", 0.0)),
    ];
    for (what, happens) in between {
        let mut rig = Rig::rolling();
        rig.block(500, vec![on(10, 85)]);
        happens(&mut rig, score);
        rig.block(500, vec![]);
        let out = rig.block(500, vec![off(3, 85)]);
        assert!(!out.contains(&off(3, 85)), "{what}");
        // The next one of that key belongs to a note that passed.
        rig.set("keys", 0.0);
        let out = rig.block(500, vec![on(3, 85), off(4, 85)]);
        assert!(out.contains(&on(3, 85)), "{what}");
        assert!(out.contains(&off(4, 85)), "{what}");
    }
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
fn an_end_that_came_in_and_found_no_room_comes_later() {
    let mut rig = Rig::rolling();
    rig.block(500, vec![on(3, 60), on(4, 61)]);
    let choke = NoteEvent::Choke {
        timing: 4,
        voice_id: VoiceID::Wildcard,
        channel: Channel::Number(9),
        key: Key::Number(61),
    };
    rig.host.room = 0;
    assert!(rig.block(500, vec![off(3, 60), choke]).is_empty());
    assert!(rig.block(500, vec![]).is_empty(), "still no room");
    rig.host.room = usize::MAX;
    let out = rig.block(500, vec![on(0, 60)]);
    let at = |event: &rig::Note| out.iter().position(|e| e == event);
    assert!(
        at(&off(0, 60)) < at(&on(0, 60)),
        "before its key sounds again"
    );
    assert!(at(&off(0, 60)).is_some());
    let is_choke = |e: &&rig::Note| matches!(e, NoteEvent::Choke { timing: 0, .. });
    assert_eq!(out.iter().filter(is_choke).count(), 1);
    let out = rig.block(500, vec![]);
    assert!(!out.contains(&off(0, 60)), "once");
}

#[test]
fn a_note_that_found_no_room_has_no_end() {
    let mut rig = Rig::rolling();
    rig.host.room = 0;
    assert!(rig.block(500, vec![]).is_empty(), "the first stroke");
    rig.host.room = usize::MAX;
    rig.host.transport.playing = false;
    assert!(rig.block(500, vec![]).is_empty());
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
