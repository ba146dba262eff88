//! What the user of a session does, in few numbers, so that a failing one can be
//! made small.

/// A session's runs.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Whether the whole song has one tempo: that of the first run. Otherwise
    /// something else lay before the first run, so that the place by the sample
    /// tells nothing about beats.
    pub one_tempo: bool,
    /// One after the other.
    pub runs: Vec<Run>,
    /// For what the host decides by chance.
    pub seed: u32,
}

/// A stretch in which time runs.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// Where it starts, in beats.
    pub from_beats: f64,
    /// Whether time does not stand before it.
    pub jumps: bool,
    /// First beat and length of the loop, if it is on.
    pub cycle: Option<(f64, f64)>,
    /// How long its blocks are.
    pub sizes: Sizes,
    /// How many.
    pub blocks: u32,
    /// How its tempo goes.
    pub tempo: Course,
}

/// Lengths of blocks, in samples.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sizes {
    /// All as long.
    Even(u32),
    /// By chance, up to so many.
    UpTo(u32),
}

impl Sizes {
    /// The longest.
    pub fn most(self) -> u32 {
        match self {
            Sizes::Even(frames) | Sizes::UpTo(frames) => frames,
        }
    }
}

/// Tempo over a run, in beats per minute.
#[derive(Debug, Clone, PartialEq)]
pub enum Course {
    /// One.
    Even(f64),
    /// One after the other, each as long.
    Steps(Vec<f64>),
    /// The first for a quarter of the run, then evenly over half of it to the
    /// second.
    Ramp(f64, f64),
}

/// The nearest tempo that is a whole number of 1024ths: exact fractions of it
/// stay short.
pub(super) fn short(bpm: f64) -> f64 {
    (bpm * 1024.0).round() / 1024.0
}

impl Course {
    /// The tempo at the start of a block, `part` of the way through the run,
    /// and at its end, `next` of the way.
    pub fn over(&self, part: f64, next: f64) -> (f64, f64) {
        match self {
            Course::Even(bpm) => (*bpm, *bpm),
            Course::Steps(list) => {
                let index = (part * list.len() as f64) as usize;
                let bpm = list[index.min(list.len() - 1)];
                (bpm, bpm)
            }
            Course::Ramp(first, last) => {
                let at = |part: f64| {
                    let way = (2.0 * part - 0.5).clamp(0.0, 1.0);
                    short(first + (last - first) * way)
                };
                (at(part), at(next))
            }
        }
    }

    /// The fastest.
    pub fn most_bpm(&self) -> f64 {
        match self {
            Course::Even(bpm) => *bpm,
            Course::Steps(list) => list.iter().copied().fold(0.0, f64::max),
            Course::Ramp(first, last) => first.max(*last),
        }
    }

    /// The first.
    pub fn first_bpm(&self) -> f64 {
        self.over(0.0, 0.0).0
    }
}

/// Random numbers that are the same for the same seed.
#[derive(Debug, Clone)]
pub struct Dice(u64);

impl Dice {
    /// The sequence of a seed.
    pub fn new(seed: u32) -> Dice {
        Dice(u64::from(seed))
    }

    /// SplitMix64 (Steele, Lea and Flood, 2014).
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A whole number of `1 ..= most`.
    pub fn up_to(&mut self, most: u32) -> u32 {
        1 + (self.next() % u64::from(most.max(1))) as u32
    }

    /// A number of `-1 ..= 1`.
    pub fn either_side(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }
}
