//! Which grid a stretch of played strokes lies on.
//!
//! In: onsets within a cell, the cell's length, what a tick and a beat are in
//! time. Out: the grid of least cost, and the slot of each onset. The cost is
//! stated here in full and is whole numbers only, so the choice is the same on
//! every machine and can be checked by trying all.
//!
//! An onset that lies `e` microseconds off its slot costs `e² / 100 000`: 1000
//! at 10 ms, about what a practised player strays. Within half a tick it costs
//! nothing: the file cannot say it more closely. A grid costs [`price`]; so a
//! plain grid wins until the strokes contradict it.

use barform_score::music::{Beats, BeatsError, Grid, Span};

/// Most slots of one span that is tried.
pub const MAX_TRIED: u8 = 12;

/// Price of a span by its slots, the first being 1: how rarely it is met on a
/// drum part. Common practice, no source.
const PRICES: [i64; MAX_TRIED as usize] = [
    0, 400, 900, 700, 2200, 1200, 3000, 1500, 3200, 3200, 4500, 2600,
];

/// Price of a slot that no stroke falls on.
const EMPTY: i64 = 120;

/// Price of a beat whose halves are cut differently.
const MIXED: i64 = 900;

/// Price of each further beat that a span reaches over, and the slots that are
/// tried there: the broad tuplets, and the even cuts of three beats.
const BROAD: i64 = 600;
const BROAD_SLOTS: [&[u8]; 3] = [&[3, 5, 7], &[2, 4], &[3, 5, 7]];

/// Price of two strokes on the same drum that fall on one slot.
const CLASH: i64 = 4_000;

/// Price of a slot on which a buzz would not bounce as often as was played.
const BOUNCES: i64 = 20_000;

/// More than any grid costs.
const NEVER: i64 = i64::MAX / 4;

/// A stroke to be put on a grid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Onset {
    /// Time from the start of the cell, not below zero.
    pub at: Beats,
    /// What is struck; two strokes of one number cannot share a slot.
    pub drum: u16,
    /// Shortest and longest slot in microseconds on which its bounces come out
    /// as played: above the first, up to the second.
    pub room_us: Option<(i64, i64)>,
}

/// What time is, and how close is exact.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Scale {
    /// Microseconds per quarter note, above zero.
    pub us_per_quarter: u32,
    /// So far off a slot an onset is still on it: half a tick.
    pub tolerance: Beats,
    /// Whether every onset must be within the tolerance.
    pub exact: bool,
}

/// A grid and where the onsets fall on it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fitted {
    /// The grid.
    pub grid: Grid,
    /// Slot of each onset, not falling.
    pub slots: Vec<usize>,
    /// What it costs.
    pub cost: i64,
}

/// Price of an even span of `slots` slots in one beat, `1 ..= 12`.
pub fn price(slots: u8) -> i64 {
    let known = usize::from(slots)
        .checked_sub(1)
        .and_then(|i| PRICES.get(i));
    known.copied().unwrap_or(NEVER)
}

