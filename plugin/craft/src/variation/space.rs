//! All cells that keep to a frame, counted and numbered without making them.
//!
//! What may follow depends only on what came in a row (and on the distance so
//! far, where that is limited). So the number of ways to go on from each such
//! state is a sum over the options of one slot, worked out from the last slot
//! to the first. The same sums give every cell a number, its rank, and find
//! the cell of a rank.

use super::frame::{Frame, Group, Runs};
use super::random::SplitMix64;
use barform_score::music::Slot;
use num_bigint::BigUint;
use num_traits::{One, ToPrimitive, Zero};
use std::collections::{BTreeMap, BTreeSet};

/// Rows so far, distance so far.
type State = (Runs, u64);

/// The cells of a frame.
pub(super) struct Space<'f> {
    frame: &'f Frame,
    /// One table for each way to come in at the first slot, where there is a
    /// cell at all.
    tables: Vec<Table>,
    total: BigUint,
}

/// Cells that come in with one state of rows, and go out with the same where
/// the cell repeats.
struct Table {
    enter: Runs,
    /// For each slot, the number of ways to go on from each state.
    ways: Vec<BTreeMap<State, BigUint>>,
    total: BigUint,
}

impl<'f> Space<'f> {
    /// Counts the cells of a frame; `None` if that takes more than [`MAX_STEPS`].
    pub fn new(frame: &'f Frame) -> Option<Space<'f>> {
        let start: Runs = [0; 5];
        let mut steps = MAX_STEPS;
        let tables: Vec<Table> = if frame.repeats {
            // A cell that can follow itself goes out as it came in; coming in
            // with nothing in a row is the freest, so no other way out is lost.
            let ends: BTreeSet<Runs> = reach(frame, start, &mut steps)?
                .last()
                .map(|last| last.iter().map(|(runs, _)| *runs).collect())
                .unwrap_or_default();
            let mut tables = Vec::with_capacity(ends.len());
            for end in ends {
                tables.extend(Table::new(
                    frame,
                    reach(frame, end, &mut steps)?,
                    end,
                    Some(end),
                ));
            }
            tables
        } else {
            Table::new(frame, reach(frame, start, &mut steps)?, start, None)
                .into_iter()
                .collect()
        };
        let total = tables.iter().map(|table| &table.total).sum();
        Some(Space {
            frame,
            tables,
            total,
        })
    }

    /// Distinct ranks of cells other than the original, `count` of them or as
    /// many as exist, and how many exist.
    pub fn draw(&self, count: usize, seed: u64) -> (Vec<BigUint>, BigUint) {
        let original = self.rank(&self.frame.original);
        let exist = match original {
            Some(_) => &self.total - BigUint::one(),
            None => self.total.clone(),
        };
        let mut random = SplitMix64::new(seed);
        // So few that most would be drawn: shuffle them all.
        if exist <= BigUint::from(count) * 2u32 {
            let all = self.total.to_u64().unwrap_or(0);
            let mut ranks: Vec<BigUint> = (0..all)
                .map(BigUint::from)
                .filter(|rank| original.as_ref() != Some(rank))
                .collect();
            for i in (1..ranks.len()).rev() {
                let j = random.below(&BigUint::from(i + 1)).to_usize().unwrap_or(i);
                ranks.swap(i, j);
            }
            ranks.truncate(count);
            ranks.sort();
            return (ranks, exist);
        }
        let mut ranks = BTreeSet::new();
        while ranks.len() < count {
            let rank = random.below(&self.total);
            if original.as_ref() != Some(&rank) {
                ranks.insert(rank);
            }
        }
        (ranks.into_iter().collect(), exist)
    }

    /// The cell of a rank below the total; empty otherwise.
    pub fn cell(&self, rank: BigUint) -> Vec<Slot> {
        let mut rank = rank;
        for table in &self.tables {
            if rank < table.total {
                return table.cell(self.frame, rank);
            }
            rank -= &table.total;
        }
        Vec::new()
    }

    /// The rank of a cell, if it keeps to the frame.
    pub fn rank(&self, slots: &[Slot]) -> Option<BigUint> {
        let mut before = BigUint::zero();
        for table in &self.tables {
            if let Some(rank) = table.rank(self.frame, slots) {
                return Some(before + rank);
            }
            before += &table.total;
        }
        None
    }
}

/// Most steps from a state over a group of options: a few seconds.
const MAX_STEPS: usize = 20_000_000;

/// The states that can be reached before each slot and after the last; `None`
/// once `steps` are used up.
fn reach(frame: &Frame, enter: Runs, steps: &mut usize) -> Option<Vec<BTreeSet<State>>> {
    let mut layers = vec![BTreeSet::from([(enter, 0)])];
    for groups in &frame.slots {
        let mut next = BTreeSet::new();
        for state in layers.last().into_iter().flatten() {
            *steps = steps.checked_sub(groups.len())?;
            next.extend(
                groups
                    .iter()
                    .filter_map(|group| follow(frame, state, group, &enter)),
            );
        }
        layers.push(next);
    }
    Some(layers)
}

/// The state after an option of a group.
fn follow(frame: &Frame, state: &State, group: &Group, enter: &Runs) -> Option<State> {
    let spent = state.1 + group.cost;
    if frame
        .within
        .as_ref()
        .is_some_and(|within| spent > *within.end())
    {
        return None;
    }
    Some((frame.step(&state.0, group, enter)?, spent))
}

impl Table {
    /// The table of cells that come in with `enter`, pass through the states of
    /// `layers` and go out with `leave` (any way, if `None`); `None` if there
    /// is no such cell.
    fn new(
        frame: &Frame,
        mut layers: Vec<BTreeSet<State>>,
        enter: Runs,
        leave: Option<Runs>,
    ) -> Option<Table> {
        let ends = layers.pop().unwrap_or_default();
        let far_enough = |spent: u64| frame.within.as_ref().is_none_or(|w| spent >= *w.start());
        let mut after: BTreeMap<State, BigUint> = ends
            .into_iter()
            .filter(|(runs, spent)| leave.is_none_or(|l| l == *runs) && far_enough(*spent))
            .map(|state| (state, BigUint::one()))
            .collect();
        let mut ways = Vec::with_capacity(layers.len());
        for (layer, groups) in layers.into_iter().zip(&frame.slots).rev() {
            let mut here = BTreeMap::new();
            for state in layer {
                let sum: BigUint = groups
                    .iter()
                    .filter_map(|group| {
                        let next = follow(frame, &state, group, &enter)?;
                        Some(after.get(&next)? * group.options.len())
                    })
                    .sum();
                if !sum.is_zero() {
                    here.insert(state, sum);
                }
            }
            ways.push(std::mem::replace(&mut after, here));
        }
        ways.reverse();
        let total = after.remove(&(enter, 0))?;
        Some(Table { enter, ways, total })
    }

