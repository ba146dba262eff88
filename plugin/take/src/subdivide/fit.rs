//! The strokes of one beat on one subdivision, at least cost.

use super::shapes::Shape;
use crate::strokes::Stroke;

/// A stroke on the line of pulses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Onset {
    /// Its pulse.
    pub at: f64,
    /// Number of its drum, below 32.
    pub drum: u8,
    /// Whether a foot plays it.
    pub foot: bool,
    /// Its velocity.
    pub velocity: u8,
}

impl Onset {
    /// A stroke at a pulse.
    pub fn of(stroke: &Stroke, at: f64) -> Onset {
        Onset {
            at,
            drum: stroke.voice.index() as u8,
            foot: stroke.foot().is_some(),
            velocity: stroke.velocity.value(),
        }
    }
}

/// What a slot costs for being there, struck or not: one bit.
const SLOT: f64 = std::f64::consts::LN_2;

/// What cannot be played costs: two strokes of one drum or three hands at once.
const CLASH: f64 = 14.0;

/// A grace note that the strokes did not already have.
const GRACE: f64 = 4.5;

/// Strokes beyond so many are not one slot's.
const MOST_TOGETHER: usize = 7;

/// What a distance from the slot costs: a normal spread with long ends, as slips
/// have.
pub fn off(distance: f64, spread: f64) -> f64 {
    let z = (distance / spread).abs();
    if z < 3.5 {
        z * z / 2.0
    } else {
        3.5 * z - 6.125
    }
}

/// The cheapest ways to put onsets on the slots of a shape.
pub struct Fit {
    /// For each number of onsets taken, the cost; infinite where it is none.
    pub costs: Vec<f64>,
    /// `from[slot][taken]`: how many were taken before that slot.
    from: Vec<Vec<u16>>,
}

/// Spread and grace window of a beat, in pulses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    /// Spread of the strokes around their slots.
    pub spread: f64,
    /// Longest time of a grace note.
    pub grace: f64,
}

/// Fits `onsets`, of which the first few in order of time are taken, on `shape`
/// with its beat at pulse `beat`.
pub fn fit(shape: &Shape, beat: f64, onsets: &[Onset], scale: Scale, trace: bool) -> Fit {
    let mut costs = vec![f64::INFINITY; onsets.len() + 1];
    costs[0] = 0.0;
    let mut from = Vec::new();
    for start in &shape.starts {
        let slot = beat + start;
        let mut next = vec![f64::INFINITY; costs.len()];
        let mut back = if trace {
            vec![0_u16; costs.len()]
        } else {
            Vec::new()
        };
        for i in 0..costs.len() {
            if costs[i].is_infinite() {
                continue;
            }
            let before = costs[i] + SLOT;
            if before < next[i] {
                next[i] = before;
                if trace {
                    back[i] = i as u16;
                }
            }
            let most = onsets.len().min(i + MOST_TOGETHER);
            let mut group = Group::default();
            for j in i..most {
                group.add(&onsets[j], slot, scale);
                let cost = before + group.cost;
                if cost < next[j + 1] {
                    next[j + 1] = cost;
                    if trace {
                        back[j + 1] = i as u16;
                    }
                }
            }
        }
        costs = next;
        from.push(back);
    }
    Fit { costs, from }
}

impl Fit {
    /// The slot of each of the first `taken` onsets.
    pub fn slots(&self, taken: usize) -> Vec<usize> {
        let mut slots = vec![0; taken];
        let mut at = taken;
        for (slot, from) in self.from.iter().enumerate().rev() {
            let before = usize::from(from[at]);
            slots[before..at].iter_mut().for_each(|s| *s = slot);
            at = before;
        }
        slots
    }
}

/// Strokes on one slot, added in order of time.
#[derive(Default)]
struct Group {
    cost: f64,
    hands: u8,
    drums: u32,
    /// Moment, velocity, drum and cost of those before.
    members: [(f64, u8, u8, f64); MOST_TOGETHER],
    count: usize,
}

impl Group {
    fn add(&mut self, onset: &Onset, slot: f64, scale: Scale) {
        let own = off(onset.at - slot, scale.spread);
        let bit = 1_u32 << (onset.drum & 31);
        if self.drums & bit != 0 {
            let last = self.members[..self.count].iter().rev();
            let last = last.copied().find(|m| m.2 == onset.drum);
            let (at, velocity, _, cost) = last.unwrap_or_default();
            let close = onset.at - at <= scale.grace;
            if close && f64::from(velocity) <= 0.75 * f64::from(onset.velocity) && !onset.foot {
                // The one before was a grace note: its own time is free.
                self.cost += GRACE + own - cost;
            } else {
                self.cost += CLASH + own;
            }
        } else {
            self.drums |= bit;
            self.hands += u8::from(!onset.foot);
            if self.hands > 2 && !onset.foot {
                self.cost += CLASH;
            }
            self.cost += own;
        }
        if self.count < MOST_TOGETHER {
            self.members[self.count] = (onset.at, onset.velocity, onset.drum, own);
            self.count += 1;
        }
    }
}
