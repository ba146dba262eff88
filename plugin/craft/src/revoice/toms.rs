//! Toms moved round another kit, in order, their runs spread evenly.

use super::{RevoiceRules, Setup, Why};
use barform_score::music::{Beats, BeatsError, Cell, Limb, Voice};
use std::collections::BTreeMap;

/// Whether a voice is a tom.
pub(super) fn is_tom(voice: Voice) -> bool {
    use Voice::*;
    matches!(voice, Tom1 | Tom2 | Tom3 | Tom4 | Tom5 | Tom6)
}

/// A stroke on a tom.
#[derive(Debug, Clone, Copy)]
struct Hit {
    slot: usize,
    /// Its place in the slot.
    stroke: usize,
    limb: Limb,
    /// Its tom, counted from the highest of the kit it is written for.
    tom: usize,
    /// Whether its slot has another tom: then it belongs to no run.
    together: bool,
}

/// The new tom of a stroke, by its slot and its place in the slot.
pub(super) type Placed = BTreeMap<(usize, usize), (Voice, Why)>;

/// The tom of each stroke on one, by slot and place in the slot; empty if the
/// other kit has no toms.
pub(super) fn place(
    rules: &RevoiceRules,
    cell: &Cell,
    from: &Setup,
    to: &Setup,
) -> Result<Placed, BeatsError> {
    let mut old = from.toms();
    let new = to.toms();
    let mut placed = Placed::new();
    if new.is_empty() || old == new {
        return Ok(placed);
    }
    // Toms that the cell has and its kit does not: below the others.
    let extra = cell
        .slots
        .iter()
        .flatten()
        .map(|s| s.voice)
        .filter(|v| is_tom(*v));
    let mut extra: Vec<Voice> = extra.filter(|v| !old.contains(v)).collect();
    extra.sort();
    extra.dedup();
    old.extend(extra);

    let hits = hits(cell, &old);
    let places = places(&hits, old.len(), new.len());
    let bounds = cell.grid.slot_bounds()?;
    for run in runs(&hits, &bounds, rules.most_gap)? {
        for (hit, (tom, why)) in run.iter().zip(spread(run, &places)) {
            placed.insert((hit.slot, hit.stroke), (new[tom], why));
        }
    }
    Ok(placed)
}

fn hits(cell: &Cell, toms: &[Voice]) -> Vec<Hit> {
    let mut hits = Vec::new();
    for (slot, strokes) in cell.slots.iter().enumerate() {
        let together = strokes.iter().filter(|s| is_tom(s.voice)).count() > 1;
        for (stroke, s) in strokes.iter().enumerate() {
            if let Some(tom) = toms.iter().position(|t| *t == s.voice) {
                hits.push(Hit {
                    slot,
                    stroke,
                    limb: s.limb,
                    tom,
                    together,
                });
            }
        }
    }
    hits
}

/// For each tom of the old kit, its place on the new one: never higher for a
/// lower tom, and toms that are played get toms of their own if there are enough.
fn places(hits: &[Hit], old: usize, new: usize) -> Vec<usize> {
    let mut used: Vec<usize> = hits.iter().map(|h| h.tom).collect();
    used.sort_unstable();
    used.dedup();
    // Half way between two places goes to the higher tom.
    let share = |at: usize, last: usize| {
        if last == 0 {
            0
        } else {
            (2 * at * (new - 1) + last - 1) / (2 * last)
        }
    };
    let mut places = vec![0; old];
    let mut least = 0;
    for (rank, tom) in used.iter().enumerate() {
        let place = if used.len() <= new {
            // Room for those still to come.
            let most = new - (used.len() - rank);
            let place = share(*tom, old - 1).clamp(least, most);
            least = place + 1;
            place
        } else {
            share(rank, used.len() - 1)
        };
        places[*tom] = place;
    }
    places
}

