//! What a host pays: one block of `process`, and making an instance, against a
//! plugin of the same framework that does nothing.
//!
//! The host here does as little as it can, so that the figures are the
//! plugins' own: buffers and events are made once, and one call into the
//! plugin is all that is measured. Each block is played several times, and the
//! least of its times counts: whatever else the machine does only ever adds.

use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use anyhow::{Context, Result};
use barform_tests::host::{Format, target_dir};
use barform_tests::stored::Stored;
use clack_extensions::state::PluginState;
use clack_host::events::event_types::{TransportEvent, TransportFlags};
use clack_host::prelude::*;
use clack_host::utils::{BeatTime, SecondsTime};
use criterion::{Criterion, criterion_group, criterion_main};
use serde_json::json;

const FRAMES: u32 = 64;
const SAMPLE_RATE: f64 = 48_000.0;
const TEMPO: f64 = 120.0;

/// Blocks per measured turn: long enough for a few beats, strokes and all.
const BLOCKS: u32 = 2_000;

/// How often each of them is played at least.
const TURNS: u64 = 10;

struct Bare;

struct Deaf;

impl SharedHandler<'_> for Deaf {
    fn request_restart(&self) {}
    fn request_process(&self) {}
    fn request_callback(&self) {}
}

impl HostHandlers for Bare {
    type Shared<'a> = Deaf;
    type MainThread<'a> = ();
    type AudioProcessor<'a> = ();
}

/// What the release build has left: a CLAP file is a plain library.
fn library(name: &str) -> PathBuf {
    let prefix = std::env::consts::DLL_PREFIX;
    let suffix = std::env::consts::DLL_SUFFIX;
    target_dir()
        .join("release")
        .join(format!("{prefix}{name}{suffix}"))
}

fn instance(entry: &PluginEntry) -> Result<PluginInstance<Bare>> {
    let factory = entry.get_plugin_factory().context("no plugin factory")?;
    let descriptor = factory.plugin_descriptor(0).context("no plugin")?;
    let id = descriptor.id().context("no id")?;
    let info = HostInfo::new("Barform benches", "Barform", "", env!("CARGO_PKG_VERSION"))?;
    Ok(PluginInstance::<Bare>::new(
        |_| Deaf,
        |_| (),
        entry,
        id,
        &info,
    )?)
}

fn load(path: &Path) -> Result<PluginEntry> {
    // SAFETY: the library is ours, built by this workspace; its initialisers do
    // nothing but set up the Rust runtime.
    unsafe { PluginEntry::load(path) }.with_context(|| format!("cannot load {}", path.display()))
}

/// Every slot struck, sixteenth-note triplets with flams, and a foot ostinato.
fn dense(bars: usize) -> String {
    format!(
        "barform = 1\ntempo = 120\nform = \"(A)x{} A\"\n\
         [cell.A]\ngrid = \"6 6 6 6\"\n\
         sticking = \"lR L R L R L  R L R L K K  R> L R L R L  R L R L K K\"\n\
         [ostinato.hat]\ngrid = \"2\"\nsticking = \"- H\"\n",
        bars - 1
    )
}

/// Plays that score, notes only.
fn set_up(instance: &mut PluginInstance<Bare>, bars: usize) -> Result<()> {
    let state: PluginState = instance
        .plugin_shared_handle()
        .get_extension()
        .context("no state")?;
    let mut bytes = Vec::new();
    state.save(&instance.plugin_handle(), &mut bytes)?;
    let stored = Stored::read(Format::Clap, &bytes)?
        .with_score(&dense(bars))
        .with_param("sound", json!(false));
    let wanted = stored.write(Format::Clap);
    state.load(&instance.plugin_handle(), &mut wanted.as_slice())?;
    Ok(())
}

