//! The habits of hosts, each by itself, and the error that it excuses.
//!
//! A stroke whose true time is t sounds on the sample nearest to t. A habit that
//! blurs what a host tells moves that by so many samples early or late, and by
//! no more: its `slack`. Whatever the habit, no note is lost, doubled, cut short
//! or left hanging.

use num_traits::ToPrimitive;

use crate::form::{Exact, ratio};
use crate::slack::{LEARN_REPORTS, Moment, Slack};

/// A host: one habit of each kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Personality {
    /// How finely the musical position is told.
    pub position: Position,
    /// Whether it is told at all. If not, the song has one tempo, and the place
    /// by the sample is all there is; see [`Personality::slack`].
    pub tells_beats: bool,
    /// Whether and how the position by the sample is told.
    pub song: Song,
    /// How far what is told is behind.
    pub lag: Lag,
    /// How the tempo is told.
    pub tempo: Tempo,
    /// What is told of a tempo that moves within the block.
    pub ramp: Ramp,
    /// What happens at a loop's end.
    pub turn: Turn,
    /// Whether the loop's range is told. If not, each turn is a jump, and what
    /// lies in the blocks as they are told is what sounds.
    pub tells_loop: bool,
    /// What a run's first block is like.
    pub start: Start,
    /// What is told while time stands.
    pub standing: Standing,
}

impl Default for Personality {
    fn default() -> Self {
        Personality::EXACT
    }
}

impl Personality {
    /// A host that tells everything, exactly.
    pub const EXACT: Personality = Personality {
        position: Position::Exact,
        tells_beats: true,
        song: Song::Whole,
        lag: Lag::None,
        tempo: Tempo::Exact,
        ramp: Ramp::Mean,
        turn: Turn::NextBlock,
        tells_loop: true,
        start: Start::Plain,
        standing: Standing::Frozen,
    };

    /// Leaves out habits that no host can have together.
    pub fn sensible(mut self) -> Personality {
        if !self.tells_beats {
            self.position = Position::Exact;
            self.song = Song::Whole;
            self.tempo = Tempo::Exact;
        }
        if matches!(self.lag, Lag::Parts(_)) {
            // Nothing would tell a part from a block that is told twice.
            self.start = Start::Plain;
        }
        if self.lag == Lag::Stale {
            // The blocks are all as long as each other, and the place where
            // time will start is told before it does; the first block is then
            // told twice as it is.
            self.start = Start::Plain;
            self.standing = Standing::Frozen;
            self.turn = Turn::NextBlock;
        }
        if self.song == Song::Absent && (self.tempo == Tempo::Late || self.ramp != Ramp::Mean) {
            // Nothing would tell a tempo that moved from a jump.
            self.song = Song::Whole;
        }
        if self.position.is_down() && self.turn == Turn::SplitWhole {
            // The loop's very start, rounded down, would lie outside of it.
            self.turn = Turn::Split;
        }
        if matches!(self.lag, Lag::Latency(_)) && self.turn == Turn::SplitWhole {
            // What is dropped where time is, is not where time is told to be.
            self.turn = Turn::Split;
        }
        self
    }
}

/// A line that has settled lies within two samples: each of two reports may be
/// off by one without anybody being able to tell.
const WOBBLE_SAMPLES: f64 = 2.0;

/// Besides being rounded a report may be off by a sample; the rest is what
/// rounding adds.
const REPORT_SAMPLES: f64 = 1.1;

impl Personality {
    /// What all habits together excuse. A place that is told by the sample alone
    /// may be a sample behind the true one, since it is a whole number.
    pub fn slack(&self, at: &Moment) -> Slack {
        let told = if self.tells_beats {
            self.position.slack(at)
        } else {
            Slack {
                early: 0.0,
                late: 1.0,
            }
        };
        let led = self.tempo.slack(self.position, at);
        // A deadband is taken up once, whatever it is for.
        let least = Slack::both(if at.misled || at.rounded_turn {
            WOBBLE_SAMPLES
        } else {
            0.0
        });
        told.or(least).and(led)
    }
}

