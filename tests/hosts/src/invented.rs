//! Invented plans and personalities, for property tests. The plainest comes
//! first, so that a failing one is made plain.

use std::ops::RangeInclusive;

use proptest::option;
use proptest::prelude::*;
use proptest::sample::select;
use proptest::strategy::ValueTree;
use proptest::test_runner::{Config, RngSeed, TestRunner};

use crate::form::{Cell, Form, Level, Span, Stroke};
use crate::habits::{Lag, Personality, Position, Ramp, Song, Standing, Start, Tempo, Turn};
use crate::plan::{Course, Plan, Run, Sizes, short};

/// The smallest step of a position that both CLAP and `f64` hold exactly, in
/// beats.
const STEP_BEATS: f64 = 1.0 / (1u64 << 31) as f64;

/// Steps a beat that hosts round to.
const PER_BEAT: [u32; 4] = [1_920, 960, 480, 192];

/// A beat of four snares over a foot on the second triplet: no two sounds fall together.
pub fn plain_form() -> Form {
    let stroke = |limb, voice| {
        Some(Stroke {
            limb,
            voice,
            level: Level::Normal,
        })
    };
    let cell = |slots: Vec<Option<Stroke>>| Cell {
        grid: vec![Span {
            slots: slots.len(),
            beats: (1, 1),
        }],
        slots,
    };
    Form {
        cells: vec![cell(vec![stroke('R', 1); 4])],
        order: vec![0],
        ostinatos: vec![cell(vec![None, stroke('H', 2), None])],
    }
}

/// A host whose habits are put together at random.
pub fn personality() -> impl Strategy<Value = Personality> {
    let lag = prop_oneof![
        6 => Just(Lag::None),
        1 => (-4_096i32..=4_096).prop_map(Lag::Latency),
        1 => Just(Lag::Stale),
        2 => (2u32..6).prop_map(Lag::Parts),
    ];
    let tempo = prop_oneof![
        5 => Just(Tempo::Exact),
        2 => (2u32..4).prop_map(Tempo::Decimals),
        1 => Just(Tempo::Late),
    ];
    let song = prop_oneof![
        4 => Just(Song::Whole),
        3 => Just(Song::Absent),
        1 => Just(Song::Millisecond),
    ];
    let start = prop_oneof![
        12 => Just(Start::Plain),
        1 => Just(Start::Repeated),
        2 => Just(Start::RepeatedAfterJump),
        2 => Just(Start::FlagLate),
    ];
    let turn = select(vec![
        Turn::NextBlock,
        Turn::Split,
        Turn::SplitWhole,
        Turn::Late,
    ]);
    let ramp = select(vec![Ramp::Mean, Ramp::First, Ramp::Last]);
    let standing = select(vec![Standing::Frozen, Standing::Running, Standing::Zero]);
    let told = prop_oneof![3 => Just(true), 1 => Just(false)];
    let told_beats = prop_oneof![24 => Just(true), 1 => Just(false)];
    (
        (position(), told_beats),
        song,
        lag,
        tempo,
        ramp,
        turn,
        told,
        start,
        standing,
    )
        .prop_map(
            |(
                (position, tells_beats),
                song,
                lag,
                tempo,
                ramp,
                turn,
                tells_loop,
                start,
                standing,
            )| {
                Personality {
                    position,
                    tells_beats,
                    song,
                    lag,
                    tempo,
                    ramp,
                    turn,
                    tells_loop,
                    start,
                    standing,
                }
                .sensible()
            },
        )
}

fn position() -> impl Strategy<Value = Position> {
    prop_oneof![
        4 => Just(Position::Exact),
        3 => select(PER_BEAT.to_vec()).prop_map(Position::Nearest),
        2 => select(PER_BEAT.to_vec()).prop_map(Position::Down),
        1 => Just(Position::Millisecond),
        1 => Just(Position::MillisecondDown),
        1 => Just(Position::Single),
        2 => Just(Position::NearestSingle(7_680)),
        2 => Just(Position::Wobble),
    ]
}

fn tempo_bpm() -> impl Strategy<Value = f64> {
    prop_oneof![
        (40u32..=280).prop_map(f64::from),
        (2_000u32..=40_000).prop_map(|hundredths| f64::from(hundredths) / 100.0),
        (20u32 * 1_024..=400 * 1_024).prop_map(|parts| f64::from(parts) / 1_024.0),
    ]
}

