//! Playing is left in peace: scores are swapped and the editor opened while the
//! plugin plays.
//!
//! The plugin under test is built with the framework's check that aborts at the
//! first allocation while processing; an abort ends this whole program.

use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::time::{Duration, Instant};

use anyhow::{Context, Result, ensure};
use barform_hosts::form::{Cell, Form, Level, Sound, Span, Stroke};
use barform_tests::display::Display;
use barform_tests::host::{Block, Format, Note, Played, Processor, Transport, check_ends};
use barform_tests::schedule::{Expected, HostBlock, Report, schedule};
use barform_tests::stored::Stored;

const RATE_HZ: u32 = 48_000;
const FRAMES: u32 = 128;
const TEMPO_BPM: f64 = 120.0;

/// A score plays for at least so many blocks before the other takes over; a
/// ninth of a beat is 21 of them.
const TURN_BLOCKS: u32 = 50;

/// Even strokes of one voice.
fn even(slots: usize, voice: usize) -> Form {
    let stroke = Stroke {
        limb: 'R',
        voice,
        level: Level::Normal,
    };
    Form {
        cells: vec![Cell {
            grid: vec![Span {
                slots,
                beats: (1, 1),
            }],
            slots: vec![Some(stroke); slots],
        }],
        order: vec![0],
        ostinatos: vec![],
    }
}

/// Only a build with the check can show that nothing is allocated.
#[test]
fn the_plugin_under_test_checks_for_allocations() -> Result<()> {
    let bytes = std::fs::read(Format::Clap.bundle()?)?;
    // What the checking allocator logs before it aborts.
    let message = b" bytes failed from:\n";
    assert!(bytes.windows(message.len()).any(|window| window == message));
    Ok(())
}

/// Position of each block, as its host reports it.
fn transport(number: u32) -> Transport {
    let samples = f64::from(number) * f64::from(FRAMES);
    Transport::playing(samples * TEMPO_BPM / (60.0 * f64::from(RATE_HZ)), TEMPO_BPM)
}

/// What the threads tell each other.
#[derive(Default)]
struct Signals {
    /// Time is to stop.
    stop: AtomicBool,
    /// So many blocks have been played.
    blocks: AtomicU32,
}

/// Plays in time until told to stop, then stops; returns all notes on samples
/// of the session, and how many blocks were played.
fn play_until(processor: &mut dyn Processor, signals: &Signals) -> Result<(Vec<(i64, Note)>, u32)> {
    let mut played = Played::default();
    let mut notes = Vec::new();
    let mut number = 0;
    let start = Instant::now();
    loop {
        let stopping = signals.stop.load(Ordering::Acquire);
        let time = if stopping {
            Transport::stopped()
        } else {
            transport(number)
        };
        processor.process(&Block::of(FRAMES, time), &mut played)?;
        let sample = i64::from(number) * i64::from(FRAMES);
        for note in &played.notes {
            notes.push((sample + i64::from(note.frame), *note));
        }
        if stopping {
            return Ok((notes, number));
        }
        number += 1;
        signals.blocks.store(number, Ordering::Release);
        let due = f64::from(number) * f64::from(FRAMES) / f64::from(RATE_HZ);
        let due = start + Duration::from_secs_f64(due);
        std::thread::sleep(due.saturating_duration_since(Instant::now()));
    }
}

