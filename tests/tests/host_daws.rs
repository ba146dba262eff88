//! The demo form in the timing of real DAWs: sample places exact, musical
//! positions rounded to ticks, and through `f32`.
//!
//! What must sound is read from the MIDI file that `barform midi` writes.

use std::collections::BTreeSet;

use anyhow::{Context, Result, bail, ensure};
use barform_hosts::form::{Cycle, Exact, Sound, exact, ratio};
use barform_hosts::habits::{Personality, Position, Song};
use barform_hosts::plan::{Course, Plan, Run, Sizes};
use barform_tests::command::{barform, checked};
use barform_tests::daw::stage::Stage;
use barform_tests::host::Format;
use midly::{MidiMessage, Smf, Timing, TrackEventKind};
use num_traits::ToPrimitive;

const RATE_HZ: u32 = 48_000;

/// The demo form lasts sixteen bars of four beats.
const FORM_BEATS: i64 = 64;

/// Every stroke of the demo form lies on a multiple of this part of a beat, but
/// for grace notes and bounces.
const PER_BEAT: i64 = 24;

/// The default distance of grace notes and of the bounces of a buzz stroke, in
/// milliseconds; what the file's documentation calls its usual ones.
const GRACE_MS: i64 = 25;
const BUZZ_MS: i64 = 30;

/// Notes of the demo form at a tempo, exactly: the file has them in ticks.
fn demo(tempo_bpm: f64) -> Result<Vec<(Exact, Sound)>> {
    let tempo = tempo_bpm.to_string();
    let file = barform()?
        .args([
            "midi", "--demo", "--quiet", "--tempo", &tempo, "--output", "-",
        ])
        .output()?;
    ensure!(file.status.success(), "barform midi: {}", file.status);
    let file = Smf::parse(&file.stdout)?;
    let Timing::Metrical(per_beat) = file.header.timing else {
        bail!("a MIDI file in seconds");
    };
    let per_beat = i64::from(per_beat.as_int());
    let mut notes = Vec::new();
    for track in &file.tracks {
        let mut tick = 0i64;
        for event in track {
            tick += i64::from(event.delta.as_int());
            if let TrackEventKind::Midi {
                channel,
                message: MidiMessage::NoteOn { key, vel },
            } = event.kind
                && vel > 0
            {
                let sound = Sound {
                    channel: channel.as_int(),
                    key: key.as_int(),
                    velocity: vel.as_int(),
                };
                notes.push((tick, sound));
            }
        }
    }
    let grid = per_beat / PER_BEAT;
    let main: BTreeSet<i64> = notes
        .iter()
        .map(|(tick, _)| *tick)
        .filter(|tick| tick % grid == 0)
        .collect();
    // Of the places that grace notes and bounces can have, the nearest.
    let tempo = exact(tempo_bpm);
    let beats = |ms: i64| ratio(ms, 60_000) * &tempo;
    let offsets: Vec<Exact> = (1..=2)
        .map(|n| beats(-n * GRACE_MS))
        .chain((1..=8).map(|n| beats(n * BUZZ_MS)))
        .collect();
    let place = |tick: i64| -> Result<Exact> {
        let at = ratio(tick, per_beat);
        if tick % grid == 0 {
            return Ok(at);
        }
        let near = main.range(tick - per_beat..tick + per_beat);
        let places = near.flat_map(|main| offsets.iter().map(|off| ratio(*main, per_beat) + off));
        let off = |place: &Exact| (place - &at) * (place - &at);
        let nearest = places
            .min_by_key(|place| off(place))
            .context("no main stroke")?;
        ensure!(
            off(&nearest) <= ratio(1, 4 * per_beat * per_beat),
            "what is the note on tick {tick}?"
        );
        Ok(nearest)
    };
    let mut exactly = notes
        .into_iter()
        .map(|(tick, sound)| Ok((place(tick)?, sound)))
        .collect::<Result<Vec<_>>>()?;
    exactly.sort();
    Ok(exactly)
}

/// The demo form once, from a place in the song on that is near to `beat`: the
/// sample nearest to it.
fn once(beat: i64, tempo_bpm: f64, frames: u32) -> Plan {
    let step = exact(tempo_bpm) / ratio(60 * i64::from(RATE_HZ), 1);
    let sample = (ratio(beat, 1) / &step).round();
    let samples = ratio(FORM_BEATS, 1) / &step;
    let blocks = (samples / ratio(i64::from(frames), 1)).ceil();
    Plan {
        one_tempo: true,
        runs: vec![Run {
            // A hair more, so that it is not taken for the sample before.
            from_beats: (sample * step).to_f64().expect("a position") + 1e-10,
            jumps: false,
            cycle: None,
            sizes: Sizes::Even(frames),
            blocks: blocks.to_u32().expect("a song"),
            tempo: Course::Even(tempo_bpm),
        }],
        seed: 0,
    }
}

fn plays_the_demo(format: Format, position: Position) -> Result<()> {
    let score = checked(barform()?.arg("demo").output()?, "barform demo")?;
    let mut stage = Stage::with_score(format, RATE_HZ, score.clone(), Vec::new())?;
    let host = Personality {
        position,
        song: Song::Whole,
        ..Personality::EXACT
    };
    let mut faults = Vec::new();
    // At 93.75 beats a minute blocks of 64 samples are whole ticks.
    for tempo_bpm in [92.0, 90.0, 100.0, 120.0, 47.0, 233.0, 93.75] {
        let notes = demo(tempo_bpm)?;
        let count = notes.len();
        let form: Cycle = (ratio(FORM_BEATS, 1), notes);
        stage.set_score(score.clone(), vec![form]);
        for frames in [64, 256, 1_024] {
            for beat in [0, 2_560] {
                let case = format!("{tempo_bpm} bpm, blocks of {frames}, from beat {beat}");
                match stage.play(&once(beat, tempo_bpm, frames), &host)? {
                    Ok(strokes) => ensure!(
                        (count..count + 2).contains(&strokes),
                        "{case}: {strokes} strokes for {count}"
                    ),
                    Err(fault) => faults.push(format!("{case}: {fault}")),
                }
            }
        }
    }
    ensure!(
        faults.is_empty(),
        "{format:?}, {} of 42 fail:\n{}",
        faults.len(),
        faults.join("\n")
    );
    Ok(())
}

#[test]
fn the_demo_in_vst3_with_positions_to_a_1920th_and_exact_samples() -> Result<()> {
    plays_the_demo(Format::Vst3, Position::Nearest(1_920))
}

#[test]
fn the_demo_in_clap_with_positions_to_a_7680th_and_exact_seconds() -> Result<()> {
    plays_the_demo(Format::Clap, Position::NearestSingle(7_680))
}

#[test]
fn the_demo_where_positions_are_exact() -> Result<()> {
    for format in Format::ALL {
        plays_the_demo(format, Position::Exact)?;
    }
    Ok(())
}
