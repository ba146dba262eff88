//! Parameters moved, keys pressed and jumps made at random while the plugin
//! plays.
//!
//! As in `host_realtime`, an allocation while processing ends this program.

use anyhow::{Context, Result, ensure};
use barform_tests::host::{
    Block, Format, Note, ParamChange, Played, Processor, Transport, check_ends,
};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed, TestCaseError, TestRunner};

const RATE_HZ: u32 = 48_000;
const TEMPO_BPM: f64 = 120.0;

/// What a host does to a block besides reporting time.
#[derive(Debug, Clone)]
struct Meddling {
    frames: u32,
    beats: f64,
    playing: bool,
    /// Which parameter, where it moves in the block, and where to.
    params: Vec<(prop::sample::Index, prop::sample::Index, f64)>,
    /// Keys that go down and up.
    keys: Vec<(u8, prop::sample::Index)>,
}

fn meddling() -> impl Strategy<Value = Meddling> {
    let value = prop_oneof![Just(0.0), Just(1.0), 0.0f64..1.0];
    let param = (
        any::<prop::sample::Index>(),
        any::<prop::sample::Index>(),
        value,
    );
    (
        1u32..2049,
        prop_oneof![3 => Just(f64::NAN), 1 => -4.0f64..64.0],
        prop::bool::weighted(0.9),
        vec(param, 0..4),
        vec((70u8..96, any::<prop::sample::Index>()), 0..3),
    )
        .prop_map(|(frames, beats, playing, params, keys)| Meddling {
            frames,
            beats,
            playing,
            params,
            keys,
        })
}

/// Every parameter a host can move, moved at random while playing, with keys
/// pressed and jumps: nothing is allocated, the sound stays sound, and in the
/// end nothing hangs.
#[test]
fn parameters_and_keys_while_playing_leave_nothing_hanging() -> Result<()> {
    for format in Format::ALL {
        let mut host = format.load()?;
        let params = host.params()?;
        let ids: Vec<u32> = params.iter().filter(|p| !p.hidden).map(|p| p.id).collect();
        let bypass = params.iter().find(|p| p.bypass).context("no bypass")?.id;
        let processor = host.activate(RATE_HZ.into(), 2_048)?;
        let processor = std::cell::RefCell::new(processor);
        let mut runner = TestRunner::new(Config {
            cases: 60,
            rng_seed: RngSeed::Fixed(3),
            failure_persistence: None,
            ..Config::default()
        });
        runner.run(&vec(meddling(), 1..60), |blocks| {
            meddle(processor.borrow_mut().as_mut(), &ids, bypass, &blocks)
                .map_err(|error| TestCaseError::fail(format!("{format:?}: {error:#}")))
        })?;
        host.deactivate(processor.into_inner())?;
    }
    Ok(())
}

fn meddle(
    processor: &mut dyn Processor,
    ids: &[u32],
    bypass: u32,
    blocks: &[Meddling],
) -> Result<()> {
    // Time stands still, and bypass goes on or off.
    let switch = [0.0, 1.0].map(|value| {
        [ParamChange {
            id: bypass,
            frame: 0,
            value,
        }]
    });
    let quiet = |on: usize| Block {
        params: &switch[on],
        ..Block::of(64, Transport::stopped())
    };
    let mut played = Played::default();
    let mut notes = Vec::new();
    let (mut sample, mut at) = (0i64, 0.0f64);
    let mut step = |block: &Block, played: &mut Played| -> Result<()> {
        processor.process(block, played)?;
        let sound = played.audio.iter().flatten();
        ensure!(
            sound.clone().all(|s| s.is_finite()),
            "not a number in the sound"
        );
        ensure!(sound.into_iter().all(|s| s.abs() <= 1.0), "the sound clips");
        notes.extend(
            played
                .notes
                .iter()
                .map(|n| (sample + i64::from(n.frame), *n)),
        );
        sample += i64::from(block.frames);
        Ok(())
    };
    step(&quiet(0), &mut played)?;
    for block in blocks {
        if block.beats.is_finite() {
            at = block.beats;
        }
        let mut params: Vec<ParamChange> = block
            .params
            .iter()
            .map(|(which, frame, value)| ParamChange {
                id: ids[which.index(ids.len())],
                frame: frame.index(block.frames as usize) as u32,
                value: *value,
            })
            .collect();
        params.sort_by_key(|change| change.frame);
        let mut keys: Vec<Note> = Vec::new();
        for (key, frame) in &block.keys {
            if keys.iter().any(|note| note.key == *key) {
                continue;
            }
            let frame = frame.index(block.frames as usize) as u32;
            // Down now, up at the block's end.
            for (on, frame) in [(true, frame), (false, block.frames - 1)] {
                keys.push(Note {
                    frame,
                    on,
                    channel: 0,
                    key: *key,
                    velocity: 0.5,
                });
            }
        }
        keys.sort_by_key(|note| note.frame);
        let transport = Transport {
            playing: block.playing,
            ..Transport::playing(at, TEMPO_BPM)
        };
        let block = Block {
            frames: block.frames,
            transport: Some(transport),
            notes: &keys,
            params: &params,
        };
        step(&block, &mut played)?;
        at += f64::from(block.frames) * TEMPO_BPM / (60.0 * f64::from(RATE_HZ));
    }
    // The own clock may run by now; bypass stops it too.
    step(&quiet(1), &mut played)?;
    check_ends(&notes)
}
