//! Exact times of a lane's main strokes.

use super::{Lane, LaneRole, Timeline};
use crate::music::{Beats, BeatsError};
use crate::score::Score;

impl Timeline {
    /// Exact time of every main stroke of a lane of this timeline, from the
    /// start of the lane's cycle. The lane itself holds the nearest `f64`; what
    /// must be exact, such as the ticks of a file, must not start from those.
    /// `score` is the one that the timeline was compiled from.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if a time does not fit, or for a lane of another
    /// score's timeline.
    pub fn exact_times(&self, score: &Score, lane: &Lane) -> Result<Vec<Beats>, BeatsError> {
        match lane.role {
            LaneRole::Form => form(self, lane),
            LaneRole::Ostinato(number) => {
                let ostinato = score.ostinatos.get(usize::from(number));
                let ostinato = ostinato.ok_or(BeatsError::Overflow)?;
                slots(lane, &ostinato.grid.slot_bounds()?)
            }
            LaneRole::Letter(number) => {
                let letter = self.letters.get(usize::from(number));
                let cell = letter.and_then(|letter| score.cell(letter));
                slots(lane, &cell.ok_or(BeatsError::Overflow)?.grid.slot_bounds()?)
            }
            LaneRole::Click if lane.main.is_empty() => Ok(Vec::new()),
            LaneRole::Click => {
                let mut times = Vec::with_capacity(lane.main.len());
                for (i, bar) in self.bars.iter().enumerate() {
                    let clicks = bar.clicks(self.bar_end(i), None)?;
                    times.extend(clicks.into_iter().map(|(at, _)| at));
                }
                Ok(times)
            }
        }
    }

    /// Where the bar of an index ends: at the next bar line or with the form.
    pub fn bar_end(&self, bar: usize) -> Beats {
        self.bars
            .get(bar + 1)
            .map_or(self.length, |next| next.start)
    }
}

/// Strokes of a lane that plays one grid.
fn slots(lane: &Lane, bounds: &[Beats]) -> Result<Vec<Beats>, BeatsError> {
    let at = |slot: &u16| bounds.get(usize::from(*slot)).copied();
    let times = lane.slot.iter().map(at);
    times.map(|at| at.ok_or(BeatsError::Overflow)).collect()
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
