//! One stretch with what its moves cost.

use super::super::opening::{hand_voices, period, struck};
use super::super::{RefitRules, Stretch};
use crate::music::{Beats, BeatsError, Cell, Level, Slot, Stroke, Voice};
use std::ops::RangeInclusive;

/// A price summed up.
pub(super) type Cost = u64;

/// Parts a stretch is cut into to weigh how far a stroke is moved. Prices only:
/// no position that is played comes from it.
const PARTS: i128 = 1 << 20;

/// Longer stretches are searched in a band of so many slots on both sides of
/// the even way, so that the time a refit takes grows with its length only.
const BAND: usize = 40;

/// A stretch, its slots counted from its own start.
pub(super) struct View<'a> {
    pub rules: &'a RefitRules,
    /// Slots of the cell in the stretch.
    slots: &'a [Slot],
    /// What the cell plays after the stretch; over again after the last.
    after: &'a Slot,
    /// Number of slots of the cell.
    pub old: usize,
    /// Number of new slots.
    pub new: usize,
    /// So many slots stay at the start.
    pub keep: usize,
    /// Slots after which the sticking starts over, if it does.
    period: Option<usize>,
    /// Price of playing each slot again, for what it bears.
    weight: Vec<Cost>,
    /// Start of each slot in [`PARTS`].
    old_at: Vec<u64>,
    new_at: Vec<u64>,
    /// Price of leaving out all slots before this one.
    left_out: Vec<Cost>,
    /// Last hand voice at or before each slot, first at or after it.
    voices: Vec<(Option<Voice>, Option<Voice>)>,
    /// Ways from voice to voice that the cell takes here.
    ways: Vec<(Voice, Voice)>,
}

