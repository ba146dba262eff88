//! A foot that goes on unchanged whatever the hands do: an ostinato, lifted out.

use crate::reading::{Lifted, Placed};
use crate::strokes::foot;
use barform_score::music::Voice;
use std::collections::{BTreeMap, BTreeSet};

/// Fewest rounds that make an ostinato, and how many of them must have each of
/// its strokes, and how many of the foot's strokes must be on it.
const ROUNDS: usize = 8;
const KEPT: f64 = 0.93;
const OWN: f64 = 0.97;

/// The feet's ostinatos over cycles of one pulse, two and a bar.
pub fn ostinatos(strokes: &[Placed], pulses: usize, per_bar: usize) -> Vec<Lifted> {
    [Voice::HatFoot, Voice::Kick]
        .into_iter()
        .filter_map(|voice| {
            let own: Vec<&Placed> = strokes.iter().filter(|s| s.stroke.voice == voice).collect();
            let mut cycles = vec![1, 2, per_bar];
            cycles.dedup();
            cycles
                .into_iter()
                .find_map(|cycle| ostinato(voice, &own, pulses, cycle))
        })
        .collect()
}

fn ostinato(voice: Voice, own: &[&Placed], pulses: usize, cycle: usize) -> Option<Lifted> {
    let rounds = pulses / cycle;
    foot(voice)?;
    if rounds < ROUNDS || !pulses.is_multiple_of(cycle) {
        return None;
    }
    // Two strokes on one slot are one round kept, and the second is not on it.
    let places: BTreeSet<(i64, (i64, i64))> = own
        .iter()
        .filter(|s| (0..pulses as i64).contains(&s.pulse))
        .map(|s| (s.pulse, s.slot))
        .collect();
    let mut counts: BTreeMap<(i64, (i64, i64)), usize> = BTreeMap::new();
    for (pulse, slot) in places {
        let beat = pulse.rem_euclid(cycle as i64);
        *counts.entry((beat, slot)).or_default() += 1;
    }
    let steady = |n: usize| n as f64 >= KEPT * rounds as f64;
    let slots: Vec<(i64, (i64, i64))> = counts
        .iter()
        .filter(|(_, n)| steady(**n))
        .map(|(at, _)| *at)
        .collect();
    let on: usize = slots.iter().map(|at| counts[at]).sum();
    let steady_slots = slots.len();
    (!slots.is_empty() && on as f64 >= OWN * own.len() as f64).then_some(Lifted {
        voice,
        cycle: cycle as i64,
        slots,
        missed: rounds * steady_slots - on,
    })
}

impl Lifted {
    /// Whether a stroke is one of the ostinato.
    pub fn has(&self, placed: &Placed) -> bool {
        placed.stroke.voice == self.voice
            && self
                .slots
                .contains(&(placed.pulse.rem_euclid(self.cycle), placed.slot))
    }
}