/// What it costs to put onsets on the slots of one span, its price left out,
/// and the slot of each; [`i64::MAX`]` / 4` where it cannot be.
///
/// # Errors
/// [`BeatsError::Overflow`] where exact times do not fit.
pub fn span_cost(
    onsets: &[Onset],
    start: Beats,
    span: Span,
    scale: &Scale,
) -> Result<(i64, Vec<usize>), BeatsError> {
    if scale.exact && !may_fit(onsets, start, span, scale) {
        return Ok((NEVER, Vec::new()));
    }
    let slots = i128::from(span.slots);
    let slot_us = i128::from(scale.us_per_quarter) * i128::from(span.length.numer())
        / (i128::from(span.length.denom()) * slots);
    let (tn, td) = (
        i128::from(scale.tolerance.numer()),
        i128::from(scale.tolerance.denom()),
    );
    let (ln, ld) = (
        i128::from(span.length.numer()),
        i128::from(span.length.denom()),
    );
    let mut cost = 0_i64;
    let mut on = Vec::with_capacity(onsets.len());
    let mut taken = 0;
    for (i, onset) in onsets.iter().enumerate() {
        let into = onset.at.checked_sub(start)?;
        // As a part of the span: n / d.
        let n = i128::from(into.numer()) * ld;
        let d = i128::from(into.denom()) * ln;
        let slot = (2 * n * slots + d).div_euclid(2 * d).clamp(0, slots - 1);
        // Off by |n/d - slot/slots| spans.
        let off = (n * slots - slot * d).abs();
        let off_by = d * slots;
        // In beats against the tolerance, without a common denominator.
        let (off_n, off_d) = reduced(off.saturating_mul(ln), off_by.saturating_mul(ld));
        let within = off_n.saturating_mul(td) <= off_d.saturating_mul(tn);
        if !within {
            if scale.exact {
                return Ok((NEVER, on));
            }
            let us = off_n.saturating_mul(i128::from(scale.us_per_quarter)) / off_d.max(1);
            let us = us.min(10_000_000);
            cost = cost.saturating_add((us * us / 100_000) as i64);
        }
        if let Some((least, most)) = onset.room_us
            && (slot_us <= i128::from(least) || slot_us > i128::from(most))
        {
            if scale.exact {
                return Ok((NEVER, on));
            }
            cost = cost.saturating_add(BOUNCES);
        }
        let slot = slot as usize;
        let same = (0..i).rev().take_while(|j| on[*j] == slot);
        let clashes = same.filter(|j| onsets[*j].drum == onset.drum).count();
        if clashes > 0 && scale.exact {
            return Ok((NEVER, on));
        }
        cost = cost.saturating_add(CLASH * clashes as i64);
        taken += usize::from(on.last() != Some(&slot));
        on.push(slot);
    }
    let empty = usize::from(span.slots) - taken;
    Ok((cost.saturating_add(EMPTY * empty as i64).min(NEVER), on))
}

/// Whether all onsets lie about on slots: a quick look before the exact one,
/// never stricter than that.
fn may_fit(onsets: &[Onset], start: Beats, span: Span, scale: &Scale) -> bool {
    let slot = span.length.to_f64() / f64::from(span.slots);
    let (start, tolerance) = (start.to_f64(), scale.tolerance.to_f64() + 1e-7);
    onsets.iter().all(|onset| {
        let into = onset.at.to_f64() - start;
        (into - (into / slot).round() * slot).abs() <= tolerance
    })
}

/// A fraction in least terms.
fn reduced(n: i128, d: i128) -> (i128, i128) {
    let gcd = num_integer::gcd(n, d).max(1);
    (n / gcd, d / gcd)
}

/// Spans of one stretch, the slots of its onsets, the cost.
type Part = (Vec<Span>, Vec<usize>, i64);

/// The cheapest even span over a stretch; of equally cheap ones that of fewer
/// slots.
fn even(
    onsets: &[Onset],
    start: Beats,
    length: Beats,
    tried: impl Iterator<Item = u8>,
    scale: &Scale,
) -> Result<Option<Part>, BeatsError> {
    let mut best: Option<Part> = None;
    for slots in tried {
        let known = best.as_ref().map_or(NEVER, |b| b.2);
        let Some(span) = Span::new(slots, length).filter(|_| price(slots) < known) else {
            continue;
        };
        let (cost, on) = span_cost(onsets, start, span, scale)?;
        let cost = cost.saturating_add(price(slots));
        if cost < known {
            best = Some((vec![span], on, cost));
        }
    }
    Ok(best)
}

