//! Blocks that pass in silence: letting one go by is the same as playing it.
//!
//! Two players hear the same host. One lets go by what it can; for the other
//! the bounce time changes in every block, which nothing here sounds with, so
//! that it has to look at each of them in full.

use crate::player_support;

use std::sync::Arc;

use barform_play::player::*;
use barform_score::music::*;
use barform_score::score::Rate;
use barform_score::timeline::*;
use player_support::note;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

const RATE_HZ: f64 = 48_000.0;
const BEATS_PER_SAMPLE: f64 = 120.0 / (60.0 * RATE_HZ);

/// Four beats with a stroke on each, the third with grace notes; an ostinato
/// every three beats; letter 0 with a stroke each half beat.
fn timeline(key: u8) -> Arc<Timeline> {
    let mut form = Lane::new(LaneRole::Form, Beats::whole(4));
    for beat in 0..4 {
        form.main.push(f64::from(beat), note(key));
    }
    for track in &mut form.graces {
        track.push(2.0, note(61));
    }
    let mut ostinato = Lane::new(LaneRole::Ostinato(0), Beats::whole(3));
    ostinato.main.push(0.0, note(44));
    let mut letter = Lane::new(LaneRole::Letter(0), Beats::new(1, 2));
    letter.main.push(0.0, note(70));
    player_support::timeline(Beats::whole(4), vec![form, ostinato, letter])
}

/// What happens before a block.
#[derive(Debug, Clone)]
enum Step {
    Nothing,
    Stop,
    Jump(f64),
    Tempo(f64),
    Cycle(Option<(f64, f64)>),
    Gate(f64),
    Grace(f64),
    Start(f64),
    Rate(Rate),
    Repeat(bool),
    MuteHands(bool),
    Down(u32, Quantise),
    Up(u32, Quantise),
    Strike,
    Silence,
    Swap(u8),
    SampleRate(f64),
}

fn step() -> impl Strategy<Value = Step> {
    let quantise = || prop_oneof![Just(Quantise::Beat), Just(Quantise::Bar)];
    let rate = prop_oneof![Just(Rate::Half), Just(Rate::Normal), Just(Rate::Double)];
    let cycle = (0.0f64..8.0, prop_oneof![1e-5f64..1e-3, 0.01f64..6.0]);
    let cycle = cycle.prop_map(|(from, length)| (from, from + length));
    prop_oneof![
        24 => Just(Step::Nothing),
        1 => Just(Step::Stop),
        1 => (0.0f64..20.0).prop_map(Step::Jump),
        1 => (40.0f64..300.0).prop_map(Step::Tempo),
        1 => proptest::option::of(cycle).prop_map(Step::Cycle),
        1 => (1.0f64..500.0).prop_map(Step::Gate),
        1 => (0.0f64..100.0).prop_map(Step::Grace),
        1 => (0.0f64..8.0).prop_map(Step::Start),
        1 => rate.prop_map(Step::Rate),
        1 => any::<bool>().prop_map(Step::Repeat),
        1 => any::<bool>().prop_map(Step::MuteHands),
        1 => (0u32..64, quantise()).prop_map(|(at, q)| Step::Down(at, q)),
        1 => (0u32..64, quantise()).prop_map(|(at, q)| Step::Up(at, q)),
        1 => Just(Step::Strike),
        1 => Just(Step::Silence),
        1 => (60u8..64).prop_map(Step::Swap),
        1 => prop_oneof![Just(44_100.0), Just(RATE_HZ)].prop_map(Step::SampleRate),
    ]
}

/// What one player heard of a block and where it is afterwards.
type Outcome = (Vec<Event>, Option<f64>, Option<usize>, bool);

