//! Hosts that report their position in their own way: rounded, late, by halves.
//!
//! A host is a true line of time and a manner of reporting it. What must sound
//! is worked out from the line alone; what the manner may cost is said with it.
//! The manners are those of real hosts, common practice, no source.

use crate::player_support;

use std::sync::Arc;

use barform_play::player::*;
use barform_score::music::*;
use barform_score::timeline::*;
use player_support::note;
use proptest::prelude::*;
use proptest::sample::select;
use proptest::test_runner::RngSeed;

/// Shorter than any gap between strokes of one key here.
const GATE_MS: f64 = 20.0;

/// How a value is rounded.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Rounding {
    Exact,
    Nearest(f64),
    Down(f64),
    Single,
    /// To ticks, then through `f32`.
    SingleOfTicks(f64),
    /// The position in seconds, to a millisecond.
    Milliseconds,
    /// The position in seconds, down to a millisecond.
    MillisecondsDown,
}

/// What of the song's position in samples is told.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Samples {
    Absent,
    Frozen,
    Exact,
    Milliseconds,
}

#[derive(Debug, Clone, Copy)]
struct Host {
    rate_hz: f64,
    tempo: f64,
    rounding: Rounding,
    samples: Samples,
    /// Beat of the first block.
    from: f64,
    /// Place of that beat in the song, beyond what the tempo would make it.
    offset_samples: f64,
    frames: [u32; 3],
}

impl Host {
    fn per_sample(&self) -> f64 {
        self.tempo / (60.0 * self.rate_hz)
    }

    /// Step of the musical positions in samples.
    fn step_samples(&self, at: f64) -> f64 {
        let single = |beats: f64| f64::from((beats as f32).next_up()) - f64::from(beats as f32);
        let beats = match self.rounding {
            Rounding::Exact => 0.0,
            Rounding::Nearest(ticks) | Rounding::Down(ticks) => 1.0 / ticks,
            Rounding::Single => single(at),
            Rounding::SingleOfTicks(ticks) => single(at) + 1.0 / ticks,
            Rounding::Milliseconds | Rounding::MillisecondsDown => 1e-3 * self.tempo / 60.0,
        };
        beats / self.per_sample()
    }

    fn round(&self, beats: f64) -> f64 {
        match self.rounding {
            Rounding::Exact => beats,
            Rounding::Nearest(ticks) => (beats * ticks).round() / ticks,
            Rounding::Down(ticks) => (beats * ticks).floor() / ticks,
            Rounding::Single => f64::from(beats as f32),
            Rounding::SingleOfTicks(ticks) => f64::from(((beats * ticks).round() / ticks) as f32),
            Rounding::Milliseconds => {
                let ms = beats * 60_000.0 / self.tempo;
                ms.round() * self.tempo / 60_000.0
            }
            Rounding::MillisecondsDown => {
                let ms = beats * 60_000.0 / self.tempo;
                ms.floor() * self.tempo / 60_000.0
            }
        }
    }

    fn report(&self, beats: f64, moved: f64) -> Transport {
        let start = (self.from / self.per_sample() + self.offset_samples).round();
        Transport {
            song_samples: match self.samples {
                Samples::Absent => None,
                Samples::Frozen => Some(0.0),
                Samples::Exact => Some(start + moved),
                Samples::Milliseconds => {
                    let per_ms = self.rate_hz / 1e3;
                    Some(((start + moved) / per_ms).round() * per_ms)
                }
            },
            ..Transport::at(self.round(beats), self.tempo)
        }
    }
}

/// Sixteen beats: sixteenths on one key, sixteenth-triplets on another.
fn timeline() -> Arc<Timeline> {
    let mut form = Lane::new(LaneRole::Form, Beats::whole(16));
    for n in 0..16 * 12 {
        let at = f64::from(n) / 12.0;
        if n % 3 == 0 {
            form.main.push(at, note(60));
        }
        if n % 2 == 0 {
            form.main.push(at, note(61));
        }
    }
    player_support::timeline(Beats::whole(16), vec![form])
}

/// Note-ons and how long each lasted, on samples of the whole session.
fn played(blocks: &[(Transport, u32)], rate_hz: f64) -> Vec<(i64, u8, i64)> {
    let mut player = Player::new();
    player.set_sample_rate(rate_hz);
    player.set_timeline(Some(timeline()));
    let settings = Settings {
        gate_ms: GATE_MS,
        ..Settings::default()
    };
    let mut ons: Vec<(i64, u8, i64)> = vec![];
    let mut sample = 0;
    for (transport, frames) in blocks {
        let mut sink = |event: Event| {
            let at = sample + i64::from(event.offset);
            match event.kind {
                EventKind::On(note) => ons.push((at, note.key.number(), -1)),
                EventKind::Off(note) => {
                    let open = |on: &&mut (i64, u8, i64)| on.1 == note.key.number() && on.2 < 0;
                    let on = ons.iter_mut().find(open).expect("an end without a start");
                    on.2 = at - on.0;
                }
            }
        };
        if !player.pass(transport, &settings, *frames) {
            player.process(transport, &settings, *frames, &mut sink);
        }
        sample += i64::from(*frames);
    }
    ons
}

