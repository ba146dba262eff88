//! Loops of the host in a real CLAP and a real VST3 host: what goes round in
//! them, and who reaches their end first.

use anyhow::{Context, Result, ensure};
use barform_hosts::form::{Cell, Exact, Form, Level, Sound, Span, Stroke, exact, ratio};
use barform_tests::bench::{Bench, note_ons};
use barform_tests::host::{Block, Format, Note, Transport, check_ends};
use barform_tests::schedule::{HostBlock, Report, compare, schedule};
use num_traits::ToPrimitive;

const RATE_HZ: u32 = 48_000;

/// The key of the first letter; README.
const FIRST_LETTER_KEY: u8 = 84;

fn stroke(limb: char, voice: usize) -> Option<Stroke> {
    Some(Stroke {
        limb,
        voice,
        level: Level::Normal,
    })
}

/// So many beats of even strokes.
fn even(slots: usize, beats: i64, stroke: Option<Stroke>) -> Cell {
    Cell {
        grid: vec![Span {
            slots,
            beats: (beats, 1),
        }],
        slots: vec![stroke; slots],
    }
}

/// Two bars of A and three of B, over a foot on each &.
fn two_letters() -> Form {
    Form {
        cells: vec![even(16, 4, stroke('R', 1)), even(9, 3, stroke('L', 4))],
        order: vec![0, 0, 1, 1, 1, 1],
        ostinatos: vec![Cell {
            slots: vec![None, stroke('H', 2)],
            ..even(2, 1, None)
        }],
    }
}

/// A stretch of the session in which one letter sounds, in beats since the host
/// started, as if its loop did not turn.
struct Round {
    tempo_bpm: f64,
    /// The host's loop; time starts at its first beat.
    cycle: (Exact, Exact),
    /// Where the letter takes over from the form, and where it gives way again.
    letter: (Exact, Exact),
    end: Exact,
}

impl Round {
    /// The sample nearest to a beat, ties up.
    fn sample(&self, beats: &Exact) -> i64 {
        let step = exact(self.tempo_bpm) / ratio(60 * i64::from(RATE_HZ), 1);
        let nearest = (beats / step + ratio(1, 2)).floor();
        nearest.to_i64().expect("a short session")
    }

    /// The host's position `beats` after its start.
    fn host(&self, beats: &Exact) -> Exact {
        let (from, to) = &self.cycle;
        let laps = (beats / (to - from)).floor();
        from + beats - laps * (to - from)
    }

    /// What must sound.
    fn expected(&self, form: &Form) -> Vec<(i64, Sound)> {
        let (from, to) = &self.cycle;
        let mut sounds = Vec::new();
        let fixed: Vec<_> = form.cycles();
        let mut lap = ratio(0, 1);
        while lap < self.end {
            for (number, (length, strokes)) in fixed.iter().enumerate() {
                let mut start = ratio(0, 1);
                while start < *to {
                    for (at, sound) in strokes {
                        let host = &start + at;
                        let beats = &lap + &host - from;
                        let gives_way =
                            number == 0 && self.letter.0 <= beats && beats < self.letter.1;
                        if *from <= host && host < *to && beats < self.end && !gives_way {
                            sounds.push((self.sample(&beats), *sound));
                        }
                    }
                    start += length;
                }
            }
            lap += to - from;
        }
        // The letter goes round in its own time, whatever the loop does.
        let letter = &form.cells[1];
        let mut start = self.letter.0.clone();
        while start < self.letter.1 {
            for (at, sound) in letter.strokes() {
                let beats = &start + at;
                if beats < self.letter.1 {
                    sounds.push((self.sample(&beats), sound));
                }
            }
            start += letter.beats();
        }
        sounds.sort();
        sounds
    }
}