/// Plays all steps; with `lets_pass` as a plugin does, else each block in full.
fn play(steps: &[(Step, u32, f64)], lets_pass: bool) -> (Vec<Outcome>, usize) {
    let mut player = Player::new();
    player.set_sample_rate(RATE_HZ);
    player.set_timeline(Some(timeline(60)));
    let mut settings = Settings::default();
    let mut transport = Transport::at(0.0, 120.0);
    let mut hz = RATE_HZ;
    let mut beats = 0.0;
    let mut passed = 0;
    let mut outcomes = vec![];
    for (n, (step, frames, wobble)) in steps.iter().enumerate() {
        transport.playing = true;
        match *step {
            Step::Nothing => {}
            Step::Stop => transport.playing = false,
            Step::Jump(to) => beats = to,
            Step::Tempo(bpm) => transport.tempo_bpm = bpm,
            Step::Cycle(cycle) => {
                transport.cycle = cycle.map(|(start_beats, end_beats)| Loop {
                    start_beats,
                    end_beats,
                });
            }
            Step::Gate(ms) => settings.gate_ms = ms,
            Step::Grace(ms) => settings.grace_ms = ms,
            Step::Start(beats) => settings.start_beats = beats,
            Step::Rate(rate) => settings.rate = rate,
            Step::Repeat(repeat) => settings.repeat = repeat,
            Step::MuteHands(mute) => settings.mute.hands = mute,
            Step::Down(at, quantise) => player.letter_down(0, at, quantise),
            Step::Up(at, quantise) => player.letter_up(0, at, quantise),
            Step::Strike => player.strike(note(50)),
            Step::Silence => player.silence(),
            Step::Swap(key) => drop(player.set_timeline(Some(timeline(key)))),
            Step::SampleRate(wanted) => {
                hz = wanted;
                player.set_sample_rate(hz);
            }
        }
        transport.position_beats = Some(beats + wobble * BEATS_PER_SAMPLE);
        settings.buzz_ms = 20.0;
        if !lets_pass && n % 2 == 0 {
            settings.buzz_ms = 21.0;
        }
        let mut events = vec![];
        if lets_pass && player.pass(&transport, &settings, *frames) {
            passed += 1;
            assert_eq!(player.live_letter(), None, "a letter by key needs a look");
        } else {
            player.process(&transport, &settings, *frames, &mut |e| events.push(e));
        }
        if transport.playing {
            beats += f64::from(*frames) * transport.tempo_bpm / (60.0 * hz);
            if let Some(cycle) = transport.cycle
                && beats >= cycle.end_beats
            {
                let length = cycle.end_beats - cycle.start_beats;
                beats = cycle.start_beats + (beats - cycle.end_beats) % length;
            }
        }
        outcomes.push((
            events,
            player.unwrapped_beats(),
            player.live_letter(),
            player.is_sounding(),
        ));
    }
    (outcomes, passed)
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 2_000,
        rng_seed: RngSeed::Fixed(12),
        ..ProptestConfig::default()
    })]

    #[test]
    fn a_block_that_passes_is_a_block_played(
        steps in proptest::collection::vec(
            (step(), prop_oneof![0u32..64, 1u32..600, 1u32..4_096], -1.0f64..=1.0),
            1..120,
        )
    ) {
        let (passing, _) = play(&steps, true);
        let (full, passed) = play(&steps, false);
        prop_assert_eq!(passed, 0);
        for (n, (ours, theirs)) in passing.iter().zip(&full).enumerate() {
            prop_assert_eq!(ours, theirs, "block {}, {:?}", n, &steps[n]);
        }
    }
}

#[test]
fn of_blocks_without_a_note_all_but_the_first_pass() {
    let steps = vec![(Step::Nothing, 64, 0.0); 1_500];
    let (outcomes, passed) = play(&steps, true);
    let silent = outcomes.iter().filter(|(events, ..)| events.is_empty());
    assert_eq!(passed, silent.count());
    assert!(passed > 1_400, "{passed} of 1500");
}

/// Moves the reported position on.
fn go(transport: &mut Transport, beats: f64) {
    *transport.position_beats.as_mut().unwrap() += beats;
}

/// A player whose next quiet block, from beat 0.5 on, passes.
fn settled() -> (Player, Transport, Settings) {
    let mut player = Player::new();
    player.set_sample_rate(RATE_HZ);
    player.set_timeline(Some(timeline(60)));
    let mut transport = Transport::at(0.5, 120.0);
    let settings = Settings::default();
    player.process(&transport, &settings, 64, &mut |_| {});
    // Long enough for the player to know how exact this host is.
    for _ in 0..20 {
        go(&mut transport, 64.0 * BEATS_PER_SAMPLE);
        assert!(player.pass(&transport, &settings, 64));
    }
    go(&mut transport, 64.0 * BEATS_PER_SAMPLE);
    (player, transport, settings)
}

#[test]
fn what_is_asked_for_between_two_blocks_is_never_passed_over() {
    let asks: [fn(&mut Player); 6] = [
        |player| player.strike(note(50)),
        Player::silence,
        |player| drop(player.set_timeline(Some(timeline(62)))),
        |player| player.set_sample_rate(RATE_HZ),
        Player::restart,
        |player| player.letter_down(0, 0, Quantise::Bar),
    ];
    for ask in asks {
        let (mut player, transport, settings) = settled();
        ask(&mut player);
        assert!(!player.pass(&transport, &settings, 64));
    }
}

