//! The grid of a stretch whose ticks are to come back as they are.
//!
//! In: onsets of a cell that this program wrote. Out: the plainest grid found
//! on whose slots all of them lie. Never here: rounding beyond half a tick.

use super::fit::{Fitted, Onset, Scale, fit, span_cost};
use barform_score::music::{Beats, BeatsError, Grid, MAX_SLOTS_PER_SPAN, Span};
use barform_score::score::{MAX_SLOTS, MAX_TERM, SLOTS_PER_BEAT};

/// Price of one more span, in slots.
const SPAN: usize = 8;

/// A grid on which all onsets lie: of the usual ones if one does; else one even
/// span; else spans from stroke to stroke. `None` where strokes lie closer than
/// a score can write.
///
/// # Errors
/// [`BeatsError::Overflow`] where exact times do not fit.
pub(super) fn exact(
    onsets: &[Onset],
    length: Beats,
    scale: &Scale,
) -> Result<Option<Fitted>, BeatsError> {
    let writable = |f: &Fitted| f.grid.spans().iter().all(|s| may_stand(*s));
    let usual = fit(onsets, length, Beats::ONE, scale)?;
    if let Some(found) = usual.filter(|f| writable(f) && f.grid.slot_count() <= MAX_SLOTS) {
        return Ok(Some(found));
    }
    for slots in 1..=MAX_SLOTS_PER_SPAN {
        if let Some((span, slots)) = whole(onsets, Beats::ZERO, length, slots, scale)? {
            return Ok(Grid::new(vec![span]).map(|grid| Fitted {
                grid,
                slots,
                cost: 0,
            }));
        }
    }
    from_stroke_to_stroke(onsets, length, scale)
}

/// Whether a score file can hold the span.
fn may_stand(span: Span) -> bool {
    let terms = span.length.numer() <= MAX_TERM && span.length.denom() <= MAX_TERM;
    let slot = span.slot_length();
    terms && slot.is_ok_and(|slot| slot >= Beats::new(1, SLOTS_PER_BEAT))
}

/// One span on which all onsets lie, and where.
fn whole(
    onsets: &[Onset],
    start: Beats,
    length: Beats,
    slots: u8,
    scale: &Scale,
) -> Result<Option<(Span, Vec<usize>)>, BeatsError> {
    let Some(span) = Span::new(slots, length).filter(|s| may_stand(*s)) else {
        return Ok(None);
    };
    let (_, on) = span_cost(onsets, start, span, scale)?;
    Ok((on.len() == onsets.len()).then_some((span, on)))
}

/// The cheapest way to a cut: its price, the cut before, the span between and
/// the slots of its onsets.
type Way = (usize, usize, Span, Vec<usize>);

/// Cuts a stretch at strokes, at beats and where buzzes must end, into as few
/// spans and slots as can be.
fn from_stroke_to_stroke(
    onsets: &[Onset],
    length: Beats,
    scale: &Scale,
) -> Result<Option<Fitted>, BeatsError> {
    let mut cuts = vec![Beats::ZERO, length];
    let us = Beats::new(1, i64::from(scale.us_per_quarter));
    for onset in onsets {
        cuts.push(onset.at);
        if let Some((least, most)) = onset.room_us.filter(|(_, most)| *most < i64::MAX) {
            let middle = us.checked_mul(Beats::whole(least.midpoint(most)))?;
            // On a tick, so that the terms stay small.
            let tick = scale.tolerance.checked_mul(Beats::whole(2))?;
            let middle = middle.checked_div(tick)?.floor();
            cuts.push(
                onset
                    .at
                    .checked_add(tick.checked_mul(Beats::whole(middle))?)?,
            );
        }
    }
    cuts.extend((1..).map(Beats::whole).take_while(|beat| *beat < length));
    cuts.retain(|at| *at >= Beats::ZERO && *at <= length);
    cuts.sort();
    cuts.dedup();
    let before: Vec<usize> = (cuts.iter())
        .map(|cut| onsets.partition_point(|o| o.at < *cut))
        .collect();
    let last = cuts.len() - 1;
    let reach = usize::from(MAX_SLOTS_PER_SPAN) + 1;
    let mut best: Vec<Option<Way>> = vec![None; last + 1];
    for to in 1..=last {
        for from in to.saturating_sub(reach)..to {
            let so_far = match (&best[from], from) {
                (_, 0) => 0,
                (Some((price, ..)), _) => *price,
                (None, _) => continue,
            };
            let inside = &onsets[before[from]..before[to]];
            let long = cuts[to].checked_sub(cuts[from])?;
            let least = inside.len().max(1).min(usize::from(MAX_SLOTS_PER_SPAN)) as u8;
            for slots in least.div_ceil(4)..=MAX_SLOTS_PER_SPAN {
                let price = so_far + SPAN + usize::from(slots);
                if best[to].as_ref().is_some_and(|(known, ..)| *known <= price) {
                    break;
                }
                if let Some((span, on)) = whole(inside, cuts[from], long, slots, scale)? {
                    best[to] = Some((price, from, span, on));
                    break;
                }
            }
        }
    }
    let mut parts = Vec::new();
    let mut to = last;
    while to > 0 {
        let Some((_, from, span, on)) = best[to].take() else {
            return Ok(None);
        };
        parts.push((span, on));
        to = from;
    }
    let (mut spans, mut slots, mut first) = (Vec::new(), Vec::new(), 0);
    for (span, on) in parts.into_iter().rev() {
        slots.extend(on.into_iter().map(|slot| slot + first));
        first += usize::from(span.slots);
        spans.push(span);
    }
    let grid = Grid::new(spans).filter(|g| g.slot_count() <= MAX_SLOTS);
    Ok(grid.map(|grid| Fitted {
        grid,
        slots,
        cost: 0,
    }))
}
