//! Invented forms and host sessions, for property tests.

use std::ops::Range;

use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use proptest::sample::select;

use crate::schedule::{HostBlock, Report};
use barform_hosts::form::{Cell, Form, Level, Span, Stroke};

/// The smallest step of a position that both CLAP and `f64` hold exactly, in
/// beats.
const STEP_BEATS: f64 = 1.0 / (1u64 << 31) as f64;

/// A jump is at least so long, in beats, besides what the tempo's change could
/// explain: two samples at 8 kHz and 400 beats a minute are a thirtieth of it.
const JUMP_BEATS: f64 = 1.0 / 16.0;

/// A stroke of any limb.
fn stroke() -> impl Strategy<Value = Stroke> {
    let level = select(vec![
        Level::Ghost,
        Level::Normal,
        Level::Normal,
        Level::Accent,
    ]);
    let struck = prop_oneof![
        (select(vec!['R', 'L']), 3usize..12),
        (select(vec!['R', 'L']), Just(1usize)),
        Just(('K', 0)),
        Just(('H', 2)),
    ];
    (struck, level).prop_map(|((limb, voice), level)| Stroke { limb, voice, level })
}

fn cell(spans: Range<usize>) -> impl Strategy<Value = Cell> {
    let slots = select(vec![1usize, 2, 3, 4, 5, 6, 7, 8, 9, 11, 12, 13]);
    let beats = select(vec![
        (1i64, 1i64),
        (1, 1),
        (1, 1),
        (2, 1),
        (1, 2),
        (3, 2),
        (1, 3),
        (2, 3),
        (4, 5),
        (5, 7),
    ]);
    let span = (slots, beats).prop_map(|(slots, beats)| Span { slots, beats });
    vec(span, spans).prop_flat_map(|grid| {
        let slots = grid.iter().map(|span| span.slots).sum::<usize>();
        (Just(grid), vec(option::weighted(0.8, stroke()), slots))
            .prop_map(|(grid, slots)| Cell { grid, slots })
    })
}

/// A form of up to five cells over up to two ostinatos.
pub fn form() -> impl Strategy<Value = Form> {
    (vec(cell(1..4), 1..6), vec(cell(1..3), 0..3)).prop_flat_map(|(cells, ostinatos)| {
        let order = vec(0..cells.len(), 1..9);
        (Just(cells), order, Just(ostinatos)).prop_map(|(cells, order, ostinatos)| Form {
            cells,
            order,
            ostinatos,
        })
    })
}

/// A stretch of a session in which time runs.
#[derive(Debug, Clone)]
struct Run {
    from: f64,
    jump: bool,
    cycle: Option<(f64, f64)>,
    whole_samples: bool,
    blocks: Vec<(u32, f64, f64)>,
}

/// Positions as users set them, and others; all on exact steps.
fn position(range: Range<i64>) -> impl Strategy<Value = f64> {
    let fine = range.start << 31..range.end << 31;
    prop_oneof![
        range.prop_map(|beats| beats as f64),
        fine.prop_map(|steps| steps as f64 * STEP_BEATS),
    ]
}

fn tempo() -> impl Strategy<Value = f64> {
    prop_oneof![
        (20u32..=400).prop_map(f64::from),
        (2_000u32..=40_000).prop_map(|hundredths| f64::from(hundredths) / 100.0),
        20.0f64..400.0,
    ]
}

/// Whole and fractional beats that a loop spans.
fn loop_beats() -> impl Strategy<Value = f64> {
    prop_oneof![
        (1u32..9).prop_map(f64::from),
        (1i64 << 26..6i64 << 31).prop_map(|steps| steps as f64 * STEP_BEATS),
    ]
}