/// Real hosts step by less than to the double or to the half.
fn course() -> impl Strategy<Value = Course> {
    let factor = 0.55f64..1.8;
    let kept = |bpm: f64| short(bpm.clamp(20.0, 400.0));
    prop_oneof![
        4 => tempo_bpm().prop_map(Course::Even),
        1 => (tempo_bpm(), prop::collection::vec(factor.clone(), 1..4)).prop_map(
            move |(first, factors)| {
                let mut list = vec![first];
                for factor in factors {
                    list.push(kept(list[list.len() - 1] * factor));
                }
                Course::Steps(list)
            }
        ),
        1 => (tempo_bpm(), factor).prop_map(move |(first, factor)| {
            Course::Ramp(first, kept(first * factor))
        }),
    ]
}

fn sizes() -> impl Strategy<Value = (Sizes, RangeInclusive<u32>)> {
    prop_oneof![
        (
            select(vec![512u32, 64, 128, 256, 480, 1_024, 2_048]).prop_map(Sizes::Even),
            Just(1..=240)
        ),
        (
            select(vec![16u32, 700, 2_000]).prop_map(Sizes::UpTo),
            Just(1..=200)
        ),
        (
            select(vec![1u32, 31, 333, 4_096, 8_192]).prop_map(Sizes::Even),
            Just(1..=50)
        ),
        (Just(Sizes::UpTo(8_192)), Just(1..=50)),
    ]
}

/// Places as users set them, and others; a count-in begins before beat 0; long
/// songs are long.
fn place() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => (0i64..40).prop_map(|beats| beats as f64),
        3 => ((0i64 << 31)..(40i64 << 31)).prop_map(|steps| steps as f64 * STEP_BEATS),
        1 => (-8i64..0).prop_map(|beats| beats as f64),
        1 => ((-8i64 << 31)..0).prop_map(|steps| steps as f64 * STEP_BEATS),
        1 => (2_000i64..10_000).prop_map(|beats| beats as f64),
        1 => ((2_000i64 << 31)..(10_000i64 << 31)).prop_map(|steps| steps as f64 * STEP_BEATS),
    ]
}

fn run() -> impl Strategy<Value = Run> {
    let beats = prop_oneof![
        (1u32..9).prop_map(f64::from),
        (1i64 << 28..6i64 << 31).prop_map(|steps| steps as f64 * STEP_BEATS),
    ];
    // Where the loop starts, from the run's start on: before it, or behind.
    let start = prop_oneof![
        Just(0.0),
        (-4i32..4).prop_map(f64::from),
        (-4i64 << 31..4i64 << 31).prop_map(|steps| steps as f64 * STEP_BEATS),
    ];
    let blocks = sizes().prop_flat_map(|(sizes, blocks)| (Just(sizes), blocks));
    (
        place(),
        any::<bool>(),
        option::weighted(0.4, (start, beats)),
        blocks,
        course(),
    )
        .prop_map(|(from_beats, jumps, cycle, (sizes, blocks), tempo)| Run {
            from_beats,
            jumps,
            cycle: cycle.map(|(start, beats)| (from_beats + start, beats)),
            sizes,
            blocks,
            tempo,
        })
}

/// A session of one or two runs, now and then three.
pub fn plan() -> impl Strategy<Value = Plan> {
    let runs = prop_oneof![
        prop::collection::vec(run(), 1..3),
        prop::collection::vec(run(), 1..2),
        prop::collection::vec(run(), 1..4),
    ];
    (any::<bool>(), runs, any::<u32>()).prop_map(|(one_tempo, runs, seed)| Plan {
        one_tempo,
        runs,
        seed,
    })
}

/// A host, and a plan to play in it. Where a position may be told once more, whether it
/// is late or a loop has turned shows only blocks later, so there are no loops then:
/// [`crate::known`] has each by itself.
pub fn session() -> impl Strategy<Value = (Personality, Plan)> {
    (personality(), plan()).prop_map(|(host, mut plan)| {
        let again = matches!(host.start, Start::Repeated | Start::RepeatedAfterJump);
        if host.lag == Lag::Stale || again {
            for run in &mut plan.runs {
                run.cycle = None;
                run.blocks = run.blocks.max(3);
            }
        }
        (host, plan)
    })
}

/// A runner whose chance is the same for the same seed.
pub fn runner(seed: u64) -> TestRunner {
    TestRunner::new(Config {
        cases: 1,
        rng_seed: RngSeed::Fixed(seed),
        failure_persistence: None,
        max_shrink_iters: 3_000,
        ..Config::default()
    })
}

/// What a seed draws.
///
/// # Panics
/// If the strategy rejects all it tries.
pub fn drawn<S: Strategy>(strategy: &S, seed: u64) -> S::Value {
    let tree = strategy.new_tree(&mut runner(seed));
    tree.expect("something drawn").current()
}