/// Runs: strokes that go one way round the kit, or stay.
fn runs<'a>(
    hits: &'a [Hit],
    bounds: &[Beats],
    most_gap: Beats,
) -> Result<Vec<&'a [Hit]>, BeatsError> {
    let mut runs = Vec::new();
    let mut start = 0;
    let mut way = std::cmp::Ordering::Equal;
    for i in 1..hits.len() {
        let (before, here) = (&hits[i - 1], &hits[i]);
        let step = here.tom.cmp(&before.tom);
        let gap = bounds[here.slot].checked_sub(bounds[before.slot])?;
        let turns = step.is_ne() && way.is_ne() && step != way;
        if turns || gap > most_gap || before.together || here.together {
            runs.push(&hits[start..i]);
            (start, way) = (i, std::cmp::Ordering::Equal);
        } else if step.is_ne() {
            way = step;
        }
    }
    if start < hits.len() {
        runs.push(&hits[start..]);
    }
    Ok(runs)
}

/// The new tom of each stroke of a run.
fn spread(run: &[Hit], places: &[usize]) -> Vec<(usize, Why)> {
    let own: Vec<usize> = run.iter().map(|h| places[h.tom]).collect();
    let (Some(first), Some(last)) = (own.first().copied(), own.last().copied()) else {
        return Vec::new();
    };
    let toms = first.abs_diff(last) + 1;
    let mut played: Vec<usize> = run.iter().map(|h| h.tom).collect();
    played.dedup();
    // Each tom has one of its own and none lies between: the run stays.
    if played.len() == toms && own.windows(2).all(|w| w[0].abs_diff(w[1]) <= 1) {
        return own.into_iter().map(|tom| (tom, Why::Place)).collect();
    }
    let steps = if run.len() < toms {
        // More toms than strokes: first and last, evenly between.
        (0..run.len())
            .map(|i| (2 * i * (toms - 1) + run.len() - 1) / (2 * (run.len() - 1).max(1)))
            .collect()
    } else {
        let counts = counts(run, toms).into_iter().enumerate();
        counts
            .flat_map(|(tom, n)| std::iter::repeat_n(tom, n))
            .collect::<Vec<_>>()
    };
    let tom = |step: usize| {
        if first <= last {
            first + step
        } else {
            first - step
        }
    };
    steps
        .into_iter()
        .map(|step| (tom(step), Why::Spread))
        .collect()
}

/// How many strokes of a run each tom gets: all the same or one more, so placed
/// that the fewest doubles are split; of equals, the earlier toms get more.
fn counts(run: &[Hit], toms: usize) -> Vec<usize> {
    let (each, more) = (run.len() / toms, run.len() % toms);
    let split = |at: usize| {
        let double = at > 0
            && at < run.len()
            && run[at - 1].limb == run[at].limb
            && run[at].slot == run[at - 1].slot + 1;
        usize::from(double)
    };
    // best[used]: splits so far and the counts, with so many toms given one more.
    let mut best: Vec<Option<(usize, Vec<usize>)>> = vec![None; more + 1];
    best[0] = Some((0, Vec::new()));
    for tom in 0..toms {
        let mut next: Vec<Option<(usize, Vec<usize>)>> = vec![None; more + 1];
        for (used, state) in best.iter().enumerate() {
            let Some((splits, counts)) = state else {
                continue;
            };
            for extra in [1, 0].into_iter().filter(|e| used + e <= more) {
                let end = (tom + 1) * each + used + extra;
                let splits = splits + if tom + 1 < toms { split(end) } else { 0 };
                let mut counts = counts.clone();
                counts.push(each + extra);
                let slot = &mut next[used + extra];
                let better = |known: &(usize, Vec<usize>)| {
                    // More on earlier toms is first among equals.
                    (splits, std::cmp::Reverse(&counts)) < (known.0, std::cmp::Reverse(&known.1))
                };
                if slot.as_ref().is_none_or(better) {
                    *slot = Some((splits, counts));
                }
            }
        }
        best = next;
    }
    best[more]
        .take()
        .map_or_else(Vec::new, |(_, counts)| counts)
}
