//! Every stroke on the nearest sample, none lost, none doubled, in a real CLAP
//! and a real VST3 host.
//!
//! Forms and sessions are invented with fixed seeds; the schedules are worked
//! out in exact fractions from the description alone (`barform_tests::schedule`).

use std::cell::RefCell;

use anyhow::{Context, Result, ensure};
use barform_hosts::form::{Cell, Form, Level, Span, Stroke};
use barform_tests::bench::{Bench, note_ons};
use barform_tests::clap_host;
use barform_tests::host::{Format, check_ends};
use barform_tests::schedule::{HostBlock, Report, Schedule, compare, schedule};
use barform_tests::session;
use proptest::test_runner::{Config, RngSeed, TestCaseError, TestRunner};

/// Sample rates in Hz: all that audio devices offer, and some that only an
/// offline render can have.
const RATES_HZ: [u32; 14] = [
    8_000, 11_025, 16_000, 22_050, 32_000, 44_100, 48_000, 88_200, 96_000, 176_400, 192_000,
    384_000, 12_347, 250_001,
];

/// Cases for each sample rate and format; 2,240 in all.
const CASES: u32 = 80;

/// How finely a position is known, in beats. CLAP: the step of its fixed point.
/// VST3: four roundings of `f64` below 128 beats, past which no session here
/// goes: the report, the stroke's time, their difference, the product.
fn resolution_beats(format: Format) -> f64 {
    match format {
        Format::Clap => clap_host::POSITION_STEP_BEATS,
        Format::Vst3 => 4.0 * 128.0 * f64::EPSILON,
    }
}

fn check(bench: &mut Bench, form: &Form, expected: &Schedule) -> Result<(), TestCaseError> {
    let fail = |message: String| TestCaseError::fail(format!("{message}\n{}", form.score()));
    let notes = bench
        .play(&form.score(), &expected.blocks)
        .map_err(|error| fail(error.to_string()))?;
    check_ends(&notes).map_err(|error| fail(error.to_string()))?;
    compare(&expected.expected, &note_ons(&notes)).map_err(fail)
}

fn random_sessions(format: Format) -> Result<()> {
    for (number, rate) in RATES_HZ.into_iter().enumerate() {
        let bench = RefCell::new(Bench::new(format, rate)?);
        let mut runner = TestRunner::new(Config {
            cases: CASES,
            rng_seed: RngSeed::Fixed(1 + number as u64),
            failure_persistence: None,
            max_shrink_iters: 2_000,
            ..Config::default()
        });
        let heard = RefCell::new(0);
        runner
            .run(
                &(session::form(), session::session(rate)),
                |(form, blocks)| {
                    let expected =
                        schedule(&form.cycles(), &blocks, rate, resolution_beats(format));
                    *heard.borrow_mut() += expected.expected.len();
                    check(&mut bench.borrow_mut(), &form, &expected)
                },
            )
            .with_context(|| format!("{format:?} at {rate} Hz"))?;
        // The sessions are not empty ones.
        let heard = heard.into_inner();
        ensure!(
            heard > 10 * CASES as usize,
            "only {heard} strokes at {rate} Hz"
        );
    }
    Ok(())
}

#[test]
fn clap_every_stroke_on_the_nearest_sample() -> Result<()> {
    random_sessions(Format::Clap)
}

#[test]
fn vst3_every_stroke_on_the_nearest_sample() -> Result<()> {
    random_sessions(Format::Vst3)
}

/// One beat of four snares.
fn four_snares() -> Form {
    let stroke = Stroke {
        limb: 'R',
        voice: 1,
        level: Level::Normal,
    };
    Form {
        cells: vec![Cell {
            grid: vec![Span {
                slots: 4,
                beats: (1, 1),
            }],
            slots: vec![Some(stroke); 4],
        }],
        order: vec![0],
        ostinatos: vec![],
    }
}