fn run() -> impl Strategy<Value = Run> {
    let frames = prop_oneof![
        vec(1u32..17, 1..200),
        vec(1u32..700, 1..200),
        vec(1u32..8193, 1..60),
        (
            select(vec![16u32, 64, 128, 480, 512, 1024, 4096]),
            1usize..60
        )
            .prop_map(|(frames, blocks)| vec![frames; blocks]),
    ];
    let cycle = option::of((position(0..12), loop_beats()));
    // How tempo and reports behave over the run.
    let manner = (0u8..3, 0u8..4, tempo());
    (position(-2..40), any::<bool>(), cycle, frames, manner).prop_flat_map(
        |(from, jump, cycle, frames, (tempo_manner, report_manner, first))| {
            let off = match report_manner {
                0 => (-1.0f64..=1.0).boxed(),
                1 => (0.0f64..=1.0).boxed(),
                _ => Just(0.0).boxed(),
            };
            let whole_samples = report_manner == 3 && tempo_manner == 0;
            let cycle = cycle.map(|(from, beats)| (from, from + beats));
            let blocks = frames.len();
            (vec(tempo(), blocks), vec(off, blocks)).prop_map(move |(other, off)| {
                let mut tempo = first;
                let blocks = frames.iter().zip(other.iter().zip(&off));
                let blocks = blocks.map(|(frames, (other, off))| {
                    tempo = match tempo_manner {
                        0 => first,
                        // A ramp of small steps.
                        1 => tempo + (other - tempo) * 0.05,
                        _ => *other,
                    };
                    (*frames, tempo, *off)
                });
                Run {
                    from,
                    jump,
                    cycle,
                    whole_samples,
                    blocks: blocks.collect(),
                }
            })
        },
    )
}

/// A session of up to four runs: starts anywhere, jumps, loops, tempo in steps
/// and ramps, blocks of all sizes, reports that are off by up to a sample
/// wherever a run goes on. It ends with time standing still.
pub fn session(sample_rate_hz: u32) -> impl Strategy<Value = Vec<HostBlock>> {
    vec(run(), 1..5).prop_map(move |runs| blocks_of(&runs, sample_rate_hz))
}

/// Seven samples of standing still.
fn rest() -> HostBlock {
    HostBlock {
        frames: 7,
        tempo_bpm: None,
        from_beats: None,
        cycle: None,
        report: Report::Off(0.0),
    }
}

fn blocks_of(runs: &[Run], sample_rate_hz: u32) -> Vec<HostBlock> {
    let mut blocks: Vec<HostBlock> = Vec::new();
    // Roughly where the run before ends, and its last block.
    let mut end: Option<(f64, u32, f64)> = None;
    let beats =
        |frames: u32, tempo: f64| f64::from(frames) * tempo / (60.0 * f64::from(sample_rate_hz));
    for run in runs {
        let jumps = run.jump && {
            let (at, frames, tempo) = end.unwrap_or((run.from, 0, 0.0));
            let ramp = beats(frames, (run.blocks[0].1 - tempo).abs());
            let turn = run.cycle.map_or(0.0, |(from, to)| to - from);
            [0.0, turn, -turn]
                .iter()
                .all(|turn| (run.from - at - turn).abs() > JUMP_BEATS + ramp)
        };
        if !jumps {
            blocks.push(rest());
        }
        let mut at = run.from;
        for (number, (frames, tempo, off)) in run.blocks.iter().enumerate() {
            let from_beats = (number == 0).then_some(run.from);
            blocks.push(HostBlock {
                frames: *frames,
                tempo_bpm: Some(*tempo),
                from_beats,
                cycle: run.cycle,
                report: match (from_beats, run.whole_samples) {
                    (Some(_), _) => Report::Off(0.0),
                    (None, true) => Report::WholeSample,
                    (None, false) => Report::Off(*off),
                },
            });
            let before = at;
            at += beats(*frames, *tempo);
            if let Some((from, to)) = run.cycle
                && before < to
                && at >= to
            {
                at = from + (at - to) % (to - from);
            }
        }
        end = run
            .blocks
            .last()
            .map(|(frames, tempo, _)| (at, *frames, *tempo));
    }
    blocks.push(rest());
    blocks
}
