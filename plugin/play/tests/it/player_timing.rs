//! Every stroke on the nearest sample, none lost, none doubled.
//!
//! The schedule is worked out here with big rationals from the session alone;
//! it shares no code with the player.

use crate::player_support;

use std::sync::Arc;

use barform_play::player::*;
use barform_score::music::*;
use barform_score::score::Rate;
use barform_score::timeline::*;
use num_bigint::BigInt;
use num_rational::BigRational as Q;
use num_traits::{Signed, ToPrimitive};
use player_support::note;
use proptest::prelude::*;

/// Player and host count in `f64`; closer to a tie than this (in samples) a
/// stroke may go to either side.
const TIE_SAMPLES: f64 = 1e-6;

fn q(value: f64) -> Q {
    Q::from_float(value).expect("finite")
}

fn ratio(n: i64, d: i64) -> Q {
    Q::new(BigInt::from(n), BigInt::from(d))
}

/// A timeline with one lane of strokes at exact times, key = number of stroke.
fn timeline(length: Beats, strokes: &[Beats]) -> Arc<Timeline> {
    let mut lane = Lane::new(LaneRole::Form, length);
    for (i, at) in strokes.iter().enumerate() {
        lane.main.push(at.to_f64(), note((i % 128) as u8));
        lane.place.push(0);
        lane.slot.push(0);
    }
    player_support::timeline(length, vec![lane])
}

#[derive(Debug, Clone)]
struct Block {
    frames: u32,
    tempo: f64,
    /// Offset of the report from the true line, in samples.
    wobble: f64,
}

#[derive(Debug, Clone)]
struct Run {
    start: f64,
    cycle: Option<(f64, f64)>,
    blocks: Vec<Block>,
}

#[derive(Debug, Clone)]
struct Session {
    sample_rate: f64,
    length: Beats,
    strokes: Vec<Beats>,
    form_start: f64,
    rate: Rate,
    runs: Vec<Run>,
}

fn session() -> impl Strategy<Value = Session> {
    let rates = prop_oneof![
        Just(8_000.0),
        Just(22_050.0),
        Just(44_100.0),
        Just(48_000.0),
        Just(96_000.0),
        Just(384_000.0),
    ];
    let denominators = prop_oneof![Just(1i64), Just(4), Just(5), Just(6), Just(7), Just(64)];
    let strokes = proptest::collection::vec((0i64..64, denominators), 1..24);
    let speed = prop_oneof![Just(Rate::Half), Just(Rate::Normal), Just(Rate::Double)];
    (rates, strokes, 1i64..9, 0i64..5, speed, any::<bool>()).prop_flat_map(
        |(sample_rate, strokes, beats, third, rate, ramp)| {
            let length = Beats::new(beats * 3 + third, 3);
            let mut strokes: Vec<Beats> = strokes
                .into_iter()
                .map(|(n, d)| Beats::new(n, d).checked_rem(length).unwrap())
                .collect();
            strokes.sort();
            strokes.dedup();
            let frames = prop_oneof![1u32..16, 1u32..600, 1u32..8193];
            let block = (frames, 20.0f64..400.0, -1.0f64..=1.0);
            let blocks = proptest::collection::vec(block, 1..40);
            let cycle = proptest::option::of((0.0f64..12.0, 0.03f64..6.0));
            let run = (0.0f64..30.0, cycle, blocks, any::<bool>());
            let runs = proptest::collection::vec(run, 1..4);
            (runs, prop_oneof![Just(0.0), 0.0f64..8.0]).prop_map(move |(runs, form_start)| {
                let runs = runs
                    .into_iter()
                    .map(|(start, cycle, blocks, wobbles)| {
                        let mut tempo = blocks[0].1;
                        let blocks = blocks
                            .iter()
                            .enumerate()
                            .map(|(i, (frames, other, wobble))| {
                                if ramp {
                                    tempo = (tempo + (other - tempo) * 0.05).clamp(20.0, 400.0);
                                }
                                let wobble = if wobbles && i > 0 { *wobble } else { 0.0 };
                                Block {
                                    frames: *frames,
                                    tempo,
                                    wobble,
                                }
                            })
                            .collect();
                        let cycle = cycle.map(|(from, len)| (from, from + len));
                        Run {
                            start,
                            cycle,
                            blocks,
                        }
                    })
                    .collect();
                Session {
                    sample_rate,
                    length,
                    strokes: strokes.clone(),
                    form_start,
                    rate,
                    runs,
                }
            })
        },
    )
}