/// Time of `BLOCKS` calls of `process`, each at its best, times `turns`.
fn blocks(instance: &mut PluginInstance<Bare>, turns: u64) -> Result<Duration> {
    let config = PluginAudioConfiguration {
        sample_rate: SAMPLE_RATE,
        min_frames_count: FRAMES,
        max_frames_count: FRAMES,
    };
    let mut plugin = instance
        .activate(|_, _| (), config)?
        .start_processing()
        .map_err(|_| anyhow::anyhow!("it does not start"))?;
    let input = EventBuffer::new();
    let mut output = EventBuffer::with_capacity(1_024);
    let mut inputs = AudioPorts::with_capacity(0, 0);
    let mut outputs = AudioPorts::with_capacity(2, 1);
    let (mut left, mut right) = ([0.0f32; FRAMES as usize], [0.0f32; FRAMES as usize]);
    let step = f64::from(FRAMES) * TEMPO / (60.0 * SAMPLE_RATE);
    let mut least = [Duration::MAX; BLOCKS as usize];
    for _ in 0..turns.max(TURNS) {
        let mut beats = 8.0;
        for least in &mut least {
            let transport = TransportEvent {
                header: Default::default(),
                flags: TransportFlags::HAS_TEMPO
                    | TransportFlags::HAS_BEATS_TIMELINE
                    | TransportFlags::IS_PLAYING,
                song_pos_beats: BeatTime::from_float(beats),
                song_pos_seconds: SecondsTime::default(),
                tempo: TEMPO,
                tempo_inc: 0.0,
                loop_start_beats: BeatTime::default(),
                loop_end_beats: BeatTime::default(),
                loop_start_seconds: SecondsTime::default(),
                loop_end_seconds: SecondsTime::default(),
                bar_start: BeatTime::default(),
                bar_number: 0,
                time_signature_numerator: 4,
                time_signature_denominator: 4,
            };
            let audio_in = inputs.with_input_buffers(std::iter::empty::<
                AudioPortBuffer<
                    std::iter::Empty<InputChannel<f32>>,
                    std::iter::Empty<InputChannel<f64>>,
                >,
            >());
            let mut audio_out = outputs.with_output_buffers([AudioPortBuffer {
                latency: 0,
                channels: AudioPortBufferType::f32_output_only(
                    [left.as_mut_slice(), right.as_mut_slice()].into_iter(),
                ),
            }]);
            output.clear();
            let start = Instant::now();
            let status = plugin.process(
                &audio_in,
                &mut audio_out,
                &input.as_input(),
                &mut output.as_output(),
                None,
                Some(&transport),
            );
            *least = start.elapsed().min(*least);
            black_box(status?);
            beats += step;
        }
    }
    instance.deactivate(plugin.stop_processing());
    let turns = u32::try_from(turns).context("too many turns")?;
    Ok(least.iter().sum::<Duration>() * turns)
}

fn process(c: &mut Criterion) {
    let empty = load(&library("barform_empty")).expect("cargo xtask bench builds it");
    let mut nothing = instance(&empty).expect("an instance");
    c.bench_function("process_64_frames/empty", |b| {
        b.iter_custom(|turns| blocks(&mut nothing, turns).expect("plays"));
    });
    let barform = load(&library("barform_clap")).expect("cargo xtask bench builds it");
    for bars in [10, 10_000] {
        let mut plays = instance(&barform).expect("an instance");
        set_up(&mut plays, bars).expect("takes the score");
        c.bench_function(&format!("process_64_frames/{bars}"), |b| {
            b.iter_custom(|turns| blocks(&mut plays, turns).expect("plays"));
        });
    }
}

fn instantiate(c: &mut Criterion) {
    for name in ["barform_empty", "barform_clap"] {
        let entry = load(&library(name)).expect("cargo xtask bench builds it");
        c.bench_function(&format!("instantiate/{name}"), |b| {
            b.iter_with_large_drop(|| instance(&entry).expect("an instance"));
        });
    }
    let entry = load(&library("barform_clap")).expect("cargo xtask bench builds it");
    let config = PluginAudioConfiguration {
        sample_rate: SAMPLE_RATE,
        min_frames_count: FRAMES,
        max_frames_count: FRAMES,
    };
    let mut group = c.benchmark_group("activate");
    group.sample_size(10);
    // Each turn is the first instance of its process: no kit is there to share.
    group.bench_function("first", |b| {
        b.iter_custom(|turns| {
            let mut took = Duration::ZERO;
            for _ in 0..turns {
                let mut one = instance(&entry).expect("an instance");
                let start = Instant::now();
                let stopped = one.activate(|_, _| (), config).expect("activates");
                took += start.elapsed();
                one.deactivate(stopped);
            }
            took
        });
    });
    group.finish();
}

criterion_group!(benches, process, instantiate);
criterion_main!(benches);