/// Plays `seconds` of the host and compares: none lost, doubled or cut short.
/// Returns the worst error in samples over the first two seconds, after them,
/// and of the distance between neighbours after them.
fn worst(host: &Host, seconds: f64) -> Result<(f64, f64, f64), String> {
    let mut blocks = vec![];
    let mut moved = 0u32;
    let end = (seconds * host.rate_hz) as u32;
    let per_sample = host.per_sample();
    while moved < end {
        let frames = host.frames[blocks.len() % 3];
        let beats = host.from + f64::from(moved) * per_sample;
        blocks.push((host.report(beats, f64::from(moved)), frames));
        moved += frames;
    }
    blocks.push((Transport::STOPPED, 64));
    let ons = played(&blocks, host.rate_hz);
    let (mut early, mut late, mut gaps) = (0.0f64, 0.0f64, 0.0f64);
    let gate = (GATE_MS * host.rate_hz / 1e3).round() as i64;
    for (key, per_beat) in [(60, 4.0), (61, 6.0)] {
        let got: Vec<_> = ons.iter().filter(|on| on.1 == key).collect();
        let first = (host.from * per_beat).ceil() as i64;
        let last_beat = host.from + f64::from(moved) * per_sample;
        // One more on either side: at the edges a stroke may fall to either.
        let want: Vec<f64> = (first - 1..)
            .map(|n| n as f64 / per_beat)
            .take_while(|beat| *beat < last_beat + 1.0 / per_beat)
            .map(|beat| (beat - host.from) / per_sample)
            .collect();
        let edge = host.step_samples(last_beat) + 2.0;
        let inside = |at: f64| at > edge && at < f64::from(moved) - edge;
        let mut left = got.len();
        let mut before: Option<f64> = None;
        for at in &want {
            let near = got
                .iter()
                .filter(|on| (on.0 as f64 - at).abs() <= 2.0 * edge);
            let near: Vec<_> = near.collect();
            left -= near.len();
            let on = match near[..] {
                [] if !inside(*at) => continue,
                [on] => on,
                _ => return Err(format!("key {key} at {at}: {near:?}")),
            };
            if on.2 < gate.min(i64::from(moved) - on.0) - 1 {
                return Err(format!("key {key} at {}: cut short, {}", on.0, on.2));
            }
            let error = on.0 as f64 - at;
            let settled = *at > 2.0 * host.rate_hz;
            let worst = if settled { &mut late } else { &mut early };
            *worst = worst.max(error.abs());
            if settled && let Some(before) = before {
                gaps = gaps.max((error - before).abs());
            }
            before = Some(error);
        }
        if left > 0 {
            return Err(format!("key {key}: {left} not in the score"));
        }
    }
    Ok((early, late, gaps))
}

const ROUNDINGS: [Rounding; 13] = [
    Rounding::Exact,
    Rounding::Nearest(1_920.0),
    Rounding::Nearest(960.0),
    Rounding::Nearest(480.0),
    Rounding::Nearest(192.0),
    Rounding::Nearest(768.0),
    Rounding::Down(1_920.0),
    Rounding::Down(480.0),
    Rounding::Down(192.0),
    Rounding::Single,
    Rounding::SingleOfTicks(7_680.0),
    Rounding::Milliseconds,
    Rounding::MillisecondsDown,
];

/// The host whose place is known as well as it can be: it counts samples, and
/// the song has one tempo from its start.
fn plain(rounding: Rounding, from: f64, frames: u32) -> Host {
    Host {
        rate_hz: 48_000.0,
        tempo: 92.0,
        rounding,
        samples: Samples::Exact,
        from,
        offset_samples: 0.0,
        frames: [frames; 3],
    }
}

#[test]
fn from_an_exact_start_rounded_reports_are_as_good_as_exact_ones() {
    for rounding in ROUNDINGS {
        for (from, samples) in [
            (0.0, Samples::Exact),
            (0.0, Samples::Absent),
            (16.0, Samples::Exact),
        ] {
            for frames in [64, 256, 1_024] {
                let host = Host {
                    samples,
                    ..plain(rounding, from, frames)
                };
                let (early, late, gaps) = worst(&host, 8.0).unwrap();
                // Positions in milliseconds have no exact start on beat 16, and
                // ticks that are none of the usual ones are learned by and by.
                let bound = match rounding {
                    Rounding::Milliseconds if from != 0.0 => host.step_samples(from) / 2.0,
                    Rounding::MillisecondsDown if from != 0.0 => host.step_samples(from),
                    Rounding::Nearest(768.0) => host.step_samples(from) / 4.0,
                    _ => 0.5,
                };
                let message = format!("{host:?}: {early} {late} {gaps}");
                assert!(early <= bound + 0.51 && late <= bound + 0.51, "{message}");
                assert!(gaps < 1.1, "{message}");
            }
        }
    }
}