impl<'a> View<'a> {
    pub fn new(
        rules: &'a RefitRules,
        cell: &'a Cell,
        stretch: &Stretch,
        source: &[Beats],
        target: &[Beats],
        keep: usize,
    ) -> Result<View<'a>, BeatsError> {
        let slots = &cell.slots[stretch.source.clone()];
        let old_bounds = &source[stretch.source.start..=stretch.source.end];
        let new_bounds = &target[stretch.target.start..=stretch.target.end];
        let after = cell.slots.get(stretch.source.end).unwrap_or(&cell.slots[0]);
        let before = cell.slots[..stretch.source.start].iter().rev();
        let mut before = before.filter_map(|s| hand_voices(s).first().copied());
        let (voices, ways) = moves(slots);
        let mut view = View {
            rules,
            slots,
            after,
            old: slots.len(),
            new: stretch.target.len(),
            keep: keep.min(slots.len()).min(stretch.target.len()),
            period: period(slots, |slot| {
                slot.iter().map(|s| s.limb).collect::<Vec<_>>()
            }),
            weight: Vec::with_capacity(slots.len()),
            old_at: parts(old_bounds)?,
            new_at: parts(new_bounds)?,
            left_out: vec![0],
            voices,
            ways,
        };
        let beats = super::super::stretch::beats(&cell.grid)?;
        let mut sum = 0;
        let mut voice = before.next();
        for (i, slot) in slots.iter().enumerate() {
            let here = hand_voices(slot).first().copied();
            let moved = here.is_some() && here != voice;
            voice = here.or(voice);
            let at = source[stretch.source.start + i];
            let on_beat = stretch.source.start + i == 0 || beats.contains(&at);
            let beat_foot = on_beat && slot.iter().any(|s| s.limb.is_foot());
            sum += view.importance(slot, moved, beat_foot);
            view.left_out.push(sum);
            let accents = slot.iter().filter(|s| s.level == Level::Accent).count();
            let foot = if beat_foot { rules.again.beat_foot } else { 0 };
            view.weight
                .push(accents as Cost * Cost::from(rules.again.accent) + Cost::from(foot));
        }
        Ok(view)
    }

    /// Price of leaving a slot out.
    fn importance(&self, slot: &Slot, moved: bool, beat_foot: bool) -> Cost {
        let price = &self.rules.leave_out;
        if slot.is_empty() {
            return Cost::from(price.rest);
        }
        let stroke = |stroke: &Stroke| match stroke.level {
            Level::Ghost => price.ghost,
            Level::Normal if stroke.limb.is_foot() => price.foot,
            Level::Normal => price.stroke,
            Level::Accent => price.accent,
        };
        let mut cost: u32 = slot.iter().map(stroke).sum();
        if moved {
            cost += price.new_voice;
        }
        if beat_foot {
            cost += price.beat_foot;
        }
        Cost::from(cost)
    }

    /// Price of leaving out the slots `from .. to`.
    pub fn skip(&self, from: usize, to: usize) -> Cost {
        if from >= to {
            return 0;
        }
        let gap = if to < self.old {
            self.rules.leave_out.gap
        } else {
            0
        };
        self.left_out[to] - self.left_out[from] + Cost::from(gap)
    }

    /// Price of playing slot `old` of the cell on new slot `new`.
    pub fn late(&self, new: usize, old: usize) -> Cost {
        let parts = self.new_at[new].abs_diff(self.old_at[old]);
        // At most 1000 × 2^20 × 1024.
        Cost::from(self.rules.time.moved) * parts * self.old as u64 / PARTS as u64
    }

    /// Price of two slots side by side that are not so in the cell; `old` stands
    /// for the slot after the stretch.
    pub fn join(&self, a: usize, b: usize) -> Cost {
        if a + 1 == b {
            return 0;
        }
        let (a, b) = (&self.slots[a], self.slots.get(b).unwrap_or(self.after));
        let hands = |slot: &Slot| slot.iter().filter(|s| s.limb.hand().is_some()).count();
        let mut cost = 0;
        for limb in a
            .iter()
            .map(|s| s.limb)
            .filter(|l| b.iter().any(|s| s.limb == *l))
        {
            cost += match limb.is_foot() {
                true => self.rules.join.same_foot,
                false if hands(a) > 1 || hands(b) > 1 => self.rules.join.both_hands,
                false => self.rules.join.same_hand,
            };
        }
        Cost::from(cost)
    }

    /// Price of playing so many slots from `from` on again, right after slot
    /// `last`.
    pub fn again(&self, last: usize, from: usize, slots: usize) -> Cost {
        let price = &self.rules.again;
        let accent = self.slots[from].iter().any(|s| s.level == Level::Accent);
        let kind = if last == from {
            price.stay
        } else if accent || self.starts_over(last, from) {
            price.figure
        } else {
            price.elsewhere
        };
        let turn = match (self.voices[last].0, self.voices[from].1) {
            (Some(a), Some(b)) if last != from && a != b && !self.ways.contains(&(a, b)) => {
                price.turn_back
            }
            _ => 0,
        };
        let weight: Cost = self.weight[from..from + slots].iter().sum();
        Cost::from(kind + turn) + weight + self.join(last, from)
    }

    /// Whether the cell itself starts over at slot `from` after slot `last`: all
    /// of the stretch again, whole turns of its sticking, or slots that already
    /// repeat what is before them.
    fn starts_over(&self, last: usize, from: usize) -> bool {
        let (slots, all) = (last + 1 - from, last + 1 == self.old);
        let turn = |p: usize| from.is_multiple_of(p) && (all || slots.is_multiple_of(p));
        let repeats = |i: usize| struck(&self.slots[i]) == struck(&self.slots[i - slots]);
        (from == 0 && all)
            || self.period.is_some_and(turn)
            || (from >= slots && (from..=last).all(repeats))
    }

    /// How many slots of the cell may be behind once `new` new slots are filled.
    pub fn band(&self, new: usize) -> RangeInclusive<usize> {
        if self.old * self.new <= 4 * BAND * BAND {
            return 0..=self.old;
        }
        let even = new * self.old / self.new;
        even.saturating_sub(BAND)..=(even + BAND).min(self.old)
    }
}

fn parts(bounds: &[Beats]) -> Result<Vec<u64>, BeatsError> {
    let first = bounds.first().copied().unwrap_or(Beats::ZERO);
    let length = bounds.last().copied().unwrap_or(first).checked_sub(first)?;
    let part = |at: &Beats| {
        let share = at.checked_sub(first)?.checked_div(length)?;
        // At most 1, so below PARTS.
        Ok((i128::from(share.numer()) * PARTS / i128::from(share.denom())) as u64)
    };
    bounds.iter().map(part).collect()
}

type Moves = (Vec<(Option<Voice>, Option<Voice>)>, Vec<(Voice, Voice)>);

/// The voices round each slot, and the ways from one to the next.
fn moves(slots: &[Slot]) -> Moves {
    let here = |slot: &Slot| hand_voices(slot).first().copied();
    let mut around: Vec<(Option<Voice>, Option<Voice>)> = vec![(None, None); slots.len()];
    let mut ways = Vec::new();
    let mut last = None;
    for (i, slot) in slots.iter().enumerate() {
        if let (Some(a), Some(b)) = (last, here(slot))
            && !ways.contains(&(a, b))
        {
            ways.push((a, b));
        }
        last = here(slot).or(last);
        around[i].0 = last;
    }
    let mut next = None;
    for (i, slot) in slots.iter().enumerate().rev() {
        next = here(slot).or(next);
        around[i].1 = next;
    }
    (around, ways)
}
