//! One block of a session as the host has it in mind, and what it makes of a
//! whole list of them: positions, flags and tempos that come late.

use num_traits::One;

use crate::form::{Exact, ratio};
use crate::habits::{Personality, Ramp, Tempo};
use crate::time::{Cycle, Leg, Slope};

/// What one position is told for: a block, or the parts of one.
#[derive(Debug, Clone)]
pub(super) struct Buffer {
    /// Its first sample.
    pub start: i64,
    /// Samples of each part.
    pub parts: Vec<u32>,
    /// Whether the host says that time runs.
    pub plays: bool,
    /// Whether the line starts anew: a start, a jump, a turn of a loop that is
    /// not told.
    pub breaks: bool,
    /// Whether the line waits for a block at its first position.
    pub held: bool,
    /// Whether the fraction of a sample was dropped before it.
    pub rounded_turn: bool,
    /// The position to tell.
    pub told: Exact,
    /// The same by the sample.
    pub song: Exact,
    /// The line in it.
    pub legs: Vec<Leg>,
    /// What the line goes by at its end, and where it is then.
    pub slope: Slope,
    /// See `slope`.
    pub end: Exact,
    /// Tempo at its start, in the mean and at its end, in beats per minute.
    pub tempos_bpm: [f64; 3],
    /// The tempo to tell, in beats per minute.
    pub tempo_bpm: f64,
    /// The loop to tell.
    pub cycle: Option<(f64, f64)>,
    /// The loop that the line follows.
    pub follows: Option<Cycle>,
}

impl Buffer {
    /// Samples.
    pub fn frames(&self) -> u32 {
        self.parts.iter().sum()
    }

    /// Whether the line turns back in it.
    pub fn turns(&self) -> bool {
        self.legs.windows(2).any(|legs| legs[0].to != legs[1].from)
    }
}

/// Each position is told a block late, and the tempo with it; blocks are all as long as each other.
pub(super) fn make_stale(buffers: &mut [Buffer]) {
    for number in (1..buffers.len()).rev() {
        let (before, at) = buffers.split_at_mut(number);
        let (before, at) = (&before[number - 1], &mut at[0]);
        if !at.plays {
            continue;
        }
        if !before.plays {
            (at.legs, at.held, at.end) = (Vec::new(), true, at.told.clone());
            continue;
        }
        let frames = Exact::one() * ratio(i64::from(at.frames()), 1);
        at.legs.clone_from(&before.legs);
        for leg in &mut at.legs {
            leg.at += &frames;
        }
        let first = number < 2 || !buffers[number - 2].plays;
        let before = buffers[number - 1].clone();
        let at = &mut buffers[number];
        at.breaks = before.breaks && !first;
        (at.told, at.song, at.end) = (before.told, before.song, before.end);
        (at.cycle, at.follows, at.slope) = (before.cycle, before.follows, before.slope);
        at.tempos_bpm = before.tempos_bpm;
    }
}

/// Each block is told to play if the one before did.
pub(super) fn make_flags_late(buffers: &mut [Buffer]) {
    for number in (1..buffers.len()).rev() {
        buffers[number].plays = buffers[number - 1].plays;
    }
    for number in 1..buffers.len() {
        let starts = buffers[number].plays && !buffers[number - 1].plays;
        buffers[number].breaks |= starts;
    }
}

/// What is told of the tempo in each block.
pub(super) fn tell_tempos(buffers: &mut [Buffer], host: &Personality) {
    let mut before: Option<f64> = None;
    for buffer in buffers {
        let [first, mean, last] = buffer.tempos_bpm;
        let now = match host.ramp {
            Ramp::First => first,
            Ramp::Mean => mean,
            Ramp::Last => last,
        };
        buffer.tempo_bpm = match host.tempo {
            Tempo::Exact => now,
            Tempo::Decimals(places) => {
                let scale = 10f64.powi(places as i32);
                (now * scale).round() / scale
            }
            Tempo::Late => before.unwrap_or(now),
        };
        before = Some(now).filter(|_| buffer.plays);
    }
}
