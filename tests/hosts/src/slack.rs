//! How far from its sample a stroke may sound, and what that depends on.

/// What is known of a stroke's surroundings, from the start of the run, the
/// last jump or the last change of tempo on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moment {
    /// True beats per sample.
    pub step: f64,
    /// Samples since then.
    pub since: f64,
    /// Positions that have been told since then.
    pub reports: u32,
    /// Positions that have been told since the session began.
    pub all_reports: u32,
    /// Samples a second.
    pub rate_hz: f64,
    /// How far a line that fits all reports since then may lie behind the true
    /// one, in beats.
    pub behind: f64,
    /// The same, ahead of it.
    pub ahead: f64,
    /// From the least to the greatest that a report may be off, in beats.
    pub blur: f64,
    /// How far a line through a single report may lie off, in beats.
    pub single: f64,
    /// Whether one report is known to be right: a start on a whole beat, or a
    /// session with one tempo from its start whose place is told by the sample.
    pub anchored: bool,
    /// How far the told tempo leads astray within the block, or led within one
    /// before whose strokes may still be at hand, in samples.
    pub astray: f64,
    /// Whether the told tempo has been wrong since the run began or jumped.
    pub misled: bool,
    /// How far wrong tempos have led in all since the run began, jumped or last
    /// settled, in samples.
    pub drift: f64,
    /// Whether a loop has turned on a whole sample.
    pub rounded_turn: bool,
    /// Whether a loop has turned at all.
    pub turned: bool,
}

/// How much earlier and later than on its nearest sample a stroke may sound, in
/// samples.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Slack {
    /// Earlier.
    pub early: f64,
    /// Later.
    pub late: f64,
}

impl Slack {
    /// As much to either side.
    pub fn both(samples: f64) -> Slack {
        Slack {
            early: samples,
            late: samples,
        }
    }

    /// The two together.
    pub fn and(self, other: Slack) -> Slack {
        Slack {
            early: self.early + other.early,
            late: self.late + other.late,
        }
    }

    /// Whichever is greater.
    pub fn or(self, other: Slack) -> Slack {
        Slack {
            early: self.early.max(other.early),
            late: self.late.max(other.late),
        }
    }
}

/// A line has settled after so long, if it was told often enough by then.
const SETTLE_SECONDS: f64 = 2.0;
const SETTLE_REPORTS: u32 = 64;

/// A session's first reports tell how the host rounds: until then all of them
/// may be rounded to anything.
pub const LEARN_REPORTS: u32 = 10;

impl Moment {
    /// Whether reports have been many enough to tell.
    pub fn has_settled(&self) -> bool {
        self.since >= SETTLE_SECONDS * self.rate_hz && self.reports >= SETTLE_REPORTS
    }
}