/// Two scores take turns while time runs and the editor is open. Every note is
/// one of either score on its nearest sample, none is lost between two of the
/// same score, each ends.
#[test]
fn scores_are_swapped_while_playing_with_the_editor_open() -> Result<()> {
    let display = Display::private()?;
    for format in Format::ALL {
        let mut host = format.load()?;
        let empty = Stored::read(format, &host.save()?)?;
        let forms = [even(12, 1), even(9, 4)];
        let states = forms
            .each_ref()
            .map(|form| empty.with_score(&form.score()).write(format));
        host.load(&states[0]);
        let mut processor = host.activate(RATE_HZ.into(), FRAMES)?;
        let window = host.open_editor(&display)?;
        window.drawn(|| {
            host.pump();
            std::thread::sleep(Duration::from_millis(20));
            Ok(())
        })?;
        let signals = Signals::default();
        let (notes, blocks) = std::thread::scope(|scope| {
            let player = scope.spawn(|| play_until(processor.as_mut(), &signals));
            let a_turn = || {
                let since = signals.blocks.load(Ordering::Acquire);
                while signals.blocks.load(Ordering::Acquire) < since + TURN_BLOCKS
                    && !player.is_finished()
                {
                    std::thread::sleep(Duration::from_millis(5));
                }
            };
            for swap in 1..=20 {
                a_turn();
                host.load(&states[swap % 2]);
            }
            a_turn();
            signals.stop.store(true, Ordering::Release);
            player.join().expect("the audio thread")
        })?;
        host.close_editor();
        drop(window);
        host.deactivate(processor)?;

        let blocks: Vec<HostBlock> = (0..blocks)
            .map(|number| HostBlock {
                frames: FRAMES,
                tempo_bpm: Some(TEMPO_BPM),
                from_beats: (number == 0).then_some(0.0),
                cycle: None,
                report: Report::Off(0.0),
            })
            .collect();
        let schedules = forms
            .each_ref()
            .map(|form| schedule(&form.cycles(), &blocks, RATE_HZ, 0.0).expected);
        check_turns(&schedules, &notes).with_context(|| format!("{format:?}"))?;
        check_ends(&notes).with_context(|| format!("{format:?}"))?;
    }
    Ok(())
}

fn check_turns(schedules: &[Vec<Expected>; 2], notes: &[(i64, Note)]) -> Result<()> {
    // Which score, and which of its strokes, each note is.
    let mut turns: Vec<(usize, usize)> = Vec::new();
    for (sample, note) in notes.iter().filter(|(_, note)| note.on) {
        let sound = Sound {
            channel: note.channel,
            key: note.key,
            velocity: note.midi_velocity(),
        };
        let found = schedules.iter().enumerate().find_map(|(score, strokes)| {
            let same = |e: &Expected| e.sample == *sample && e.sound == sound;
            strokes.iter().position(same).map(|stroke| (score, stroke))
        });
        turns.push(found.with_context(|| format!("{note:?} on {sample} is of neither score"))?);
    }
    let mut changes = 0;
    for pair in turns.windows(2) {
        let [(before, last), (after, next)] = [pair[0], pair[1]];
        if before == after {
            ensure!(
                next == last + 1,
                "strokes {last} and {next} of score {before}"
            );
        } else {
            changes += 1;
        }
    }
    ensure!(changes == 20, "the scores took only {changes} turns");
    Ok(())
}

/// The editor opens and closes over and over while time runs.
#[test]
fn the_editor_opens_and_closes_while_playing() -> Result<()> {
    let display = Display::private()?;
    for format in Format::ALL {
        let mut host = format.load()?;
        let mut processor = host.activate(RATE_HZ.into(), FRAMES)?;
        let signals = Signals::default();
        let (notes, _) = std::thread::scope(|scope| {
            let player = scope.spawn(|| play_until(processor.as_mut(), &signals));
            let opened = (0..4).try_for_each(|_| {
                let window = host.open_editor(&display)?;
                window.drawn(|| {
                    host.pump();
                    std::thread::sleep(Duration::from_millis(20));
                    Ok(())
                })?;
                host.close_editor();
                Ok::<(), anyhow::Error>(())
            });
            signals.stop.store(true, Ordering::Release);
            let heard = player.join().expect("the audio thread");
            opened.and(heard)
        })?;
        host.deactivate(processor)?;
        ensure!(notes.iter().any(|(_, note)| note.on), "{format:?}: silence");
        check_ends(&notes).with_context(|| format!("{format:?}"))?;
    }
    Ok(())
}
