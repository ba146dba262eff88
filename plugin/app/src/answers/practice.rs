//! How a take was played to a practice plan, and how late everything arrives.

use super::AnswerError;
use crate::music::{Kit, Voice};
use crate::practice::align::Played;
use crate::practice::expect::{Expected, until};
use crate::practice::latency::{FEWEST, Latency, latency};
use crate::practice::plan::{Plan, Steps};
use crate::practice::report::Report;
use crate::practice::schedule::{Ornaments, Schedule, Segment};
use crate::score::Score;
use crate::take::keys::Keys;
use crate::take::recording::{Note, Recording};

/// Seconds after the last note played within which a stroke due still counts.
const STOPPED_S: f64 = 1.0;

/// Where the time of a take begins.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct TakeStart {
    /// With its first stroke, not where the track begins.
    pub first_stroke: bool,
    /// Milliseconds by which the whole take is late.
    pub latency_ms: f64,
}

/// A take held against what was due.
#[derive(Debug, Clone)]
pub struct Review {
    /// What it was like.
    pub report: Report,
    /// What was due, in order.
    pub due: Vec<Expected>,
    /// What was played, in the time of the track.
    pub played: Vec<Played>,
}

/// The notes of a MIDI file, as drums of a kit.
///
/// # Errors
/// [`AnswerError::Unfit`] for bytes that are no take.
pub fn played(bytes: &[u8], kit: &Kit) -> Result<Vec<Played>, AnswerError> {
    let recording = Recording::read(bytes).map_err(|e| AnswerError::Unfit(e.to_string()))?;
    let keys = Keys::of(&recording, kit);
    let note = |note: &Note| {
        let (voice, _) = keys.voice(note);
        Played {
            seconds: note.seconds,
            voice,
            velocity: note.velocity.value(),
        }
    };
    let notes = recording.notes.iter().map(note);
    // A click that was recorded along is nobody's stroke.
    Ok(notes.filter(|n| n.voice != Voice::Click).collect())
}

/// Holds a take against what a schedule leaves to the player.
///
/// # Errors
/// [`AnswerError::Beats`] if times do not fit.
pub fn review(
    schedule: &Schedule,
    ornaments: Ornaments,
    mut played: Vec<Played>,
    start: TakeStart,
) -> Result<Review, AnswerError> {
    let mut due = schedule.expected(ornaments)?;
    let mut shift = -start.latency_ms / 1000.0;
    if start.first_stroke {
        let main = due.iter().find(|e| e.grace_of.is_none());
        let first = played.iter().map(|n| n.seconds).reduce(f64::min);
        shift += main.map_or(0.0, |e| e.seconds) - first.unwrap_or(0.0);
    }
    for note in &mut played {
        note.seconds += shift;
    }
    let last = played.iter().map(|n| n.seconds).fold(0.0, f64::max);
    until(&mut due, last + STOPPED_S);
    Ok(Review {
        report: Report::of(&due, &played),
        due,
        played,
    })
}

/// How late strokes arrive that were played on the clicks of a schedule.
///
/// # Errors
/// [`AnswerError::Unfit`] if too few are near a click.
pub fn click_latency(schedule: &Schedule, played: &[Played]) -> Result<Latency, AnswerError> {
    let clicks = schedule.segments.iter().flat_map(|segment: &Segment| {
        segment.clicks.iter().filter_map(|click| {
            let beat = click.at.checked_sub(segment.start).ok()?;
            Some(segment.begins.after(beat, segment.tempo).to_f64())
        })
    });
    let clicks: Vec<f64> = clicks.collect();
    let mut strokes: Vec<f64> = played.iter().map(|n| n.seconds).collect();
    strokes.sort_by(f64::total_cmp);
    latency(&clicks, &strokes).ok_or_else(|| {
        AnswerError::Unfit(format!("at least {FEWEST} strokes near a click are needed"))
    })
}

/// The plan with the tempo steps that suit a level, by its name in the rules.
///
/// # Errors
/// [`AnswerError::Question`] for a level that is not known, [`AnswerError::Unfit`]
/// where no steps can be proposed.
pub fn plan_for_level(mut plan: Plan, score: &Score, name: &str) -> Result<Plan, AnswerError> {
    let rules = super::rules();
    let level = super::level(rules, name)?;
    let steps = Steps::proposed(score, &plan.play, level, &rules.levels, &rules.sticking);
    plan.tempo = steps.map_err(|e| AnswerError::Unfit(e.to_string()))?;
    Ok(plan)
}
