//! Exact times of a lane's main strokes.

use barform_score::music::{Beats, BeatsError};
use barform_score::score::Score;
use barform_score::timeline::{Lane, LaneRole, Timeline};

/// Exact time of every main stroke of a lane, from the start of its cycle. The
/// lane itself holds the nearest `f64`; a file of whole ticks must not start
/// from those.
pub(super) fn stroke_times(
    score: &Score,
    timeline: &Timeline,
    lane: &Lane,
) -> Result<Vec<Beats>, BeatsError> {
    match lane.role {
        LaneRole::Form => form(timeline, lane),
        LaneRole::Ostinato(number) => {
            // A timeline of another score: nothing can be said exactly.
            let ostinato = score
                .ostinatos
                .get(usize::from(number))
                .ok_or(BeatsError::Overflow)?;
            let bounds = ostinato.grid.slot_bounds()?;
            let slots = lane
                .slot
                .iter()
                .map(|slot| bounds.get(usize::from(*slot)).copied());
            slots.map(|at| at.ok_or(BeatsError::Overflow)).collect()
        }
        LaneRole::Click => lane.main.at.iter().map(|at| pulse(timeline, *at)).collect(),
        LaneRole::Letter(_) => Ok(Vec::new()),
    }
}

fn form(timeline: &Timeline, lane: &Lane) -> Result<Vec<Beats>, BeatsError> {
    let mut times = Vec::with_capacity(lane.main.len());
    // Places of one variant at one rate share their bounds, and are few.
    let mut known: Vec<(u32, Beats, Vec<Beats>)> = Vec::new();
    for (place, slot) in lane.place.iter().zip(&lane.slot) {
        let place = &timeline.places[*place as usize];
        let hit = known
            .iter()
            .position(|(v, r, _)| *v == place.variant && *r == place.rate);
        let hit = match hit {
            Some(hit) => hit,
            None => {
                let bounds = timeline.cell_of(place).grid.slot_bounds()?;
                let bounds: Result<Vec<_>, _> = bounds
                    .into_iter()
                    .map(|at| at.checked_div(place.rate))
                    .collect();
                known.push((place.variant, place.rate, bounds?));
                known.len() - 1
            }
        };
        times.push(place.start.checked_add(known[hit].2[usize::from(*slot)])?);
    }
    Ok(times)
}

/// The pulse nearest to `at`: pulses are counted from the bar line, in a pickup
/// bar back from the next one.
fn pulse(timeline: &Timeline, at: f64) -> Result<Beats, BeatsError> {
    // A bar line that is no exact f64 may lie a hair behind its own click.
    let Some(bar) = timeline.bar_at(at + 1e-9) else {
        return Ok(Beats::ZERO);
    };
    let bar = timeline.bars[bar];
    let pulse = bar.meter.pulse();
    let first = if bar.number == 0 {
        timeline.pickup.checked_rem(pulse)?
    } else {
        Beats::ZERO
    };
    let first = bar.start.checked_add(first)?;
    let count = ((at - first.to_f64()) / pulse.to_f64()).round();
    first.checked_add(pulse.checked_mul(Beats::whole(count as i64))?)
}