/// All main strokes in `[from, to)` of the host's own beats, with their keys.
fn strokes_between(s: &Session, from: &Q, to: &Q) -> Vec<(Q, u8)> {
    let speed = match s.rate {
        Rate::Half => ratio(1, 2),
        Rate::Normal => ratio(1, 1),
        Rate::Double => ratio(2, 1),
    };
    let length = ratio(s.length.numer(), s.length.denom());
    let origin = q(s.form_start);
    let pass_of = |host: &Q| ((host - &origin) * &speed / &length).floor().to_integer();
    let (first, last) = (pass_of(from).max(BigInt::from(0)), pass_of(to));
    let mut found = Vec::new();
    let mut pass = first;
    while pass <= last {
        for (i, at) in s.strokes.iter().enumerate() {
            let form = &length * Q::from_integer(pass.clone()) + ratio(at.numer(), at.denom());
            let host = &origin + form / &speed;
            if &host >= from && &host < to {
                found.push((host, (i % 128) as u8));
            }
        }
        pass += 1;
    }
    found
}

/// Expected `(sample, key, may be one off)`.
type Expected = Vec<(i64, u8, bool)>;

/// What the host reports per block, and what must sound.
fn schedule(s: &Session) -> (Vec<(Transport, u32)>, Expected) {
    let sr = q(s.sample_rate);
    let half = ratio(1, 2);
    let mut reports = Vec::new();
    let mut expected = Vec::new();
    let mut sample = 0i64;
    for run in &s.runs {
        let mut line = q(run.start);
        let mut done: Option<Q> = None;
        let cycle = run.cycle.map(|(from, to)| (q(from), q(to)));
        for block in &run.blocks {
            let step = q(block.tempo) / (ratio(60, 1) * &sr);
            let wobble = q(block.wobble) * &step;
            let mut reported = &line + wobble;
            // The host folds its own report into the loop.
            if let Some((from, to)) = &cycle
                && &line < to
                && &reported >= to
            {
                reported -= to - from;
            }
            reports.push((
                Transport {
                    playing: true,
                    position_beats: reported.to_f64(),
                    song_samples: None,
                    tempo_bpm: block.tempo,
                    cycle: run.cycle.map(|(start_beats, end_beats)| Loop {
                        start_beats,
                        end_beats,
                    }),
                },
                block.frames,
            ));
            let end = &line + &step * ratio(i64::from(block.frames), 1);
            let from = done.clone().unwrap_or_else(|| &line - &half * &step);
            let to = &end - &half * &step;
            // Pieces of the block: (unwrapped minus host, host from, host to).
            let mut pieces = Vec::new();
            match &cycle {
                Some((a, b)) if &line < b => {
                    let length = b - a;
                    let mut lap = if &from < b {
                        Q::from_integer(BigInt::from(0))
                    } else {
                        ((&from - b) / &length).floor() + ratio(1, 1)
                    };
                    loop {
                        let shift = &lap * &length;
                        let low = if lap.is_positive() {
                            (&from - &shift).max(a.clone())
                        } else {
                            from.clone()
                        };
                        let high = (&to - &shift).min(b.clone());
                        if low >= high {
                            if &to - &shift <= b.clone() {
                                break;
                            }
                        } else {
                            pieces.push((shift.clone(), low, high));
                        }
                        if &to - &shift <= b.clone() {
                            break;
                        }
                        lap += ratio(1, 1);
                    }
                }
                _ => pieces.push((ratio(0, 1), from.clone(), to.clone())),
            }
            for (shift, low, high) in pieces {
                for (host, key) in strokes_between(s, &low, &high) {
                    let exact = (host + &shift - &line) / &step;
                    let nearest = (&exact + &half).floor();
                    let to_tie = ((&exact + &half) - &nearest).to_f64().unwrap();
                    let near = !(TIE_SAMPLES..=1.0 - TIE_SAMPLES).contains(&to_tie);
                    let offset = nearest.to_integer().to_i64().unwrap();
                    let offset = offset.clamp(0, i64::from(block.frames) - 1);
                    expected.push((sample + offset, key, near));
                }
            }
            sample += i64::from(block.frames);
            line = end;
            done = Some(to);
            if let Some((a, b)) = &cycle {
                let before = &line - &step * ratio(i64::from(block.frames), 1);
                if &before < b {
                    while &line >= b {
                        line -= b - a;
                        done = done.map(|d| d - (b - a));
                    }
                }
            }
        }
        // The host stops for a block between two runs.
        reports.push((Transport::STOPPED, 7));
        sample += 7;
    }
    (reports, expected)
}

