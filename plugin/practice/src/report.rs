//! What a performance was like, and the one thing to work on next.

mod next;

pub use next::{Finding, Next};

use crate::align::{Alignment, Match, Played, align, loudness};
use crate::expect::Expected;
use crate::line::Line;
use barform_score::music::{Beats, Level, Limb, VelocityCurve, Voice};

/// Strokes around their places.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Lay {
    /// How late they came on the mean, in milliseconds; negative if early.
    pub mean_ms: f64,
    /// Their standard deviation in milliseconds.
    pub spread_ms: f64,
    /// How many they are.
    pub strokes: usize,
}

/// Some of the strokes that were due.
#[derive(Debug, Clone, PartialEq)]
pub struct Group<T> {
    /// What they have in common.
    pub of: T,
    /// Those on their drum.
    pub lay: Lay,
    /// How many were due.
    pub due: usize,
    /// How many nobody played.
    pub missed: usize,
    /// How many landed on the wrong drum.
    pub wrong_drum: usize,
}

/// What became of one stroke, grace notes included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judged {
    /// Index of the stroke that was due.
    pub expected: usize,
    /// Index of the note that was played.
    pub played: usize,
    /// Milliseconds late, a steady drift taken out; negative if early.
    pub late_ms: f64,
    /// The drum it landed on, if another.
    pub wrong_drum: Option<Voice>,
    /// How loud it came out.
    pub level: Level,
}

/// How many accents or ghost notes came out as such.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Levels {
    /// Written and played.
    pub due: usize,
    /// Of these, not as written.
    pub off: usize,
}

/// What a performance was like.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// Strokes and grace notes that were played, in order.
    pub judged: Vec<Judged>,
    /// Strokes and grace notes that nobody played.
    pub missed: Vec<usize>,
    /// Notes that match no stroke.
    pub extra: Vec<usize>,
    /// All strokes, without grace notes.
    pub all: Group<()>,
    /// By limb.
    pub limbs: Vec<Group<Limb>>,
    /// By letter, in order of the first stroke.
    pub letters: Vec<Group<String>>,
    /// By place in the beat.
    pub places: Vec<Group<Beats>>,
    /// How much faster the player became than the schedule, in per cent; below 0
    /// slower. 0 where it cannot be told from scatter.
    pub drift_percent: f64,
    /// Seconds from the first stroke to the last.
    pub seconds: f64,
    /// Accents.
    pub accents: Levels,
    /// Ghost notes.
    pub ghosts: Levels,
    /// The one thing to work on next.
    pub next: Next,
}

impl Report {
    /// Matches a performance to what was due and judges it.
    pub fn of(expected: &[Expected], played: &[Played]) -> Report {
        Report::judge(expected, played, &align(expected, played))
    }

    /// Judges a performance whose notes are matched to what was due.
    pub fn judge(expected: &[Expected], played: &[Played], alignment: &Alignment) -> Report {
        let main = |m: &&Match| expected[m.expected].grace_of.is_none();
        let on_drum = |m: &&Match| expected[m.expected].voice == played[m.played].voice;
        let points = alignment.matches.iter().filter(main).filter(on_drum);
        let points: Vec<(f64, f64)> = points
            .map(|m| (expected[m.expected].seconds, m.late))
            .collect();
        let first = expected.first().map_or(0.0, |e| e.seconds);
        let drift = Drift::of(first, &points, alignment);
        let pairs = alignment.matches.iter().map(|m| (m.expected, m.played));
        let louder = loudness(expected, played, pairs);
        let judged: Vec<Judged> = alignment
            .matches
            .iter()
            .map(|m| {
                let (stroke, note) = (&expected[m.expected], &played[m.played]);
                Judged {
                    expected: m.expected,
                    played: m.played,
                    late_ms: 1000.0 * (m.late - drift.at(stroke.seconds)),
                    wrong_drum: (stroke.voice != note.voice).then_some(note.voice),
                    level: level(stroke, f64::from(note.velocity) / louder),
                }
            })
            .collect();
        let tally = Tally {
            expected,
            judged: &judged,
            missed: &alignment.missed,
        };
        let limb = |e: &Expected| Some(e.limb);
        let letter = |e: &Expected| (!e.letter.is_empty()).then(|| e.letter.clone());
        let mut limbs = tally.groups(limb);
        limbs.sort_by_key(|g| g.of);
        let mut places = tally.groups(|e| Some(e.place));
        places.sort_by_key(|g| g.of);
        let all = tally.groups(|_| Some(())).pop().unwrap_or(Group {
            of: (),
            lay: Lay::default(),
            due: 0,
            missed: 0,
            wrong_drum: 0,
        });
        let mut report = Report {
            all,
            limbs,
            letters: tally.groups(letter),
            places,
            accents: tally.levels(Level::Accent),
            ghosts: tally.levels(Level::Ghost),
            drift_percent: drift.percent(),
            seconds: drift.seconds,
            missed: alignment.missed.clone(),
            extra: alignment.extra.clone(),
            judged,
            next: Next::default(),
        };
        report.next = next::next(&report, expected);
        report
    }
}

