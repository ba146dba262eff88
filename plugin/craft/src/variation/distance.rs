//! How far a cell is from another in the same frame.

use super::rules::DistanceWeights;
use barform_score::music::{Cell, Level, Limb, Slot, Stroke};

/// What differs between two cells on one grid, counted slot by slot.
///
/// Every part is a number of differences of two sets (or of yes and no), so
/// with any weights that are allowed the total is a metric: zero for equal
/// cells and only for them, the same either way round, and never longer by a
/// detour. The order of strokes within a slot is no difference.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Distance {
    /// Slots that differ at all.
    pub slots: u32,
    /// Slots with a stroke in the one and a rest in the other.
    pub rhythm: u32,
    /// Limbs that play a slot in the one and not in the other.
    pub sticking: u32,
    /// Voices struck on a slot in the one and not in the other, with how they
    /// are struck.
    pub voices: u32,
    /// Accents and ghost notes on a slot in the one and not in the other.
    pub levels: u32,
    /// Ornaments on a slot in the one and not in the other.
    pub ornaments: u32,
}

impl Distance {
    /// The distance of two cells, or `None` if their grids differ.
    pub fn between(a: &Cell, b: &Cell) -> Option<Distance> {
        let comparable = a.grid == b.grid && a.slots.len() == b.slots.len();
        comparable.then(|| Distance::of_slots(&a.slots, &b.slots))
    }

    /// The sum over slots; both lists have one length.
    pub(super) fn of_slots(a: &[Slot], b: &[Slot]) -> Distance {
        let mut sum = Distance::default();
        for (a, b) in a.iter().zip(b) {
            let slot = Distance::of_slot(a, b);
            sum.slots += slot.slots;
            sum.rhythm += slot.rhythm;
            sum.sticking += slot.sticking;
            sum.voices += slot.voices;
            sum.levels += slot.levels;
            sum.ornaments += slot.ornaments;
        }
        sum
    }

    /// What differs on one slot.
    pub(super) fn of_slot(a: &[Stroke], b: &[Stroke]) -> Distance {
        let by_limb = |slot: &[Stroke]| {
            let mut sorted = slot.to_vec();
            sorted.sort_by_key(|stroke| stroke.limb);
            sorted
        };
        if by_limb(a) == by_limb(b) {
            return Distance::default();
        }
        let limb = |s: &Stroke| -> Option<Limb> { Some(s.limb) };
        let voice = |s: &Stroke| Some((s.voice, s.articulation));
        let level = |s: &Stroke| (s.level != Level::Normal).then_some(s.level);
        let ornament = |s: &Stroke| {
            let plain = s.graces.is_empty() && !s.buzz;
            (!plain).then(|| (s.graces.iter().collect::<Vec<_>>(), s.buzz))
        };
        Distance {
            slots: 1,
            rhythm: u32::from(a.is_empty() != b.is_empty()),
            sticking: unlike(a, b, limb),
            voices: unlike(a, b, voice),
            levels: unlike(a, b, level),
            ornaments: unlike(a, b, ornament),
        }
    }

    /// The sum by the weights of the rules.
    pub fn total(&self, weights: &DistanceWeights) -> u64 {
        [
            (self.slots, weights.slot),
            (self.rhythm, weights.rhythm),
            (self.sticking, weights.sticking),
            (self.voices, weights.voice),
            (self.levels, weights.level),
            (self.ornaments, weights.ornament),
        ]
        .into_iter()
        .map(|(count, weight)| u64::from(count) * u64::from(weight))
        .sum()
    }
}

/// How many things are on one side only, each as often as it is there.
fn unlike<T: PartialEq>(a: &[Stroke], b: &[Stroke], what: impl Fn(&Stroke) -> Option<T>) -> u32 {
    let mut right: Vec<T> = b.iter().filter_map(&what).collect();
    let mut only_left = 0;
    for thing in a.iter().filter_map(&what) {
        match right.iter().position(|other| *other == thing) {
            Some(found) => {
                right.swap_remove(found);
            }
            None => only_left += 1,
        }
    }
    // At most four strokes a slot.
    only_left + right.len() as u32
}
