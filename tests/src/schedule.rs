//! What must sound, and on which sample: worked out in exact fractions from
//! the description of a form and of a host's session alone.
//!
//! The rule is the contract's: a stroke at exact time t sounds on the sample
//! nearest to t, ties up. Within a block time moves by tempo / (60 · sample
//! rate) beats a sample; at a loop's end it goes on at the loop's start, between
//! samples if need be.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{One, ToPrimitive, Zero};

use crate::host::Transport;
use barform_hosts::form::{Cycle, Exact, Sound, exact, ratio};

/// One block of a host's session.
#[derive(Debug, Clone, PartialEq)]
pub struct HostBlock {
    /// Samples.
    pub frames: u32,
    /// Beats per minute; `None` while time stands still.
    pub tempo_bpm: Option<f64>,
    /// The host starts here, or jumps here; `None` if it goes on.
    pub from_beats: Option<f64>,
    /// The loop, if it is on.
    pub cycle: Option<(f64, f64)>,
    /// How far off the report of the position is, in samples.
    pub report: Report,
}

/// How a host reports its position.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Report {
    /// Off by so many samples.
    Off(f64),
    /// Rounded down to a whole sample since the start of the run.
    WholeSample,
}

/// A note-on that must come.
#[derive(Debug, Clone, PartialEq)]
pub struct Expected {
    /// The nearest sample of the whole session.
    pub sample: i64,
    /// The other sample that is right too: the host cannot report finely
    /// enough to tell which is nearer.
    pub or_sample: Option<i64>,
    /// Whether one of the two lies where time stands still, so that it need
    /// not come.
    pub optional: bool,
    /// What is heard.
    pub sound: Sound,
}

/// A session as the host tells it, and what must come of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Schedule {
    /// Length and transport of each block.
    pub blocks: Vec<(u32, Transport)>,
    /// In no particular order.
    pub expected: Vec<Expected>,
}

/// Part of a block in which time runs on without a turn.
struct Piece {
    /// In the host's beats.
    from: Exact,
    to: Exact,
    /// Sample of the block, not always a whole one.
    at: Exact,
}

/// Works out the schedule of `cycles`, all of which start at beat 0, in a
/// session of `blocks`. The host cannot report a position more finely than
/// `resolution_beats`.
///
/// # Panics
/// If the session makes no sense: time that goes on without having started.
pub fn schedule(
    cycles: &[Cycle],
    blocks: &[HostBlock],
    sample_rate_hz: u32,
    resolution_beats: f64,
) -> Schedule {
    let mut out = Schedule {
        blocks: Vec::with_capacity(blocks.len()),
        expected: Vec::new(),
    };
    let resolution = exact(resolution_beats);
    let mut line: Option<Exact> = None;
    // Samples of the session so far, and where the run began.
    let (mut sample, mut run_start) = (0i64, 0i64);
    let mut moved = Exact::zero();
    // Strokes of the run, not yet known to lie before its end.
    let mut run: Vec<(Exact, Exact, Sound)> = Vec::new();
    for block in blocks {
        let ends = block.tempo_bpm.is_none() || block.from_beats.is_some();
        if ends {
            settle(&mut run, run_start, sample, &mut out.expected);
        }
        let Some(tempo_bpm) = block.tempo_bpm else {
            line = None;
            out.blocks.push((block.frames, Transport::stopped()));
            sample += i64::from(block.frames);
            continue;
        };
        let step = exact(tempo_bpm) / (ratio(60, 1) * ratio(i64::from(sample_rate_hz), 1));
        let mut pieces = Vec::new();
        if let Some(from) = block.from_beats {
            run_start = sample;
            moved = Exact::zero();
            // A stroke up to half a sample before the first sample is nearest
            // to that sample.
            let from = exact(from);
            let half = &step * ratio(1, 2);
            pieces.push(Piece {
                from: &from - half,
                to: from.clone(),
                at: ratio(-1, 2),
            });
            line = Some(from);
        }
        let start = line.clone().expect("time has started");
        let off = match block.report {
            Report::Off(samples) => exact(samples),
            Report::WholeSample => &moved.floor() - &moved,
        };
        out.blocks.push((
            block.frames,
            Transport {
                position_beats: reported(&start, &off, &step, block.cycle),
                cycle: block.cycle,
                ..Transport::playing(0.0, tempo_bpm)
            },
        ));
        let end = run_through(&start, &step, block, &mut pieces);
        for piece in &pieces {
            for (host, sound) in strokes_between(cycles, &piece.from, &piece.to) {
                let within = &piece.at + (host - &piece.from) / &step;
                let at = within + ratio(sample, 1);
                run.push((at, &resolution / &step, sound));
            }
        }
        sample += i64::from(block.frames);
        moved += ratio(i64::from(block.frames), 1);
        line = Some(end);
    }
    settle(&mut run, run_start, sample, &mut out.expected);
    out
}