/// The level whose velocity is nearest, where the stroke's own is as the score
/// has it: a section may be softer on the whole.
fn level(stroke: &Expected, velocity: f64) -> Level {
    let curve = VelocityCurve::default();
    let written = f64::from(stroke.velocity.max(1));
    let velocity = velocity * f64::from(curve.at(stroke.level).value()) / written;
    let half = |a: Level, b: Level| {
        let value = |level| f64::from(curve.at(level).value());
        (value(a) + value(b)) / 2.0
    };
    if velocity < half(Level::Ghost, Level::Normal) {
        Level::Ghost
    } else if velocity < half(Level::Normal, Level::Accent) {
        Level::Normal
    } else {
        Level::Accent
    }
}

/// A player who wanders is taken to begin anew after so many seconds; common
/// practice, no source.
const WANDER_SECONDS: f64 = 5.0;

/// What of the lateness is drift.
struct Drift<'a> {
    first: f64,
    seconds: f64,
    /// Seconds later with every second.
    slope: f64,
    /// Where no straight line tells it: the course itself.
    course: Option<&'a Alignment>,
}

impl<'a> Drift<'a> {
    /// `first` is when the first stroke was due: there the player is taken to be
    /// with the schedule.
    fn of(first: f64, points: &[(f64, f64)], alignment: &'a Alignment) -> Drift<'a> {
        let seconds = points.last().map_or(0.0, |p| p.0) - first;
        let mut drift = Drift {
            first,
            seconds,
            slope: 0.0,
            course: None,
        };
        if points.len() < 16 || seconds <= 0.0 {
            return drift;
        }
        let n = points.len() as f64;
        let straight = Line::through(points);
        let (slope, sxx) = (straight.slope, straight.sxx);
        let variance = |late: &dyn Fn(f64) -> f64| {
            points
                .iter()
                .map(|p| (p.1 - late(p.0)).powi(2))
                .sum::<f64>()
                / (n - 2.0)
        };
        let line = variance(&|at| straight.at(at));
        let course = variance(&|at| alignment.course.late(at));
        // Four standard errors, of strokes that scatter and of a tempo that wanders,
        // which says something new only every few seconds. Who wanders about a
        // click does not drift.
        let news = (seconds / WANDER_SECONDS).max(1.0);
        let wander = (line - course).max(0.0) / news;
        if slope.abs() > 4.0 * ((line / n + wander) * n / sxx).sqrt() {
            drift.slope = slope;
            drift.course = (line > 1.5 * course).then_some(alignment);
        }
        drift
    }

    fn at(&self, due: f64) -> f64 {
        match self.course {
            Some(alignment) => alignment.course.late(due) - alignment.course.late(self.first),
            None => self.slope * (due - self.first),
        }
    }

    fn percent(&self) -> f64 {
        100.0 * (1.0 / (1.0 + self.slope) - 1.0)
    }
}

/// Counts strokes by what they have in common.
struct Tally<'a> {
    expected: &'a [Expected],
    judged: &'a [Judged],
    missed: &'a [usize],
}

impl Tally<'_> {
    fn groups<T: PartialEq>(&self, of: impl Fn(&Expected) -> Option<T>) -> Vec<Group<T>> {
        let mut groups: Vec<(Group<T>, Vec<f64>)> = Vec::new();
        let mut found = |expected: usize| {
            let stroke = &self.expected[expected];
            let of = of(stroke).filter(|_| stroke.grace_of.is_none())?;
            if let Some(n) = groups.iter().position(|(g, _)| g.of == of) {
                return Some(n);
            }
            groups.push((
                Group {
                    of,
                    lay: Lay::default(),
                    due: 0,
                    missed: 0,
                    wrong_drum: 0,
                },
                Vec::new(),
            ));
            Some(groups.len() - 1)
        };
        let all: Vec<Option<usize>> = (0..self.expected.len()).map(&mut found).collect();
        for n in all.iter().flatten() {
            groups[*n].0.due += 1;
        }
        for n in self.missed.iter().filter_map(|e| all[*e]) {
            groups[n].0.missed += 1;
        }
        for judged in self.judged {
            let Some(n) = all[judged.expected] else {
                continue;
            };
            match judged.wrong_drum {
                Some(_) => groups[n].0.wrong_drum += 1,
                None => groups[n].1.push(judged.late_ms),
            }
        }
        let done = groups.into_iter().map(|(mut group, late)| {
            group.lay = Lay::of(&late);
            group
        });
        done.collect()
    }

    fn levels(&self, level: Level) -> Levels {
        let written = |j: &&Judged| {
            let stroke = &self.expected[j.expected];
            stroke.level == level && stroke.grace_of.is_none()
        };
        let due: Vec<&Judged> = self.judged.iter().filter(written).collect();
        Levels {
            off: due.iter().filter(|j| j.level != level).count(),
            due: due.len(),
        }
    }
}

impl Lay {
    /// Of milliseconds late.
    pub fn of(late_ms: &[f64]) -> Lay {
        let strokes = late_ms.len();
        if strokes == 0 {
            return Lay::default();
        }
        let n = strokes as f64;
        let mean_ms = late_ms.iter().sum::<f64>() / n;
        let squares: f64 = late_ms.iter().map(|l| (l - mean_ms).powi(2)).sum();
        Lay {
            mean_ms,
            spread_ms: (squares / (n - 1.0).max(1.0)).sqrt(),
            strokes,
        }
    }
}
