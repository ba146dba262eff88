//! The one thing to work on next, with its evidence.
//!
//! Everything that stands out is weighed on one scale: 1 is what a teacher would
//! let pass, and what weighs most is told. The measures are common practice, no
//! source.

use super::{Group, Report};
use crate::expect::Expected;
use barform_score::music::Limb;

/// Fewest strokes that something is said about.
const FEWEST: usize = 8;

/// What a teacher would let pass: milliseconds early or late against the others,
/// milliseconds of spread beyond that of all, shares of strokes that are missed,
/// extra, on the wrong drum or at another level, and drift in per cent.
const LET_PASS: [(Finding, f64); 9] = [
    (Finding::Missed, 0.05),
    (Finding::Extra, 0.08),
    (Finding::WrongDrum, 0.04),
    (Finding::Limb, 8.0),
    (Finding::Place, 10.0),
    (Finding::Spread, 8.0),
    (Finding::Drift, 1.0),
    (Finding::Accents, 0.25),
    (Finding::Ghosts, 0.3),
];

/// What stood out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Finding {
    /// Nothing: go on.
    #[default]
    None,
    /// A letter with missed strokes.
    Missed,
    /// Notes that match no stroke.
    Extra,
    /// A letter with strokes on the wrong drum.
    WrongDrum,
    /// A limb that comes early or late.
    Limb,
    /// A place in the beat that comes early or late.
    Place,
    /// A limb or a letter that is uneven.
    Spread,
    /// A tempo that goes away.
    Drift,
    /// Accents that are none.
    Accents,
    /// Ghost notes that are none.
    Ghosts,
}

/// What to work on next.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Next {
    /// What stood out most.
    pub finding: Finding,
    /// How much, against what a teacher would let pass.
    pub weight: f64,
    /// One sentence with its evidence.
    pub sentence: String,
}

/// A limb in words.
pub(super) fn limb_name(limb: Limb) -> &'static str {
    match limb {
        Limb::RightHand => "the right hand",
        Limb::LeftHand => "the left hand",
        Limb::KickFoot => "the kick foot",
        Limb::HatFoot => "the hi-hat foot",
    }
}

fn early_or_late(ms: f64) -> String {
    let how = if ms < 0.0 { "early" } else { "late" };
    format!("{:.0} ms {how}", ms.abs())
}

pub(super) fn next(report: &Report, expected: &[Expected]) -> Next {
    if expected.is_empty() || report.judged.is_empty() {
        return Next {
            sentence: "Nothing that was played could be matched to the score.".to_owned(),
            ..Next::default()
        };
    }
    let mut found = Found(Vec::new());
    found.by_letter(report);
    found.by_lay(report);
    found.whole(report, expected);
    let worst = found
        .0
        .into_iter()
        .max_by(|a, b| a.weight.total_cmp(&b.weight));
    worst.filter(|next| next.weight > 1.0).unwrap_or_else(|| {
        let lay = report.all.lay;
        Next {
            finding: Finding::None,
            weight: 0.0,
            sentence: format!(
                "Take the next tempo step: {} of {} strokes played, {} on average, spread {:.0} \
                 ms.",
                lay.strokes,
                report.all.due,
                early_or_late(lay.mean_ms),
                lay.spread_ms
            ),
        }
    })
}

struct Found(Vec<Next>);

impl Found {
    fn add(&mut self, finding: Finding, measure: f64, sentence: String) {
        let let_pass = LET_PASS.into_iter().find(|(f, _)| *f == finding);
        let weight = measure / let_pass.map_or(1.0, |(_, measure)| measure);
        self.0.push(Next {
            finding,
            weight,
            sentence,
        });
    }

