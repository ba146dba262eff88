//! The sticking of a refit: hands and feet, held to the level of the cell.

use super::choose::{How, Pick};
use super::level::{ENDLESS, Levels};
use super::{RefitRules, Stretch};
use crate::music::{Cell, Graces, Hand, Limb, Slot, Stroke, Voice};
use std::collections::BTreeMap;

/// The finished slots and what became of the strokes on each.
pub(super) struct Plan {
    pub slots: Vec<Slot>,
    pub changes: Vec<Change>,
}

/// What the sticking changed on a slot.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Change {
    /// The hand that plays instead of the other.
    pub hand: Option<Hand>,
    /// Limbs whose strokes are left out.
    pub left_out: Vec<Limb>,
}

/// What is done on one slot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Deed {
    Keep,
    OtherHand,
    LeaveOutRight,
    LeaveOutLeft,
    LeaveOutBoth,
}

/// Strokes in a row so far of both hands, and whether the last hand was changed.
type Hands = (usize, usize, bool);

struct Settle<'a> {
    rules: &'a RefitRules,
    cell: &'a Cell,
    picks: &'a [Pick],
    levels: &'a Levels,
    /// Stretch of each new slot.
    stretch: Vec<usize>,
    opening: usize,
}

/// Settles the sticking of what was picked. The first `opening` slots stay.
pub(super) fn settle(
    rules: &RefitRules,
    cell: &Cell,
    stretches: &[Stretch],
    picks: &[Pick],
    levels: &Levels,
    opening: usize,
) -> Plan {
    let numbers = stretches.iter().enumerate();
    let stretch = numbers
        .flat_map(|(n, s)| std::iter::repeat_n(n, s.target.len()))
        .collect();
    let settle = Settle {
        rules,
        cell,
        picks,
        levels,
        stretch,
        opening,
    };
    let hands = settle.hands();
    let feet = [Limb::KickFoot, Limb::HatFoot].map(|limb| (limb, settle.foot(limb)));
    let mut plan = Plan {
        slots: Vec::new(),
        changes: Vec::new(),
    };
    for (j, deed) in hands.into_iter().enumerate() {
        let mut slot = settle.slot(j).clone();
        let mut change = Change::default();
        let mut leave_out = |limb: Limb, slot: &mut Slot| {
            slot.retain(|s| s.limb != limb);
            change.left_out.push(limb);
        };
        match deed {
            Deed::Keep => {}
            Deed::OtherHand => {}
            Deed::LeaveOutRight => leave_out(Limb::RightHand, &mut slot),
            Deed::LeaveOutLeft => leave_out(Limb::LeftHand, &mut slot),
            Deed::LeaveOutBoth => {
                leave_out(Limb::RightHand, &mut slot);
                leave_out(Limb::LeftHand, &mut slot);
            }
        }
        for (limb, played) in &feet {
            if !played[j] {
                leave_out(*limb, &mut slot);
            }
        }
        if deed == Deed::OtherHand {
            for stroke in slot.iter_mut().filter(|s| s.limb.hand().is_some()) {
                *stroke = mirrored(*stroke);
                change.hand = stroke.limb.hand();
            }
        }
        plan.slots.push(slot);
        plan.changes.push(change);
    }
    plan
}

/// The stroke and its grace notes with the other hand.
fn mirrored(stroke: Stroke) -> Stroke {
    let Some(hand) = stroke.limb.hand() else {
        return stroke;
    };
    let graces: Vec<Hand> = stroke.graces.iter().map(Hand::other).collect();
    let graces = Graces::from_hands(&graces).unwrap_or(stroke.graces);
    Stroke {
        limb: hand.other().into(),
        graces,
        ..stroke
    }
}

static REST: Slot = Slot::new();