/// A letter's key goes down and comes up again several turns of the loop later:
/// the letter goes round unbroken from the bar line after the one to the bar
/// line after the other, while the ostinato follows the host.
#[test]
fn a_letter_held_by_key_goes_round_while_the_loop_turns_back() -> Result<()> {
    let form = two_letters();
    // Bar lines are on beats 4 and 8. From beat 2 on the key is down at 2.6 and
    // up at 3.3 of the third round.
    let cycle = (ratio(2, 1), ratio(15, 2));
    let length = &cycle.1 - &cycle.0;
    let third = ratio(2, 1) * &length;
    let round = Round {
        tempo_bpm: 117.0,
        letter: (ratio(2, 1), &third + ratio(2, 1)),
        end: ratio(22, 1),
        cycle,
    };
    let (down, up) = (
        round.sample(&ratio(6, 10)),
        round.sample(&(third + ratio(13, 10))),
    );
    let expected = round.expected(&form);
    let step = exact(round.tempo_bpm) / ratio(60 * i64::from(RATE_HZ), 1);
    let key = |on, frame: i64| Note {
        frame: u32::try_from(frame).expect("a block"),
        on,
        channel: 0,
        key: FIRST_LETTER_KEY + 1,
        velocity: 0.5,
    };
    let loop_beats = [&round.cycle.0, &round.cycle.1].map(|b| b.to_f64().expect("a beat"));
    for format in Format::ALL {
        let mut bench = Bench::new(format, RATE_HZ)?;
        bench.load(&form.score())?;
        for frames in [37i64, 512, 1_000, 8_192] {
            let end = round.sample(&round.end);
            let starts: Vec<i64> = (0..).map(|n| n * frames).take_while(|s| *s < end).collect();
            let keys: Vec<Vec<Note>> = starts
                .iter()
                .map(|start| {
                    let inside = |at: &i64| (0..frames).contains(&(at - start));
                    let press = Some(down).filter(inside).map(|at| key(true, at - start));
                    let release = Some(up).filter(inside).map(|at| key(false, at - start));
                    press.into_iter().chain(release).collect()
                })
                .collect();
            let mut blocks: Vec<Block> = starts
                .iter()
                .zip(&keys)
                .map(|(start, keys)| {
                    let at = round.host(&(ratio(*start, 1) * &step));
                    let transport = Transport {
                        cycle: Some((loop_beats[0], loop_beats[1])),
                        ..Transport::playing(at.to_f64().expect("a beat"), round.tempo_bpm)
                    };
                    // The last one ends with the session.
                    let frames = frames.min(end - start) as u32;
                    Block {
                        notes: keys,
                        ..Block::of(frames, transport)
                    }
                })
                .collect();
            blocks.push(Block::of(64, Transport::stopped()));
            let notes = bench.run(blocks)?;
            check_ends(&notes)?;
            let mut heard = note_ons(&notes);
            heard.sort();
            let first = heard
                .iter()
                .zip(&expected)
                .find(|(heard, right)| heard != right);
            ensure!(
                first.is_none() && heard.len() == expected.len(),
                "{format:?}, {frames} samples: {} notes for {}, first difference {first:?}",
                heard.len(),
                expected.len()
            );
        }
    }
    Ok(())
}

/// A loop far from the song's start. At each turn a block begins within a sample
/// behind the loop's end, where the host, off by up to a sample, still tells a
/// position before it: the plugin has turned, the host has not.
#[test]
fn a_loop_s_end_that_is_reached_before_the_host_says_so() -> Result<()> {
    const TEMPO_BPM: f64 = 120.0;
    let (from, to) = (5.0, 8.0);
    // 24,000 samples a beat: a block divides the loop.
    let frames = 1_000;
    let step = TEMPO_BPM / 60.0 / f64::from(RATE_HZ);
    let form = Form {
        cells: vec![even(4, 1, stroke('R', 1))],
        order: vec![0],
        ostinatos: vec![],
    };
    for format in Format::ALL {
        let mut bench = Bench::new(format, RATE_HZ)?;
        for behind in [0.05, 0.3, 0.45, 0.55, 0.7, 0.95] {
            for off in [-0.97, -0.5] {
                let block = |number: u32| HostBlock {
                    frames,
                    tempo_bpm: Some(TEMPO_BPM),
                    from_beats: (number == 0).then_some(from + behind * step),
                    cycle: Some((from, to)),
                    report: Report::Off(if number.is_multiple_of(72) && number > 0 {
                        off
                    } else {
                        0.0
                    }),
                };
                let mut blocks: Vec<HostBlock> = (0..300).map(block).collect();
                blocks.push(HostBlock {
                    frames: 64,
                    tempo_bpm: None,
                    ..blocks[1].clone()
                });
                let resolution = 1.0 / f64::from(1u32 << 31);
                let mut right = schedule(&form.cycles(), &blocks, RATE_HZ, resolution);
                let mut early = 0;
                for (_, transport) in &mut right.blocks {
                    if transport.playing && transport.position_beats < from {
                        transport.position_beats += to - from;
                        early += 1;
                    }
                }
                // Four turns, at each of which the host is behind if it can be.
                ensure!(
                    early == if behind + off < 0.0 { 4 } else { 0 },
                    "{early} turns"
                );
                let notes = bench.play(&form.score(), &right.blocks)?;
                check_ends(&notes)?;
                compare(&right.expected, &note_ons(&notes))
                    .map_err(anyhow::Error::msg)
                    .with_context(|| format!("{format:?}, {behind} behind, off by {off}"))?;
            }
        }
    }
    Ok(())
}
