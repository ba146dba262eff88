//! The least exact grid for strokes at given times.

use super::music::Tuplet;
use crate::import::ImportError;
use barform_score::music::{Beats, Grid, MAX_SLOTS_PER_SPAN, Span};
use num_integer::Integer;

/// Cost of one slot; what follows is weighed against it.
const SLOT: u64 = 10;
/// Cost of a span of a beat or of a tuplet.
const SPAN: u64 = 1;
/// Cost of a span of half a beat.
const HALF: u64 = 8;
/// Cost of any other span: worse than any number of even slots.
const ODD: u64 = 1_000;
/// Cost of a span that begins or ends inside of a tuplet.
const CUT: u64 = 10_000;

/// A grid of `length` beats with a slot at each of `times` (rising, each below
/// `length`): by beats of `unit`, tuplets whole, as few slots as will do; every
/// time is exact. Costs are ours; the least sum wins, the longer span first.
pub(super) fn least(
    length: Beats,
    unit: Beats,
    times: &[Beats],
    tuplets: &[Tuplet],
) -> Result<Grid, ImportError> {
    let half = unit.checked_div(Beats::whole(2))?;
    let mut bounds = vec![Beats::ZERO, length];
    let mut at = half;
    while at < length {
        bounds.push(at);
        at = at.checked_add(half)?;
    }
    let inside = |t: &Beats| *t > Beats::ZERO && *t < length;
    bounds.extend(times.iter().copied().filter(inside));
    let whole: Vec<&Tuplet> = tuplets
        .iter()
        .filter(|t| t.at >= Beats::ZERO && t.end <= length && t.at < t.end)
        .collect();
    bounds.extend(whole.iter().flat_map(|t| [t.at, t.end]).filter(inside));
    bounds.sort_unstable();
    bounds.dedup();

    // best[i]: least cost up to bound i, with the bound before and the slots.
    let mut best: Vec<Option<(u64, usize, u8)>> = vec![None; bounds.len()];
    best[0] = Some((0, 0, 0));
    for i in 0..bounds.len() {
        let Some((so_far, ..)) = best[i] else {
            continue;
        };
        let from = bounds[i];
        let on_half = from.checked_div(half)?.is_whole();
        let on_unit = from.checked_div(unit)?.is_whole();
        let mut ends: Vec<(usize, u64, u32)> = Vec::new();
        if i + 1 < bounds.len() {
            ends.push((i + 1, ODD, 1));
        }
        let mut towards = |end: Beats, cost: u64, actual: u32| {
            if let Ok(j) = bounds.binary_search(&end.min(length)) {
                ends.push((j, cost, actual));
            }
        };
        if on_half {
            towards(from.checked_add(half)?, HALF, 1);
        }
        if on_unit {
            towards(from.checked_add(unit)?, SPAN, 1);
        }
        for tuplet in whole.iter().filter(|t| t.at == from) {
            towards(tuplet.end, SPAN, tuplet.actual.max(1));
        }
        for (j, cost, actual) in ends {
            let Some(slots) = slots((from, bounds[j]), times, &whole, actual)? else {
                continue;
            };
            let cuts = |t: &Tuplet| {
                let splits = |b: Beats| t.at < b && b < t.end;
                splits(from) || splits(bounds[j])
            };
            let cut = if tuplets.iter().any(cuts) { CUT } else { 0 };
            let sum = so_far + cost + cut + SLOT * u64::from(slots);
            if best[j].is_none_or(|(known, ..)| sum < known) {
                best[j] = Some((sum, i, slots));
            }
        }
    }
    let mut spans = Vec::new();
    let mut j = bounds.len() - 1;
    while j > 0 {
        let Some((_, i, slots)) = best[j] else { break };
        let length = bounds[j].checked_sub(bounds[i])?;
        spans.extend(Span::new(slots, length));
        j = i;
    }
    spans.reverse();
    Grid::new(spans).ok_or_else(nothing)
}

/// A span from each time to the next: for music so fine that an even grid would
/// have more slots than a cell may.
pub(super) fn between(length: Beats, times: &[Beats]) -> Result<Grid, ImportError> {
    let mut bounds = vec![Beats::ZERO, length];
    bounds.extend(times);
    bounds.sort_unstable();
    bounds.dedup();
    let mut spans = Vec::with_capacity(bounds.len());
    for pair in bounds.windows(2) {
        spans.extend(Span::new(1, pair[1].checked_sub(pair[0])?));
    }
    Grid::new(spans).ok_or_else(nothing)
}

fn nothing() -> ImportError {
    ImportError::TooMuch("a cell without length".to_owned())
}

/// Slots that `from .. to` needs for its times, and for the shorter tuplets in it
/// as they are divided, struck there or not; `None` if there are too many.
fn slots(
    (from, to): (Beats, Beats),
    times: &[Beats],
    tuplets: &[&Tuplet],
    actual: u32,
) -> Result<Option<u8>, ImportError> {
    let most = i64::from(MAX_SLOTS_PER_SPAN);
    let length = to.checked_sub(from)?;
    let mut slots = i64::from(actual);
    let mut fits = |part: Beats| -> Result<bool, ImportError> {
        let part = part.checked_div(length)?;
        if slots > most || part.denom() > most {
            return Ok(false);
        }
        slots = slots.lcm(&part.denom());
        Ok(slots <= most)
    };
    let first = times.partition_point(|t| *t < from);
    for time in times[first..].iter().take_while(|t| **t < to) {
        if !fits(time.checked_sub(from)?)? {
            return Ok(None);
        }
    }
    let inside = |t: &&&Tuplet| from <= t.at && t.end <= to && (t.at, t.end) != (from, to);
    for tuplet in tuplets.iter().filter(inside) {
        let parts = Beats::whole(i64::from(tuplet.actual.max(1)));
        let step = tuplet.end.checked_sub(tuplet.at)?.checked_div(parts)?;
        if !(fits(tuplet.at.checked_sub(from)?)? && fits(step)?) {
            return Ok(None);
        }
    }
    Ok(u8::try_from(slots)
        .ok()
        .filter(|n| *n <= MAX_SLOTS_PER_SPAN))
}
