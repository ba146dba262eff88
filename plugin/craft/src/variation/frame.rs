//! The frame: what each slot may hold, and what may come in a row.

use super::ask::Ask;
use super::distance::Distance;
use super::options;
use super::rules::{LevelRules, VariationRules};
use barform_score::music::{Limb, Slot, Stroke};
use std::collections::BTreeMap;
use std::ops::RangeInclusive;

/// How many in a row up to here: `R L K H`, then rests.
pub(super) type Runs = [u8; 5];

/// Index of the rests in [`Runs`].
const RESTS: usize = 4;

/// Every way to fill each slot, and the limits of what comes in a row.
pub(super) struct Frame {
    /// The original's slots, strokes in the order `R L K H`.
    pub original: Vec<Slot>,
    /// All ways to fill a slot.
    pub fills: Vec<Slot>,
    /// For each slot, its options in groups.
    pub slots: Vec<Vec<Group>>,
    /// Distances allowed; `None` for any, and then costs are all zero.
    pub within: Option<RangeInclusive<u64>>,
    /// Whether rows are counted across the end.
    pub repeats: bool,
    /// Most in a row; `None` where what stays is not ours to judge.
    limits: [Option<u8>; 5],
}

/// Options of one slot that are alike for what follows: they use the same
/// limbs and add the same distance.
pub(super) struct Group {
    /// Whether each kind goes on, in the order of [`Runs`].
    pub moves: [bool; 5],
    /// What they add to the distance.
    pub cost: u64,
    /// The options, as indices into the frame's fills.
    pub options: Vec<usize>,
    /// Whether the slot is part of the opening that stays.
    kept: bool,
    /// For a kept slot, which rows go on from the first slot up to here.
    from_start: [bool; 5],
}

impl Frame {
    /// The frame of a question that has been checked.
    pub fn new(ask: &Ask<'_>, rules: &VariationRules, level: &LevelRules) -> Frame {
        let original: Vec<Slot> = ask
            .original
            .slots
            .iter()
            .map(|slot| by_limb(slot))
            .collect();
        let mut fills = Vec::new();
        if !ask.keep.sticking {
            fills = options::all(&ask.limbs, &ask.voices, level, rules.together());
        }
        let free = 0..fills.len();
        let mut slots = Vec::with_capacity(original.len());
        let mut from_start = [true; 5];
        for (i, slot) in original.iter().enumerate() {
            let kept = i < ask.keep.opening;
            let own = fills.len();
            if kept {
                fills.push(slot.clone());
            } else if ask.keep.sticking {
                fills.extend(same_sticking(ask, rules, level, slot));
            }
            // What was made for this slot alone, else what any slot may hold.
            let here = if own < fills.len() || kept {
                own..fills.len()
            } else {
                free.clone()
            };
            let mut groups: BTreeMap<([bool; 5], u64), Vec<usize>> = BTreeMap::new();
            for option in here {
                let fill = &fills[option];
                if !kept && !options::keeps(ask, slot, fill) {
                    continue;
                }
                let cost = match ask.within {
                    Some(_) => Distance::of_slot(slot, fill).total(rules.weights()),
                    None => 0,
                };
                groups.entry((moves(fill), cost)).or_default().push(option);
            }
            for (so_far, here) in from_start.iter_mut().zip(moves(slot)) {
                *so_far &= here;
            }
            let group = |((moves, cost), options)| Group {
                moves,
                cost,
                options,
                kept,
                from_start,
            };
            slots.push(groups.into_iter().map(group).collect());
        }
        // What stays by the user's wish is not judged; nothing is all rests.
        let all = u8::try_from(original.len()).unwrap_or(u8::MAX);
        let unless = |stays: bool, limit: u8| (!stays).then_some(limit);
        let keep = &ask.keep;
        let limits = [
            unless(keep.sticking, level.same_hand),
            unless(keep.sticking, level.same_hand),
            unless(keep.sticking || keep.kicks, level.kick),
            unless(keep.sticking, level.hat_foot),
            unless(
                keep.sticking || keep.rests || keep.voices,
                level.rests.min(all.saturating_sub(1)),
            ),
        ];
        let within = ask.within.clone();
        Frame {
            original,
            fills,
            slots,
            within,
            repeats: ask.repeats,
            limits,
        }
    }

    /// The rows after an option of `group`, entered with `enter` at the first
    /// slot; `None` if one of them is too long.
    ///
    /// In the opening that stays, rows of its own may be as long as they are;
    /// not so a row that came in across the end.
    pub fn step(&self, runs: &Runs, group: &Group, enter: &Runs) -> Option<Runs> {
        let mut next: Runs = [0; 5];
        for i in 0..next.len() {
            let Some(limit) = self.limits[i] else {
                continue;
            };
            if !group.moves[i] {
                continue;
            }
            next[i] = if runs[i] < limit {
                runs[i] + 1
            } else if group.kept && !(group.from_start[i] && enter[i] > 0) {
                limit
            } else {
                return None;
            };
        }
        Some(next)
    }
}

/// The original's strokes on every choice of the voices that are allowed. What
/// is struck at once is part of the sticking and not judged again.
fn same_sticking(
    ask: &Ask<'_>,
    rules: &VariationRules,
    level: &LevelRules,
    slot: &[Stroke],
) -> Vec<Slot> {
    let mut voices = ask.voices.clone();
    voices.sort();
    voices.dedup();
    let level = LevelRules {
        one_drum: true,
        ..level.clone()
    };
    options::voiced(slot, &voices, |fill| {
        options::allowed(fill, &level, rules.together())
    })
}

/// Which rows an option carries on. The hand of a grace note plays, too.
fn moves(slot: &[Stroke]) -> [bool; 5] {
    let mut moves = [false; 5];
    for stroke in slot {
        let graces = stroke.graces.iter().map(Limb::from);
        for limb in graces.chain([stroke.limb]) {
            moves[match limb {
                Limb::RightHand => 0,
                Limb::LeftHand => 1,
                Limb::KickFoot => 2,
                Limb::HatFoot => 3,
            }] = true;
        }
    }
    moves[RESTS] = slot.is_empty();
    moves
}

fn by_limb(slot: &[Stroke]) -> Slot {
    let mut sorted = slot.to_vec();
    sorted.sort_by_key(|stroke| stroke.limb);
    sorted
}