#[test]
fn a_block_under_other_settings_or_another_clock_is_never_passed_over() {
    let changes: [fn(&mut Transport, &mut Settings); 13] = [
        |_, settings| settings.gate_ms += 1.0,
        |_, settings| settings.grace_ms += 1.0,
        |_, settings| settings.buzz_ms += 1.0,
        |_, settings| settings.rate = Rate::Half,
        |_, settings| settings.start_beats += 1.0,
        |_, settings| settings.repeat = false,
        |_, settings| settings.mute.hands = true,
        |_, settings| settings.mute.ostinato = true,
        |transport, _| transport.playing = false,
        |transport, _| transport.tempo_bpm += 1e-9,
        |transport, _| go(transport, 1.1 * BEATS_PER_SAMPLE),
        |transport, _| transport.position_beats = Some(f64::NAN),
        |transport, _| {
            transport.cycle = Some(Loop {
                start_beats: 0.0,
                end_beats: 8.0,
            });
        },
    ];
    for (n, change) in changes.iter().enumerate() {
        let (mut player, mut transport, mut settings) = settled();
        change(&mut transport, &mut settings);
        assert!(!player.pass(&transport, &settings, 64), "change {n}");
    }
}

#[test]
fn neither_no_frames_nor_a_position_out_of_bounds_pass() {
    let (mut player, transport, settings) = settled();
    assert!(!player.pass(&transport, &settings, 0));
    // A billion beats are the most that is played; a stroke falls just there,
    // none in the block after it.
    let (mut player, mut transport, settings) = settled();
    transport.position_beats = Some(1e9 - 0.001);
    player.process(&transport, &settings, 64, &mut |_| {});
    go(&mut transport, 64.0 * BEATS_PER_SAMPLE);
    assert!(!player.pass(&transport, &settings, 64));
    let mut ends = 0;
    let mut count = |event: Event| ends += usize::from(matches!(event.kind, EventKind::Off(_)));
    player.process(&transport, &settings, 64, &mut count);
    assert_eq!(ends, 1, "what sounds ends there");
}

#[test]
fn a_letter_starts_however_long_ago_another_was_let_go() {
    // Some 8 beats after its end a letter is forgotten and all is looked up anew.
    let blocks_per_beat = RATE_HZ * 60.0 / 120.0 / 64.0;
    let first = (7.5 * blocks_per_beat) as usize;
    for wait in (first..first + 2 * blocks_per_beat as usize).step_by(7) {
        let mut steps = vec![(Step::Nothing, 64, 0.0); 100];
        steps.push((Step::Down(0, Quantise::Beat), 64, 0.0));
        steps.extend(vec![(Step::Nothing, 64, 0.0); 500]);
        steps.push((Step::Up(0, Quantise::Beat), 64, 0.0));
        steps.extend(vec![(Step::Nothing, 64, 0.0); wait]);
        let (silent, _) = play(&steps, true);
        assert_eq!(silent[wait + 601].2, None, "it has long ended");
        steps.push((Step::Down(0, Quantise::Beat), 64, 0.0));
        steps.extend(vec![(Step::Nothing, 64, 0.0); 400]);
        let (outcomes, _) = play(&steps, true);
        assert_eq!(outcomes.last().unwrap().2, Some(0), "after {wait} blocks");
    }
}

#[test]
fn long_after_a_letter_quiet_blocks_pass_again() {
    let (mut player, mut transport, settings) = settled();
    let mut play = |player: &mut Player, beats: f64| {
        let blocks = (beats / (64.0 * BEATS_PER_SAMPLE)) as usize;
        let mut passed = 0;
        for _ in 0..blocks {
            if player.pass(&transport, &settings, 64) {
                passed += 1;
            } else {
                player.process(&transport, &settings, 64, &mut |_| {});
            }
            go(&mut transport, 64.0 * BEATS_PER_SAMPLE);
        }
        passed
    };
    player.letter_down(0, 0, Quantise::Beat);
    play(&mut player, 1.0);
    player.letter_up(0, 0, Quantise::Beat);
    assert_eq!(play(&mut player, 4.0), 0, "it may still be asked for");
    play(&mut player, 6.0);
    assert!(play(&mut player, 1.0) > 0);
}