    fn cell(&self, frame: &Frame, rank: BigUint) -> Vec<Slot> {
        let mut rank = rank;
        let mut state = (self.enter, 0);
        let mut slots = Vec::with_capacity(frame.slots.len());
        for (groups, ways) in frame.slots.iter().zip(&self.ways) {
            for group in groups {
                let Some(next) = follow(frame, &state, group, &self.enter) else {
                    continue;
                };
                let Some(on) = ways.get(&next) else { continue };
                let all = on * group.options.len();
                if rank < all {
                    // Below the number of options, so it fits.
                    let option = (&rank / on).to_usize().unwrap_or(0);
                    rank %= on;
                    let fill = group
                        .options
                        .get(option)
                        .and_then(|fill| frame.fills.get(*fill));
                    slots.extend(fill.cloned());
                    state = next;
                    break;
                }
                rank -= all;
            }
        }
        slots
    }

    fn rank(&self, frame: &Frame, slots: &[Slot]) -> Option<BigUint> {
        let mut rank = BigUint::zero();
        let mut state = (self.enter, 0);
        for ((groups, ways), slot) in frame.slots.iter().zip(&self.ways).zip(slots) {
            let mut found = None;
            for group in groups {
                let Some(next) = follow(frame, &state, group, &self.enter) else {
                    continue;
                };
                let Some(on) = ways.get(&next) else { continue };
                let is_it = |fill: &usize| frame.fills.get(*fill) == Some(slot);
                if let Some(option) = group.options.iter().position(is_it) {
                    rank += on * option;
                    found = Some(next);
                    break;
                }
                rank += on * group.options.len();
            }
            state = found?;
        }
        Some(rank)
    }
}

#[cfg(test)]
mod test;