    fn by_letter(&mut self, report: &Report) {
        for letter in report.letters.iter().filter(|g| g.due >= FEWEST) {
            let (due, of) = (letter.due as f64, &letter.of);
            let rest = report.all.due - letter.due;
            let elsewhere = |count: usize| match rest {
                0 => String::new(),
                rest => format!(", {count} of {rest} elsewhere"),
            };
            self.add(
                Finding::Missed,
                letter.missed as f64 / due,
                format!(
                    "Take {of} alone and slower: {} of its {} strokes are missing{}.",
                    letter.missed,
                    letter.due,
                    elsewhere(report.all.missed - letter.missed)
                ),
            );
            self.add(
                Finding::WrongDrum,
                letter.wrong_drum as f64 / due,
                format!(
                    "Go slowly round the kit in {of}: {} of its {} strokes land on the wrong drum{}.",
                    letter.wrong_drum,
                    letter.due,
                    elsewhere(report.all.wrong_drum - letter.wrong_drum)
                ),
            );
            self.add(
                Finding::Spread,
                beyond(letter, report),
                format!(
                    "Loop {of} until it is even: its {} strokes spread by {:.0} ms, all strokes \
                     by {:.0} ms.",
                    letter.lay.strokes, letter.lay.spread_ms, report.all.lay.spread_ms
                ),
            );
        }
    }

    fn by_lay(&mut self, report: &Report) {
        let all = report.all.lay;
        for limb in &report.limbs {
            let (lay, name) = (limb.lay, limb_name(limb.of));
            self.add(
                Finding::Limb,
                apart(limb, report),
                format!(
                    "Play {name} alone to the click: it comes {} over {} strokes, all limbs \
                     together {}.",
                    early_or_late(lay.mean_ms),
                    lay.strokes,
                    early_or_late(all.mean_ms)
                ),
            );
            self.add(
                Finding::Spread,
                beyond(limb, report),
                format!(
                    "Slow down and even out {name}: its {} strokes spread by {:.0} ms, those of \
                     all limbs by {:.0} ms.",
                    lay.strokes, lay.spread_ms, all.spread_ms
                ),
            );
        }
        for place in &report.places {
            let lay = place.lay;
            let spot = match place.of.is_zero() {
                true => "on the beat".to_owned(),
                false => format!("{} into the beat", place.of),
            };
            self.add(
                Finding::Place,
                apart(place, report),
                format!(
                    "Put the click on the subdivision and listen to the strokes {spot}: they come \
                     {} ({} strokes), all strokes together {}.",
                    early_or_late(lay.mean_ms),
                    lay.strokes,
                    early_or_late(all.mean_ms)
                ),
            );
        }
    }

    fn whole(&mut self, report: &Report, expected: &[Expected]) {
        let drift = report.drift_percent;
        let way = if drift > 0.0 { "up" } else { "down" };
        self.add(
            Finding::Drift,
            drift.abs(),
            format!(
                "Practise with gaps in the click: the tempo went {way} by {:.1} % over {:.0} s.",
                drift.abs(),
                report.seconds
            ),
        );
        let (extra, due) = (report.extra.len(), expected.len());
        self.add(
            Finding::Extra,
            extra as f64 / due as f64,
            format!(
                "Slow down and leave the rests open: {extra} extra strokes against {due} written."
            ),
        );
        let levels = [
            (
                Finding::Accents,
                report.accents,
                "accents",
                "Lift the accents",
            ),
            (
                Finding::Ghosts,
                report.ghosts,
                "ghost notes",
                "Keep the ghost notes low",
            ),
        ];
        for (finding, levels, what, advice) in levels {
            if levels.due >= FEWEST {
                self.add(
                    finding,
                    levels.off as f64 / levels.due as f64,
                    format!(
                        "{advice}: {} of {} {what} were not played as such.",
                        levels.off, levels.due
                    ),
                );
            }
        }
    }
}

/// Milliseconds that a group's mean lies off that of all strokes, if that is more
/// than chance (three standard errors).
fn apart<T>(group: &Group<T>, report: &Report) -> f64 {
    let (lay, all) = (group.lay, report.all.lay);
    let apart = (lay.mean_ms - all.mean_ms).abs();
    let error = lay.spread_ms / (lay.strokes.max(1) as f64).sqrt();
    if lay.strokes >= FEWEST && apart > 3.0 * error {
        apart
    } else {
        0.0
    }
}

/// Milliseconds that a group's spread lies above that of all strokes, if that is
/// more than chance: the standard error of a spread is spread / √(2n).
fn beyond<T>(group: &Group<T>, report: &Report) -> f64 {
    let (lay, all) = (group.lay, report.all.lay);
    let beyond = lay.spread_ms - all.spread_ms;
    let error = lay.spread_ms / (2.0 * lay.strokes.max(1) as f64).sqrt();
    if lay.strokes >= FEWEST && beyond > 3.0 * error {
        beyond
    } else {
        0.0
    }
}