fn play(s: &Session, reports: &[(Transport, u32)]) -> Vec<(i64, u32, EventKind)> {
    let mut player = Player::new();
    player.set_sample_rate(s.sample_rate);
    player.set_timeline(Some(timeline(s.length, &s.strokes)));
    let settings = Settings {
        start_beats: s.form_start,
        rate: s.rate,
        ..Settings::default()
    };
    let mut events = Vec::new();
    let mut sample = 0i64;
    for (transport, frames) in reports {
        player.process(transport, &settings, *frames, &mut |e| {
            assert!(e.offset < *frames, "offset inside of the block");
            events.push((sample + i64::from(e.offset), e.offset, e.kind));
        });
        sample += i64::from(*frames);
    }
    events
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, ..ProptestConfig::default() })]

    #[test]
    fn every_stroke_on_the_nearest_sample(s in session()) {
        let (reports, expected) = schedule(&s);
        let events = play(&s, &reports);
        prop_assert!(events.windows(2).all(|w| w[0].0 <= w[1].0), "events in order");
        for key in 0..128u8 {
            let mut want: Vec<_> = expected.iter().filter(|e| e.1 == key).collect();
            want.sort();
            let got: Vec<i64> = events
                .iter()
                .filter_map(|e| match e.2 {
                    EventKind::On(n) if n.key.number() == key => Some(e.0),
                    _ => None,
                })
                .collect();
            prop_assert_eq!(want.len(), got.len(), "key {}: {:?} {:?}", key, want, got);
            for (want, got) in want.iter().zip(&got) {
                let off = (want.0 - got).abs();
                prop_assert!(off == 0 || (want.2 && off == 1), "key {}: {:?} {}", key, want, got);
            }
        }
    }

    #[test]
    fn every_note_on_has_its_note_off(s in session()) {
        let (reports, _) = schedule(&s);
        let mut open = std::collections::HashSet::new();
        for (_, _, kind) in play(&s, &reports) {
            match kind {
                EventKind::On(n) => prop_assert!(open.insert(n.key), "second on before off"),
                EventKind::Off(n) => prop_assert!(open.remove(&n.key), "off without on"),
            }
        }
        // Each session ends with a stopped block.
        prop_assert!(open.is_empty(), "left hanging: {open:?}");
    }
}

/// Positions that `f64` holds exactly: a stroke half-way between two samples
/// goes to the later one.
#[test]
fn ties_go_up() {
    // 120 bpm at 48 kHz: 24,000 samples a beat; 1/48000 beat is half a sample.
    let strokes = [Beats::new(1, 48_000), Beats::new(3, 48_000)];
    let s = Session {
        sample_rate: 48_000.0,
        length: Beats::whole(4),
        strokes: strokes.to_vec(),
        form_start: 0.0,
        rate: Rate::Normal,
        runs: vec![],
    };
    let transport = Transport::at(0.0, 120.0);
    let ons: Vec<i64> = play(&s, &[(transport, 64)])
        .into_iter()
        .filter(|e| matches!(e.2, EventKind::On(_)))
        .map(|e| e.0)
        .collect();
    assert_eq!(ons, [1, 2]);
}

/// A host whose tempo is a little off what it reports drifts away from the
/// line; the player follows within two samples, and nothing is lost or doubled.
#[test]
fn a_slow_drift_is_taken_up() {
    let mut player = Player::new();
    player.set_sample_rate(48_000.0);
    let strokes: Vec<Beats> = (0..16).map(|n| Beats::new(n, 4)).collect();
    player.set_timeline(Some(timeline(Beats::whole(4), &strokes)));
    let mut events = Vec::new();
    // One part in a million fast: a sample in some twenty seconds.
    let (told, real) = (120.0, 120.0 * (1.0 + 1e-6));
    let mut sample = 0i64;
    // Ends half-way between two strokes.
    while sample < 48_000 * 120 - 3_000 {
        let transport = Transport::at(sample as f64 * real / (60.0 * 48_000.0), told);
        player.process(&transport, &Settings::default(), 256, &mut |e| {
            if let EventKind::On(_) = e.kind {
                events.push(sample + i64::from(e.offset));
            }
        });
        sample += 256;
    }
    assert_eq!(
        events.len(),
        120 * 2 * 4,
        "four a beat, none lost, none doubled"
    );
    for (n, at) in events.iter().enumerate() {
        let exact = n as f64 / 4.0 * 60.0 * 48_000.0 / real;
        assert!(
            (*at as f64 - exact).abs() <= 2.0,
            "stroke {n} at {at}, not {exact}"
        );
    }
}
