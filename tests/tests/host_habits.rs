//! Every habit of hosts by itself, in a real CLAP and a real VST3 host.
//!
//! `barform_hosts::habits` says what each habit is and what it excuses.

use anyhow::{Context, Result, ensure};
use barform_hosts::habits::{Personality, Song};
use barform_hosts::invented::plain_form;
use barform_hosts::known::plans;
use barform_tests::bench::{Bench, note_ons};
use barform_tests::daw::stage::Stage;
use barform_tests::host::{Block, Format, Note, check_ends};
use barform_tests::schedule::{HostBlock, Report, compare, schedule};

/// Plays all plans in a host of one habit, whether the place is told by the
/// sample or not; all that fail are named.
fn holds(host: Personality) -> Result<()> {
    let mut faults = Vec::new();
    for format in Format::ALL {
        let mut stage = Stage::new(format, 48_000, &plain_form())?;
        for song in [host.song, Song::Absent] {
            for plan in plans() {
                let host = Personality { song, ..host }.sensible();
                if let Err(fault) = stage.play(&plan, &host)? {
                    faults.push(format!("{format:?}, {fault}\n    {host:?}\n    {plan:?}"));
                }
            }
        }
    }
    ensure!(
        faults.is_empty(),
        "{} of 96 fail:\n{}",
        faults.len(),
        faults.join("\n")
    );
    Ok(())
}

barform_hosts::each_habit!(holds);

/// Time runs on while the instance is made ready anew, at another sample rate
/// and for other blocks, as when a user changes the audio device's settings.
#[test]
fn sample_rate_and_block_size_change_while_time_runs() -> Result<()> {
    const TEMPO_BPM: f64 = 131.0;
    let settings = [
        (48_000, 8_192, 512),
        (44_100, 256, 256),
        (96_000, 1_024, 777),
        (48_000, 64, 64),
        (22_050, 8_192, 8_192),
        (22_050, 32, 32),
    ];
    for format in Format::ALL {
        let form = plain_form();
        let mut bench = Bench::new(format, 48_000)?;
        bench.load(&form.score())?;
        let mut all: Vec<(i64, Note)> = Vec::new();
        let (mut from_beats, mut sample) = (0.5, 0i64);
        for (number, (rate_hz, most, frames)) in settings.into_iter().enumerate() {
            bench.reactivate(rate_hz, most, number % 2 == 1)?;
            let mut blocks: Vec<HostBlock> = (0..rate_hz / frames)
                .map(|number| HostBlock {
                    frames,
                    tempo_bpm: Some(TEMPO_BPM),
                    from_beats: (number == 0).then_some(from_beats),
                    cycle: None,
                    report: Report::Off(0.0),
                })
                .collect();
            let played = i64::from(frames) * blocks.len() as i64;
            if number + 1 == settings.len() {
                blocks.push(HostBlock {
                    frames: 32,
                    tempo_bpm: None,
                    ..blocks[1].clone()
                });
            }
            // 2^-31 beats: the step of CLAP's positions.
            let resolution = 1.0 / f64::from(1u32 << 31);
            let right = schedule(&form.cycles(), &blocks, rate_hz, resolution);
            let transports = right.blocks.iter();
            let notes = bench.run(transports.map(|(n, told)| Block::of(*n, *told)))?;
            compare(&right.expected, &note_ons(&notes))
                .map_err(anyhow::Error::msg)
                .with_context(|| format!("{format:?}, {rate_hz} Hz, blocks of {frames}"))?;
            all.extend(notes.iter().map(|(at, note)| (sample + at, *note)));
            sample += played;
            from_beats += played as f64 * TEMPO_BPM / (60.0 * f64::from(rate_hz));
        }
        // What sounded at a change has ended too, once.
        check_ends(&all).with_context(|| format!("{format:?}"))?;
    }
    Ok(())
}