/// The cheapest way to cut one beat: evenly, or each half by itself.
fn beat(
    onsets: &[Onset],
    start: Beats,
    length: Beats,
    scale: &Scale,
) -> Result<Option<Part>, BeatsError> {
    let whole = even(onsets, start, length, 1..=MAX_TRIED, scale)?;
    if whole.as_ref().is_some_and(|w| w.2 <= MIXED) {
        return Ok(whole);
    }
    let half = length.checked_div(Beats::whole(2))?;
    let middle = start.checked_add(half)?;
    // An onset just before the middle belongs to it, if anywhere.
    let early = middle.checked_sub(scale.tolerance)?;
    let cut = onsets.partition_point(|o| o.at < early);
    let first = even(&onsets[..cut], start, half, 1..=MAX_TRIED, scale)?;
    let second = even(&onsets[cut..], middle, half, 1..=MAX_TRIED, scale)?;
    let halves = first.zip(second).map(|((spans, on, a), (more, then, b))| {
        let slots = usize::from(spans[0].slots);
        let on = on.into_iter().chain(then.into_iter().map(|s| s + slots));
        (
            spans.into_iter().chain(more).collect(),
            on.collect(),
            a + b + MIXED,
        )
    });
    Ok(match (whole, halves) {
        (Some(whole), Some(halves)) if halves.2 < whole.2 => Some(halves),
        (None, halves) => halves,
        (whole, _) => whole,
    })
}

/// The cheapest grid over a cell of `length`, cut at every `unit` (one beat, or
/// the pulse of a compound meter) into spans of one to four units. `None` where
/// none is allowed.
///
/// # Errors
/// [`BeatsError::Overflow`] where exact times do not fit.
pub fn fit(
    onsets: &[Onset],
    length: Beats,
    unit: Beats,
    scale: &Scale,
) -> Result<Option<Fitted>, BeatsError> {
    let mut bounds = vec![Beats::ZERO];
    let mut at = unit;
    while at < length {
        bounds.push(at);
        at = at.checked_add(unit)?;
    }
    let units = bounds.len();
    bounds.push(length);
    // Onsets before each bound; those within tolerance of it come after it.
    let mut before = Vec::with_capacity(bounds.len());
    for bound in &bounds {
        let early = bound.checked_sub(scale.tolerance)?;
        before.push(onsets.partition_point(|o| o.at < early));
    }
    before[0] = 0;
    before[units] = onsets.len();
    let mut best: Vec<Option<(i64, usize, Part)>> = vec![None; units + 1];
    for to in 1..=units {
        for over in 1..=to.min(1 + BROAD_SLOTS.len()) {
            let from = to - over;
            let before_it = if from == 0 {
                0
            } else {
                match &best[from] {
                    Some((cost, ..)) => *cost,
                    None => continue,
                }
            };
            let (start, stretch) = (bounds[from], &onsets[before[from]..before[to]]);
            let long = bounds[to].checked_sub(start)?;
            let part = if over == 1 {
                beat(stretch, start, long, scale)?
            } else {
                let whole = long == unit.checked_mul(Beats::whole(over as i64))?;
                let tried = BROAD_SLOTS[over - 2].iter().copied().filter(|_| whole);
                even(stretch, start, long, tried, scale)?
                    .map(|(spans, on, cost)| (spans, on, cost + BROAD * (over as i64 - 1)))
            };
            let Some(part) = part.filter(|p| p.2 < NEVER) else {
                continue;
            };
            let cost = before_it + part.2;
            if best[to].as_ref().is_none_or(|(known, ..)| cost < *known) {
                best[to] = Some((cost, from, part));
            }
        }
    }
    let mut parts = Vec::new();
    let mut to = units;
    let cost = best[units].as_ref().map(|b| b.0);
    while to > 0 {
        let Some((_, from, part)) = best[to].take() else {
            return Ok(None);
        };
        parts.push(part);
        to = from;
    }
    let (mut spans, mut slots, mut first) = (Vec::new(), Vec::new(), 0);
    for (these, on, _) in parts.into_iter().rev() {
        slots.extend(on.into_iter().map(|s| s + first));
        first += these.iter().map(|s| usize::from(s.slots)).sum::<usize>();
        spans.extend(these);
    }
    Ok(cost
        .zip(Grid::new(spans))
        .map(|(cost, grid)| Fitted { grid, slots, cost }))
}

#[cfg(test)]
mod test;
