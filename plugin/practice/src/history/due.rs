//! What is to be practised today: what is weak, and what was long not played.
//!
//! A letter that goes well is asked for less and less often: again after 1, 2, 4,
//! 7, 14 and then 30 days. One that went badly is due the next day. Spaced
//! repetition in this form is common practice, no source.

use super::Session;
use crate::passage::Pair;
use barform_score::music::Letter;
use time::OffsetDateTime;

/// Days until a letter is due again, by the number of good sessions in a row.
const DAYS: [f64; 7] = [1.0, 1.0, 2.0, 4.0, 7.0, 14.0, 30.0];

/// A session is good below this share of missed strokes and this spread in
/// milliseconds: what a teacher would let pass.
const GOOD: (f64, f64) = (0.05, 15.0);

/// Shortest time for a letter, in minutes.
const LEAST_MINUTES: u32 = 2;

/// A letter to be practised today.
#[derive(Debug, Clone, PartialEq)]
pub struct Due {
    /// The score.
    pub score: String,
    /// The letter.
    pub letter: String,
    /// Days since it was last played.
    pub days: f64,
    /// Share of strokes missed the last time.
    pub missed: f64,
    /// Spread in milliseconds the last time.
    pub spread_ms: f64,
    /// Fastest tempo the last time, in beats a minute.
    pub tempo: f64,
    /// How many minutes of the time there is.
    pub minutes: u32,
}

/// What is due `now`, the most needful first, with `minutes` shared among it.
pub fn today(sessions: &[Session], now: OffsetDateTime, minutes: u32) -> Vec<Due> {
    let mut items: Vec<(Due, usize)> = Vec::new();
    let mut ordered: Vec<(OffsetDateTime, &Session)> = Vec::new();
    ordered.extend(sessions.iter().filter_map(|s| Some((s.ended()?, s))));
    ordered.sort_by_key(|(when, _)| *when);
    for (when, session) in ordered {
        let days = ((now - when).as_seconds_f64() / 86_400.0).max(0.0);
        for letter in session.letters.iter().filter(|l| l.due > 0) {
            let due = Due {
                score: session.score.clone(),
                letter: letter.letter.clone(),
                days,
                missed: letter.missed as f64 / letter.due as f64,
                spread_ms: letter.spread_ms,
                tempo: session.tempo.1,
                minutes: 0,
            };
            let good = due.missed <= GOOD.0 && due.spread_ms <= GOOD.1;
            let same = |(d, _): &(Due, usize)| d.score == due.score && d.letter == due.letter;
            match items.iter_mut().find(|item| same(item)) {
                Some(item) => *item = (due, if good { item.1 + 1 } else { 0 }),
                None => items.push((due, usize::from(good))),
            }
        }
    }
    let mut due: Vec<(f64, Due)> = items
        .into_iter()
        .map(|(due, streak)| (need(&due, streak), due))
        .filter(|(need, _)| *need >= 1.0)
        .collect();
    due.sort_by(|a, b| b.0.total_cmp(&a.0));
    due.truncate((minutes / LEAST_MINUTES) as usize);
    share(&mut due, minutes);
    due.into_iter().map(|(_, due)| due).collect()
}

/// How needful: 1 on the day that it is due, more with every day and every
/// weakness.
fn need(due: &Due, streak: usize) -> f64 {
    let days = DAYS[streak.min(DAYS.len() - 1)];
    // A session of this morning is not due again at noon.
    let late = (due.days + 0.25) / days;
    let weak = (due.missed / GOOD.0)
        .max(due.spread_ms / GOOD.1)
        .clamp(0.5, 4.0);
    if late < 1.0 {
        0.0
    } else {
        late.min(4.0) * weak.max(1.0)
    }
}

/// Whole minutes in proportion to the need, none below the least.
fn share(due: &mut [(f64, Due)], minutes: u32) {
    let sum: f64 = due.iter().map(|(need, _)| need).sum();
    let mut left = minutes;
    let count = due.len() as u32;
    for (n, (need, item)) in due.iter_mut().enumerate() {
        let others = LEAST_MINUTES * (count - n as u32 - 1);
        let fair = (f64::from(minutes) * *need / sum).round() as u32;
        item.minutes = fair.max(LEAST_MINUTES).min(left - others);
        left -= item.minutes;
    }
    if let Some((_, first)) = due.first_mut() {
        first.minutes += left;
    }
}

/// Joins of a score that were practised, the worst first: by the last session of
/// each, missed strokes before spread.
pub fn worst_joins(sessions: &[Session], score: &str) -> Vec<Pair> {
    let mut joins: Vec<(Pair, (f64, f64))> = Vec::new();
    for session in sessions.iter().filter(|s| s.score == score) {
        let words: Vec<&str> = session.play.split(' ').collect();
        let ["join", from, to] = words[..] else {
            continue;
        };
        let (Some(from), Some(to)) = (Letter::new(from), Letter::new(to)) else {
            continue;
        };
        let missed = session.missed as f64 / session.due.max(1) as f64;
        joins.retain(|(pair, _)| *pair != (from.clone(), to.clone()));
        joins.push(((from, to), (missed, session.spread_ms)));
    }
    let weak = |j: &(Pair, (f64, f64))| (j.1.0 / GOOD.0).max(j.1.1 / GOOD.1);
    joins.sort_by(|a, b| weak(b).total_cmp(&weak(a)));
    joins.into_iter().map(|(pair, _)| pair).collect()
}