#[test]
fn in_a_song_of_one_tempo_samples_tell_the_place_from_any_start() {
    for rounding in ROUNDINGS {
        if let Rounding::Milliseconds | Rounding::MillisecondsDown | Rounding::Nearest(768.0) =
            rounding
        {
            continue;
        }
        for from in [2.3137, 2561.3137] {
            for frames in [64, 256, 1_024] {
                let host = plain(rounding, from, frames);
                let (early, late, gaps) = worst(&host, 8.0).unwrap();
                let message = format!("{host:?}: {early} {late} {gaps}");
                let step = host.step_samples(from);
                // Which way the host rounds is not known yet.
                assert!(early <= 0.75 * step + 1.0, "{message}");
                assert!(late <= 1.5 && gaps < 1.1, "{message}");
            }
        }
    }
}

#[test]
fn reports_to_the_nearest_tick_settle_within_two_samples() {
    for ticks in [1_920.0, 960.0, 480.0] {
        for samples in [Samples::Exact, Samples::Absent] {
            for frames in [64, 256] {
                let host = Host {
                    samples,
                    offset_samples: 777_777.0,
                    ..plain(Rounding::Nearest(ticks), 2561.3137, frames)
                };
                let (early, late, gaps) = worst(&host, 8.0).unwrap();
                let message = format!("{host:?}: {early} {late} {gaps}");
                assert!(early <= host.step_samples(0.0) / 2.0 + 1.5, "{message}");
                assert!(late <= 2.0 && gaps < 1.1, "{message}");
            }
        }
    }
}

/// What a host says while it stands at `samples` of a song in one tempo, in
/// ticks of 1/1920 beat, and where it starts: the first stroke is due on the
/// first sample of the song, and has to be there.
fn first_stroke(rests_at: f64, starts_at: f64) -> i64 {
    let per_sample = 92.0 / (60.0 * 48_000.0);
    let at = |samples: f64, playing: bool| Transport {
        playing,
        song_samples: Some(samples),
        ..Transport::at((samples * per_sample * 1_920.0).round() / 1_920.0, 92.0)
    };
    let first = (at(starts_at, true), 1_024);
    let blocks = [
        (at(rests_at, false), 1_024),
        (at(rests_at, false), 1_024),
        first,
    ];
    played(&blocks, 48_000.0)[0].0 - 2 * 1_024
}

#[test]
fn the_first_block_is_on_its_sample_though_its_position_is_rounded() {
    // Positions off by more than half a sample show that the host rounds.
    for starts_at in (-1_000..-700).step_by(7) {
        assert_eq!(
            first_stroke(272.0, f64::from(starts_at)),
            -i64::from(starts_at)
        );
    }
    // Where the samples do not fit the beats to a tick, the beats are right: here
    // the song had another tempo before.
    let per_sample = 92.0 / (60.0 * 48_000.0);
    for (samples, beats) in [(777_777.0, -46.0 / 1_920.0), (-752.0, -0.03)] {
        let start = Transport {
            song_samples: Some(samples),
            ..Transport::at(beats, 92.0)
        };
        let on = played(&[(start, 2_048)], 48_000.0)[0].0;
        assert_eq!(on, (-beats / per_sample).round() as i64);
    }
}

fn host() -> impl Strategy<Value = Host> {
    let frames = prop_oneof![
        select(vec![16u32, 64, 128, 256, 480, 512, 1_024, 4_096, 8_192]).prop_map(|n| [n; 3]),
        [1u32..600, 1u32..600, 1u32..600],
        [1u32..8_193, 1u32..8_193, 1u32..8_193],
    ];
    let tempo = prop_oneof![(20u32..=300).prop_map(f64::from), 20.0f64..300.0];
    let from = prop_oneof![(0i32..40).prop_map(f64::from), 0.0f64..3_000.0];
    (
        select(vec![44_100.0, 48_000.0, 96_000.0]),
        tempo,
        select(ROUNDINGS.to_vec()),
        select(vec![
            Samples::Absent,
            Samples::Frozen,
            Samples::Exact,
            Samples::Milliseconds,
        ]),
        from,
        prop_oneof![Just(0.0), -1e6f64..1e6],
        frames,
    )
        .prop_map(
            |(rate_hz, tempo, rounding, samples, from, offset_samples, frames)| Host {
                rate_hz,
                tempo,
                rounding,
                samples,
                from,
                offset_samples,
                frames,
            },
        )
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 500,
        rng_seed: RngSeed::Fixed(11),
        ..ProptestConfig::default()
    })]

    #[test]
    fn none_is_lost_doubled_or_cut_short(host in host()) {
        let (early, late, _) = worst(&host, 6.0).map_err(TestCaseError::fail)?;
        let step = host.step_samples(host.from + 30.0);
        let half_ms = match host.samples {
            Samples::Milliseconds => host.rate_hz * 5e-4,
            _ => 0.0,
        };
        prop_assert!(early <= step + half_ms + 2.0, "at first: {early}, step {step}");
        // Which way a host rounds cannot be told from rounded reports alone.
        // Nor can samples in milliseconds from exact ones, where blocks last as long.
        let least = match (host.rounding, host.samples) {
            (Rounding::Down(_) | Rounding::MillisecondsDown, _) | (_, Samples::Milliseconds) => {
                step
            }
            _ => step / 2.0,
        };
        prop_assert!(late <= least + 3.0, "later: {late}, step {step}");
    }
}