/// How finely the musical position is told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Position {
    /// As finely as the format can. Excuses nothing.
    Exact,
    /// To the nearest of so many steps a beat; see [`Position::slack`].
    Nearest(u32),
    /// Down to one of so many steps a beat.
    Down(u32),
    /// To the nearest millisecond of song time.
    Millisecond,
    /// Down to a millisecond of song time.
    MillisecondDown,
    /// Through `f32`, whose step grows with the position.
    Single,
    /// To the nearest of so many steps a beat, then through `f32`.
    NearestSingle(u32),
    /// Off by up to a sample to either side, anew in each block. Excuses that
    /// one sample: the first report, which the line is drawn from, is off too.
    Wobble,
}

impl Position {
    /// What is told for the position `beats`, and by how much less or more than
    /// the truth that may be: `(less, more)`, in beats. `chance` is one number
    /// of `-1 ..= 1` a block.
    ///
    /// # Panics
    /// If the position has no `f64` near to it.
    pub fn tell(self, beats: &Exact, step: f64, rate_hz: f64, chance: f64) -> (f64, (f64, f64)) {
        let float = |value: &Exact| value.to_f64().expect("a position");
        let single = |value: f64| f64::from(value as f32);
        // Half the gap between an `f32` and the next.
        let half_gap = |value: f64| {
            let value = (value as f32).abs();
            f64::from(value.next_up() - value) / 2.0
        };
        let grid = |per_beat: u32, down: bool| {
            let half = if down { ratio(0, 1) } else { ratio(1, 2) };
            let steps = (beats * ratio(i64::from(per_beat), 1) + half).floor();
            float(&(steps / ratio(i64::from(per_beat), 1)))
        };
        match self {
            Position::Exact => (float(beats), (0.0, 0.0)),
            Position::Nearest(per_beat) => {
                let half = 0.5 / f64::from(per_beat);
                (grid(per_beat, false), (half, half))
            }
            Position::Down(per_beat) => (grid(per_beat, true), (1.0 / f64::from(per_beat), 0.0)),
            Position::Millisecond | Position::MillisecondDown => {
                let ms = rate_hz / 1000.0 * step;
                let (rounded, off) = if self == Position::Millisecond {
                    ((float(beats) / ms).round(), (ms / 2.0, ms / 2.0))
                } else {
                    ((float(beats) / ms).floor(), (ms, 0.0))
                };
                (rounded * ms, off)
            }
            Position::Single => {
                let told = single(float(beats));
                let half = half_gap(told);
                (told, (half, half))
            }
            Position::NearestSingle(per_beat) => {
                let told = single(grid(per_beat, false));
                let half = 0.5 / f64::from(per_beat) + half_gap(told);
                (told, (half, half))
            }
            Position::Wobble => (float(beats) + chance * step, (step, step)),
        }
    }

    /// Rounding to a step excuses that step (half of it, if to the nearest) for
    /// `SETTLE_SECONDS` after a start, a jump or a change of tempo. From then
    /// on it excuses what no line through all reports can tell, and at least
    /// `WOBBLE_SAMPLES`. Where one report is known to be right it is no more
    /// than those from the start.
    ///
    /// Whether a host rounds down, reports alone cannot tell: rounding to the
    /// nearest on a line half a step behind looks just the same. So where none
    /// is known to be right, half a step late is excused for ever.
    pub fn slack(self, at: &Moment) -> Slack {
        match self {
            Position::Exact => return Slack::default(),
            Position::Wobble => return Slack::both(1.0),
            _ => {}
        }
        let least = Slack::both(WOBBLE_SAMPLES);
        let fits = if at.anchored {
            Slack::default()
        } else if at.has_settled() {
            Slack {
                early: at.ahead / at.step + REPORT_SAMPLES,
                late: at.behind / at.step + REPORT_SAMPLES,
            }
        } else {
            Slack::both(at.single / at.step)
        };
        fits.or(least)
    }