/// The position a host reports: the true one and its error. Past the loop's end
/// it reports the place after the turn.
fn reported(line: &Exact, off: &Exact, step: &Exact, cycle: Option<(f64, f64)>) -> f64 {
    let mut at = line + off * step;
    if let Some((from, to)) = cycle
        && *line < exact(to)
        && at >= exact(to)
    {
        at -= exact(to) - exact(from);
    }
    at.to_f64().expect("a position")
}

/// Cuts a block into pieces at the loop's end; returns the position behind it.
fn run_through(start: &Exact, step: &Exact, block: &HostBlock, pieces: &mut Vec<Piece>) -> Exact {
    let frames = ratio(i64::from(block.frames), 1);
    let cycle = block.cycle.map(|(from, to)| (exact(from), exact(to)));
    let (mut from, mut at) = (start.clone(), Exact::zero());
    loop {
        let straight = &from + (&frames - &at) * step;
        // Behind its end a loop is not entered again.
        let turn = cycle
            .as_ref()
            .filter(|(_, end)| from < *end && straight >= *end);
        let Some((again, end)) = turn else {
            pieces.push(Piece {
                from,
                to: straight.clone(),
                at,
            });
            return straight;
        };
        let after = &at + (end - &from) / step;
        pieces.push(Piece {
            from,
            to: end.clone(),
            at,
        });
        (from, at) = (again.clone(), after);
    }
}

/// All strokes in `[from, to)` of the host's beats. Nothing sounds before beat
/// 0, where all cycles start.
fn strokes_between(cycles: &[Cycle], from: &Exact, to: &Exact) -> Vec<(Exact, Sound)> {
    let mut found = Vec::new();
    for (length, strokes) in cycles {
        let mut pass = (from / length).floor().max(BigRational::zero());
        while &pass * length < *to {
            for (at, sound) in strokes {
                let host = &pass * length + at;
                if host >= *from && host < *to {
                    found.push((host, *sound));
                }
            }
            pass += BigRational::one();
        }
    }
    found
}

/// Puts the strokes of a run that has ended on their samples.
fn settle(
    run: &mut Vec<(Exact, Exact, Sound)>,
    start: i64,
    end: i64,
    expected: &mut Vec<Expected>,
) {
    for (at, resolution, sound) in run.drain(..) {
        let up = &at + ratio(1, 2);
        let nearest = up.floor();
        let above = &up - &nearest;
        let sample = whole(nearest.to_integer());
        let or_sample = if above < resolution {
            Some(sample - 1)
        } else if Exact::one() - above <= resolution {
            Some(sample + 1)
        } else {
            None
        };
        let inside = |sample: i64| (start..end).contains(&sample);
        let optional = or_sample.is_some_and(|or| !inside(or) || !inside(sample));
        if inside(sample) || or_sample.is_some_and(inside) {
            expected.push(Expected {
                sample,
                or_sample,
                optional,
                sound,
            });
        }
    }
}

fn whole(number: BigInt) -> i64 {
    number
        .to_i64()
        .expect("a session of less than 2^63 samples")
}

impl Expected {
    fn allows(&self, sample: i64) -> bool {
        sample == self.sample || self.or_sample == Some(sample)
    }
}

/// Whether just the expected note-ons came. `heard` is what came, on samples of
/// the whole session.
///
/// # Errors
/// The first difference.
pub fn compare(expected: &[Expected], heard: &[(i64, Sound)]) -> Result<(), String> {
    let mut sounds: Vec<Sound> = expected.iter().map(|e| e.sound).collect();
    sounds.extend(heard.iter().map(|(_, sound)| *sound));
    sounds.sort();
    sounds.dedup();
    for sound in sounds {
        let mut want: Vec<&Expected> = expected.iter().filter(|e| e.sound == sound).collect();
        want.sort_by_key(|e| e.sample);
        let mut got: Vec<i64> = heard
            .iter()
            .filter(|(_, s)| *s == sound)
            .map(|(sample, _)| *sample)
            .collect();
        got.sort_unstable();
        let mut rest = got.iter().peekable();
        for want in want {
            let next = rest.peek().copied().copied();
            if next.is_some_and(|next| want.allows(next)) {
                rest.next();
            } else if !want.optional {
                return Err(format!("{want:?}, but next comes {next:?}; all: {got:?}"));
            }
        }
        if let Some(extra) = rest.next() {
            return Err(format!(
                "{sound:?} on sample {extra} is not in the score; all: {got:?}"
            ));
        }
    }
    Ok(())
}