/// Strokes of one key in a loop that starts on the run's first beat, in a host
/// that splits its blocks on the sample behind the loop's end; each lap is faster
/// than the first by `faster` a lap. An error if one is not there, or one too many.
fn in_a_loop(host: &Host, length: f64, faster: f64) -> Result<(), String> {
    const LAPS: u32 = 16;
    let cycle = Loop {
        start_beats: host.from,
        end_beats: host.from + length,
    };
    let mut blocks = vec![];
    let mut want: Vec<f64> = vec![];
    let (mut at, mut sample) = (host.from, 0u32);
    let mut song = host.from / host.per_sample() + host.offset_samples;
    for lap in 0..LAPS {
        let here = Host {
            tempo: host.tempo * (1.0 + faster * f64::from(lap)),
            ..*host
        };
        let per_sample = here.per_sample();
        let first = (cycle.start_beats * 4.0 - 1e-9).ceil() as i64;
        let strokes = (first..).map(|n| n as f64 / 4.0);
        let strokes = strokes.take_while(|beat| *beat < cycle.end_beats - 1e-9);
        want.extend(strokes.map(|beat| f64::from(sample) + (beat - at) / per_sample));
        while at < cycle.end_beats {
            let left = ((cycle.end_beats - at) / per_sample).ceil() as u32;
            let frames = host.frames[blocks.len() % 3].min(left.max(1));
            let told = Transport {
                cycle: Some(cycle),
                song_samples: Some(song.floor()).filter(|_| host.samples == Samples::Exact),
                ..Transport::at(here.round(at), here.tempo)
            };
            blocks.push((told, frames));
            at += f64::from(frames) * per_sample;
            song += f64::from(frames);
            sample += frames;
        }
        at -= length;
        song -= length / per_sample;
    }
    blocks.push((Transport::STOPPED, 64));
    let ons = played(&blocks, host.rate_hz);
    let ons: Vec<i64> = ons.iter().filter(|on| on.1 == 60).map(|on| on.0).collect();
    // At both ends a stroke may fall to either side.
    let edge = host.step_samples(cycle.end_beats) + 3.0;
    let inside = |at: f64| at > edge && at < f64::from(sample) - edge;
    let mut rest = ons.iter().peekable();
    for at in want {
        let came = rest.next_if(|on| (**on as f64 - at).abs() <= edge);
        if came.is_none() && inside(at) {
            return Err(format!("lost at {at}, next {:?}", rest.peek()));
        }
    }
    match rest.find(|on| inside(**on as f64)) {
        Some(on) => Err(format!("one too many on {on}")),
        None => Ok(()),
    }
}

#[test]
fn a_loop_loses_and_doubles_nothing_however_its_host_rounds() {
    let sizes = [[64; 3], [256, 300, 77], [1_024; 3], [4_096; 3]];
    let hosts = ROUNDINGS.into_iter().flat_map(|rounding| {
        [
            (12_347.0, 92.0, 0.0),
            (48_000.0, 171.7, 11.0),
            (48_000.0, 360.0, 2.6),
        ]
        .map(|(rate_hz, tempo, from)| Host {
            rate_hz,
            tempo,
            ..plain(rounding, from, 64)
        })
    });
    for host in hosts {
        for frames in sizes {
            for samples in [Samples::Exact, Samples::Absent] {
                let host = Host {
                    frames,
                    samples,
                    ..host
                };
                for (length, faster) in [(1.0, 0.0), (1.37, 0.0), (3.25, 0.0), (1.0, 0.02)] {
                    if let Err(fault) = in_a_loop(&host, length, faster) {
                        panic!("{host:?}, {length} beats, {faster}: {fault}");
                    }
                }
            }
        }
    }
}