/// At 120 beats a minute and 8192 Hz a beat has 4096 samples, so every position
/// here is a whole number of 2^-31 beats that CLAP and `f64` hold exactly; with
/// a start half a sample early every stroke lies half-way between two samples.
#[test]
fn a_stroke_half_way_between_two_samples_goes_to_the_later_one() -> Result<()> {
    for format in Format::ALL {
        let mut bench = Bench::new(format, 8_192)?;
        let start = -1.0 / 8_192.0;
        let blocks = [HostBlock {
            frames: 4_200,
            tempo_bpm: Some(120.0),
            from_beats: Some(start),
            cycle: None,
            report: Report::Off(0.0),
        }];
        // A resolution of nothing: only the later sample will do.
        let expected = schedule(&four_snares().cycles(), &blocks, 8_192, 0.0);
        let notes = bench.play(&four_snares().score(), &expected.blocks)?;
        let samples: Vec<i64> = note_ons(&notes).iter().map(|(sample, _)| *sample).collect();
        assert_eq!(samples, [1, 1_025, 2_049, 3_073, 4_097], "{format:?}");
        compare(&expected.expected, &note_ons(&notes)).map_err(anyhow::Error::msg)?;
    }
    Ok(())
}

/// A loop of one beat, turned eight times within one block.
#[test]
fn a_loop_shorter_than_a_block_turns_inside_of_it() -> Result<()> {
    for format in Format::ALL {
        let mut bench = Bench::new(format, 8_192)?;
        let blocks = [HostBlock {
            frames: 8_192,
            tempo_bpm: Some(480.0),
            from_beats: Some(2.0),
            cycle: Some((2.0, 3.0)),
            report: Report::Off(0.0),
        }];
        let expected = schedule(&four_snares().cycles(), &blocks, 8_192, 0.0);
        let notes = bench.play(&four_snares().score(), &expected.blocks)?;
        // Eight turns of 1024 samples, four strokes each.
        let samples: Vec<i64> = note_ons(&notes).iter().map(|(sample, _)| *sample).collect();
        assert_eq!(
            samples,
            (0..32).map(|i| i * 256).collect::<Vec<i64>>(),
            "{format:?}"
        );
    }
    Ok(())
}

/// Loops from whole beat to whole beat over cycles that `f64` cannot hold, with
/// strokes just on the loop's start and end: the first sounds at each turn, the
/// last does not.
#[test]
fn a_stroke_on_the_loop_s_start_sounds_and_one_on_its_end_does_not() -> Result<()> {
    const RATE_HZ: u32 = 44_100;
    let stroke = four_snares().cells[0].slots[0];
    for format in Format::ALL {
        let mut bench = Bench::new(format, RATE_HZ)?;
        for (beats, slots) in [
            ((1, 3), 1),
            ((2, 3), 2),
            ((4, 3), 4),
            ((4, 5), 4),
            ((7, 5), 7),
            ((1, 7), 1),
            ((12, 7), 14),
            ((5, 9), 5),
            ((13, 11), 13),
            ((3, 13), 3),
        ] {
            let mut form = four_snares();
            form.cells[0] = Cell {
                grid: vec![Span { slots, beats }],
                slots: vec![stroke; slots],
            };
            for from in 1..17 {
                let cycle = Some((f64::from(from), f64::from(from + 1 + from % 3)));
                // Over three turns in blocks that do not end with the loop.
                let block = |number: u32| HostBlock {
                    frames: 1_900,
                    tempo_bpm: Some(157.0),
                    from_beats: (number == 0).then_some(f64::from(from) + 0.5),
                    cycle,
                    report: Report::Off(0.0),
                };
                let blocks: Vec<HostBlock> = (0..90).map(block).collect();
                let resolution = resolution_beats(format);
                let expected = schedule(&form.cycles(), &blocks, RATE_HZ, resolution);
                let notes = bench.play(&form.score(), &expected.blocks)?;
                compare(&expected.expected, &note_ons(&notes))
                    .map_err(anyhow::Error::msg)
                    .with_context(|| format!("{format:?}, loop {cycle:?}, cycle {beats:?}"))?;
            }
        }
    }
    Ok(())
}