impl Settle<'_> {
    fn slot(&self, new: usize) -> &Slot {
        self.picks[new].from.map_or(&REST, |i| &self.cell.slots[i])
    }

    fn plays(&self, new: usize, limb: Limb) -> bool {
        self.slot(new).iter().any(|s| s.limb == limb)
    }

    fn most(&self, new: usize, limb: Limb) -> usize {
        self.levels.most(self.stretch[new], limb)
    }

    /// Whether a new slot follows the one before as in the cell.
    fn natural(&self, new: usize) -> bool {
        let before = new.checked_sub(1).and_then(|b| self.picks[b].from);
        before.is_some_and(|b| self.picks[new].from == Some(b + 1))
    }

    fn leave_out(&self, new: usize) -> u64 {
        let again = matches!(self.picks[new].how, How::Stays | How::Back | How::Again);
        let price = &self.rules.sticking;
        u64::from(if again {
            price.leave_out_again
        } else {
            price.leave_out
        })
    }

    /// For every new slot, what the hands do.
    fn hands(&self) -> Vec<Deed> {
        let mut layers: Vec<BTreeMap<Hands, (u64, Hands, Deed)>> = Vec::new();
        let start: Hands = (0, 0, false);
        let mut last = BTreeMap::from([(start, (0, start, Deed::Keep))]);
        for new in 0..self.picks.len() {
            let mut layer: BTreeMap<Hands, (u64, Hands, Deed)> = BTreeMap::new();
            for (state, (cost, ..)) in &last {
                for deed in self.deeds(new) {
                    let Some((next, price)) = self.step(new, *state, *deed) else {
                        continue;
                    };
                    let cost = cost + price;
                    let known = layer.get(&next);
                    if known.is_none_or(|(c, _, d)| (cost, *deed) < (*c, *d)) {
                        layer.insert(next, (cost, *state, *deed));
                    }
                }
            }
            layers.push(std::mem::replace(&mut last, layer));
        }
        let turn = u64::from(self.rules.sticking.turn_round);
        let ends = last.iter().map(|(state, (cost, ..))| {
            (
                cost + if self.turns_on_a_hand(*state) {
                    turn
                } else {
                    0
                },
                *state,
            )
        });
        let Some((_, mut state)) = ends.min() else {
            return vec![Deed::Keep; self.picks.len()];
        };
        layers.push(last);
        let mut deeds = Vec::with_capacity(self.picks.len());
        for layer in layers[1..].iter().rev() {
            let Some((_, before, deed)) = layer.get(&state) else {
                break;
            };
            deeds.push(*deed);
            state = *before;
        }
        deeds.reverse();
        deeds
    }

    fn deeds(&self, new: usize) -> &'static [Deed] {
        let hands = [Limb::RightHand, Limb::LeftHand].map(|limb| self.plays(new, limb));
        match hands {
            _ if new < self.opening => &[Deed::Keep],
            [false, false] => &[Deed::Keep],
            [true, false] => &[Deed::Keep, Deed::OtherHand, Deed::LeaveOutRight],
            [false, true] => &[Deed::Keep, Deed::OtherHand, Deed::LeaveOutLeft],
            [true, true] => &[
                Deed::Keep,
                Deed::LeaveOutRight,
                Deed::LeaveOutLeft,
                Deed::LeaveOutBoth,
            ],
        }
    }

    /// The state after a deed and its price; `None` if it is above the level.
    fn step(&self, new: usize, state: Hands, deed: Deed) -> Option<(Hands, u64)> {
        let price = &self.rules.sticking;
        let (right_row, left_row, was_changed) = state;
        let (right, left) = (
            self.plays(new, Limb::RightHand),
            self.plays(new, Limb::LeftHand),
        );
        let changed = deed == Deed::OtherHand;
        let (right, left) = match deed {
            Deed::Keep => (right, left),
            Deed::OtherHand => (left, right),
            Deed::LeaveOutRight => (false, left),
            Deed::LeaveOutLeft => (right, false),
            Deed::LeaveOutBoth => (false, false),
        };
        let mut cost = match deed {
            Deed::Keep => 0,
            Deed::OtherHand => {
                let alone = price.alone as usize;
                let reach = self.slot(new).iter().any(|s| {
                    self.has_its_hand(s) && !self.levels.hurries(self.stretch[new], s.limb, alone)
                });
                u64::from(price.other_hand + if reach { price.reach } else { 0 })
            }
            Deed::LeaveOutRight | Deed::LeaveOutLeft => self.leave_out(new),
            Deed::LeaveOutBoth => 2 * self.leave_out(new),
        };
        let natural = self.natural(new);
        let hands = right || left;
        if hands && natural && right_row + left_row > 0 && changed != was_changed {
            cost += u64::from(price.change_over);
        }
        let mut rows = [0, 0];
        let sides = [
            (right, right_row, Limb::RightHand),
            (left, left_row, Limb::LeftHand),
        ];
        for (row, (plays, before, limb)) in rows.iter_mut().zip(sides) {
            if !plays {
                continue;
            }
            *row = (before + 1).min(ENDLESS);
            if new >= self.opening && *row > self.most(new, limb) {
                return None;
            }
            if *row > 1 {
                if !natural || changed != was_changed {
                    cost += u64::from(price.double);
                }
                if self
                    .levels
                    .hurries(self.stretch[new], limb, price.alone as usize)
                {
                    cost += u64::from(price.hurry);
                }
            }
        }
        let changed = if hands { changed } else { false };
        Some(((rows[0], rows[1], changed), cost))
    }

    fn has_its_hand(&self, stroke: &Stroke) -> bool {
        let bound = &self.rules.sticking.with_their_hand;
        let named = |name: &String| Voice::from_name(name) == Some(stroke.voice);
        stroke.limb.hand().is_some() && bound.iter().any(named)
    }

    /// Whether the hand that ends would begin the next time round, where it does
    /// not in the cell.
    fn turns_on_a_hand(&self, end: Hands) -> bool {
        let plays = |slot: Option<&Slot>, limb| {
            slot.is_some_and(|s| s.iter().any(|stroke| stroke.limb == limb))
        };
        let (first, last) = (self.cell.slots.first(), self.cell.slots.last());
        [(Limb::RightHand, end.0), (Limb::LeftHand, end.1)]
            .into_iter()
            .any(|(limb, row)| row > 0 && plays(first, limb) && !plays(last, limb))
    }

    /// For every new slot, whether a foot's stroke there is played.
    fn foot(&self, limb: Limb) -> Vec<bool> {
        let mut layers: Vec<BTreeMap<usize, (u64, usize)>> = Vec::new();
        let mut last = BTreeMap::from([(0, (0, 0))]);
        for new in 0..self.picks.len() {
            let mut layer: BTreeMap<usize, (u64, usize)> = BTreeMap::new();
            let mut offer = |row: usize, cost: u64, before: usize| {
                if layer.get(&row).is_none_or(|(known, _)| cost < *known) {
                    layer.insert(row, (cost, before));
                }
            };
            let plays = self.plays(new, limb);
            let beat = new == 0 || self.stretch[new] != self.stretch[new - 1];
            for (row, (cost, _)) in &last {
                if plays && (new < self.opening || *row < self.most(new, limb)) {
                    offer((row + 1).min(ENDLESS), *cost, *row);
                }
                if !plays {
                    offer(0, *cost, *row);
                } else if new >= self.opening {
                    let on_beat = u64::from(self.rules.leave_out.beat_foot) * u64::from(beat);
                    offer(0, cost + self.leave_out(new) + on_beat, *row);
                }
            }
            layers.push(std::mem::replace(&mut last, layer));
        }
        let mut row = last
            .iter()
            .min_by_key(|(_, (cost, _))| *cost)
            .map_or(0, |(row, _)| *row);
        layers.push(last);
        let mut played = Vec::with_capacity(self.picks.len());
        for (new, layer) in layers[1..].iter().enumerate().rev() {
            let Some((_, before)) = layer.get(&row) else {
                break;
            };
            played.push(row > 0 || !self.plays(new, limb));
            row = *before;
        }
        played.reverse();
        played
    }
}
