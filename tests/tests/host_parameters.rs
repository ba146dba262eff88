//! A host that sends everything at once, as some do when a session loads: a
//! change of each parameter, or thousands of notes, in one block. There is room
//! for all of it.
//!
//! The framework allows itself an allocation where its room for events ends,
//! and says so in its log: that line must not come.

use std::path::Path;

use anyhow::{Context, Result, ensure};
use barform_tests::host::{
    Block, Format, Host, Note, Param, ParamChange, Played, Transport, check_ends,
};

const FRAMES: u32 = 512;

/// Controllers of MIDI 1.0 with channel pressure and pitch bend, on sixteen
/// channels: as many events may come at once where a host brings a sampler up
/// to date.
const EVENTS: u32 = 130 * 16;

/// What the framework says when it runs out of room.
const OUT_OF_ROOM: &str = "This will cause an allocation";

/// Every parameter at its start, on the first sample.
fn all(params: &[Param]) -> Vec<ParamChange> {
    let change = |param: &Param| ParamChange {
        frame: 0,
        id: param.id,
        value: param.default,
    };
    params.iter().map(change).collect()
}

/// Strokes that begin and end within one block, `EVENTS` of each.
fn flood() -> Vec<Note> {
    let note = |n: u32| {
        let (stroke, on) = (n / 2, n.is_multiple_of(2));
        Note {
            frame: stroke * FRAMES / EVENTS,
            on,
            channel: (stroke % 16) as u8,
            key: 36 + (stroke / 16 % 32) as u8,
            velocity: if on { 0.5 } else { 0.0 },
        }
    };
    (0..2 * EVENTS).map(note).collect()
}

/// Names of what a user can move.
fn names(host: &mut dyn Host) -> Result<Vec<String>> {
    let params = host.params()?;
    Ok(params.into_iter().map(|param| param.name).collect())
}

#[test]
fn everything_at_once_finds_room() -> Result<()> {
    let log = Path::new(env!("CARGO_TARGET_TMPDIR")).join("host_parameters.log");
    let _ = std::fs::remove_file(&log);
    // SAFETY: the only test of this program, before a plugin is loaded: no
    // other thread reads the environment.
    unsafe { std::env::set_var("NICE_LOG", &log) };
    for format in Format::ALL {
        let mut host = format.load()?;
        let params = host.params()?;
        let mut processor = host.activate(48_000.0, FRAMES)?;
        let mut played = Played::default();
        let (changes, notes) = (all(&params), flood());
        // Twice, as a host does that loads and then starts.
        for _ in 0..2 {
            let block = Block {
                params: &changes,
                ..Block::of(FRAMES, Transport::stopped())
            };
            processor.process(&block, &mut played)?;
        }
        let block = Block {
            notes: &notes,
            ..Block::of(FRAMES, Transport::stopped())
        };
        processor.process(&block, &mut played)?;
        let through: Vec<_> = played.notes.iter().map(|n| (n.frame.into(), *n)).collect();
        ensure!(
            through.len() == notes.len(),
            "{format:?}: {}",
            through.len()
        );
        check_ends(&through).with_context(|| format!("{format:?}"))?;
        host.deactivate(processor)?;
        // A refusal, so that the log is seen to be written.
        host.load(b"no state");
    }
    let log = std::fs::read_to_string(&log).context("no log")?;
    ensure!(log.contains("state"), "the log lacks the refusal: {log}");
    let lines: Vec<&str> = log.lines().filter(|l| l.contains(OUT_OF_ROOM)).collect();
    ensure!(lines.is_empty(), "{}", lines.join("\n"));

    // What a user sees in one format is in the other, and nothing else is.
    let [clap, vst3] = Format::ALL.map(|format| names(format.load()?.as_mut()));
    let (clap, vst3) = (clap?, vst3?);
    ensure!(clap == vst3, "{} and {} parameters", clap.len(), vst3.len());
    Ok(())
}