    /// Whether the line through the reports is sharp from the first one on.
    pub fn is_sharp(self) -> bool {
        self == Position::Exact
    }

    /// Whether a single report can show that it is rounded. Milliseconds cannot:
    /// only once a line has settled does the place by the sample better them.
    pub fn is_on_ticks(self) -> bool {
        !matches!(self, Position::Millisecond | Position::MillisecondDown)
    }

    /// Whether the position is rounded down.
    pub fn is_down(self) -> bool {
        matches!(self, Position::Down(_) | Position::MillisecondDown)
    }
}

/// Whether and how the position by the sample is told: the song position of
/// VST3, the seconds of CLAP. None excuses anything: the place is told in beats.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Song {
    /// Down to whole samples.
    Whole,
    /// Not at all. VST3 has no word for that: the field stays at 0.
    Absent,
    /// To the nearest millisecond.
    Millisecond,
}

/// How far what is told is behind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lag {
    /// Not at all.
    None,
    /// All positions are wrong by so many samples, loop or not. Excuses a shift
    /// of the whole run by that, which is where the told line lies; nothing
    /// else.
    Latency(i32),
    /// All positions are those of the block before. Excuses a shift of the run
    /// by that block; up to the first jump it may be less, since the first
    /// position is told twice.
    Stale,
    /// A buffer is handed over in up to so many parts, and its first position
    /// is told for all of them. Excuses nothing: the first part tells the truth.
    Parts(u32),
}

/// How the tempo is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tempo {
    /// As it is.
    Exact,
    /// To so many decimals.
    Decimals(u32),
    /// A block late.
    Late,
}

impl Tempo {
    /// A told tempo that is wrong excuses how far it leads astray within the
    /// block, early or late; what was played too early stays played, so strokes
    /// of the next block may have come by then. Where positions are rounded,
    /// the reports cannot contradict a tempo until it has led out of what they
    /// were rounded by; before [`LEARN_REPORTS`] any position may be.
    pub fn slack(self, position: Position, at: &Moment) -> Slack {
        let drift = if at.all_reports <= LEARN_REPORTS {
            at.drift
        } else if position.is_sharp() {
            0.0
        } else {
            at.drift.min(at.blur / at.step)
        };
        Slack::both(at.astray + drift)
    }
}

/// What is told of a tempo that moves within the block. Excuses what [`Tempo`]
/// says of a wrong one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ramp {
    /// The tempo at its first sample.
    First,
    /// The one that leads to the next block's position.
    Mean,
    /// The tempo at its last sample.
    Last,
}

/// What happens to blocks and positions at a loop's end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turn {
    /// The block goes on over it, and the next one tells a position past the
    /// loop's start.
    NextBlock,
    /// The block ends on the sample behind it, and the next one tells a
    /// position within a sample of the loop's start.
    Split,
    /// The block ends there too, and the next one starts at the very start of
    /// the loop: the fraction of a sample is dropped. Excuses that fraction.
    SplitWhole,
    /// The block goes on over it, and so does the position that the next one
    /// tells; the one after that is right.
    Late,
}

/// What a run's first block is like.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Start {
    /// Like any other.
    Plain,
    /// Its position is told again for the second: time starts a block late.
    /// Excuses a shift of the run by that block, early.
    Repeated,
    /// The same after a jump while time runs, and only there.
    RepeatedAfterJump,
    /// The host says that time stands when it runs already, and at the end for
    /// a block that it runs when it stands. What lies in a block that stands
    /// does not sound.
    FlagLate,
}

/// What is told while time stands. Excuses nothing: nothing sounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// The place where time will start.
    Frozen,
    /// A position that runs on.
    Running,
    /// 0.
    Zero,
}
