//! As many slots as the cell has, or more: every slot stays, in order, and
//! passages just played are played again.

use super::view::{Cost, View};
use super::{How, Pick};

/// One step of the way.
#[derive(Clone, Copy)]
enum Step {
    /// The next slot of the cell.
    Advance,
    /// The last so many slots once more.
    Again(usize),
    /// Nothing.
    Rest,
}

/// So many new slots are filled, so many slots of the cell played, and whether
/// the last new slot rests.
type State = (usize, usize, bool);

struct Search<'v, 'a> {
    view: &'v View<'a>,
    /// Cost, step and the state before, for each state.
    best: Vec<Option<(Cost, Step, State)>>,
}

/// The cheapest way, with the opening kept.
pub(super) fn fill(view: &View) -> Vec<Pick> {
    let states = (view.new + 1) * (view.old + 1) * 2;
    let mut search = Search {
        view,
        best: vec![None; states],
    };
    search.run();
    search.way()
}

impl Search<'_, '_> {
    fn index(&self, (new, old, rests): State) -> usize {
        (new * (self.view.old + 1) + old) * 2 + usize::from(rests)
    }

    fn offer(&mut self, from: State, to: State, cost: Cost, step: Step) {
        let index = self.index(to);
        if self.best[index].is_none_or(|(known, ..)| cost < known) {
            self.best[index] = Some((cost, step, from));
        }
    }

    fn run(&mut self) {
        let view = self.view;
        let (price, most) = (&view.rules.again, view.rules.again.most_slots as usize);
        let start = (0, 0, false);
        let index = self.index(start);
        self.best[index] = Some((0, Step::Advance, start));
        for new in 0..view.new {
            for old in view.band(new) {
                for rests in [false, true] {
                    let state = (new, old, rests);
                    let Some((cost, ..)) = self.best[self.index(state)] else {
                        continue;
                    };
                    // New slots that the rest of the cell does not need.
                    let spare = (view.new - new).saturating_sub(view.old - old);
                    if old < view.old {
                        let cost = cost + view.late(new, old);
                        self.offer(state, (new + 1, old + 1, false), cost, Step::Advance);
                    }
                    if new < view.keep || old == 0 || spare == 0 {
                        continue;
                    }
                    let rest = cost + Cost::from(price.rest);
                    self.offer(state, (new + 1, old, true), rest, Step::Rest);
                    for again in 1..=old.min(spare).min(most) {
                        let from = old - again;
                        let late: Cost = (0..again).map(|k| view.late(new + k, from + k)).sum();
                        let mut cost = cost + late + view.again(old - 1, from, again);
                        if rests {
                            cost -= view.join(old - 1, from);
                        }
                        self.offer(state, (new + again, old, false), cost, Step::Again(again));
                    }
                }
            }
        }
    }

    /// What the end of the stretch costs from a state in which the whole cell
    /// has been played: nothing if it is full, else a passage begun again that
    /// the end cuts off. With the slot that passage begins on.
    fn ending(&self, state: State, cost: Cost) -> Option<(Cost, Option<usize>)> {
        let view = self.view;
        let (new, old, rests) = state;
        let left = view.new - new;
        if left == 0 {
            return Some((cost, None));
        }
        if left > view.rules.again.most_slots as usize || new < view.keep {
            return None;
        }
        let begin = |from: usize| {
            let late: Cost = (0..left).map(|k| view.late(new + k, from + k)).sum();
            let mut cost = cost + late + view.again(old - 1, from, left);
            if rests {
                cost -= view.join(old - 1, from);
            }
            (cost + view.join(from + left - 1, old), Some(from))
        };
        (0..=old.checked_sub(left + 1)?).map(begin).min()
    }

    fn way(&self) -> Vec<Pick> {
        let view = self.view;
        let states = (0..=view.new).flat_map(|n| [(n, view.old, false), (n, view.old, true)]);
        let ends = states.filter_map(|state| {
            let (cost, ..) = self.best[self.index(state)]?;
            let (cost, from) = self.ending(state, cost)?;
            // A full stretch before one that is cut off, at the same price.
            Some((cost, view.new - state.0, from, state))
        });
        let Some((_, left, from, mut state)) = ends.min() else {
            return Vec::new();
        };
        let mut picks = Vec::with_capacity(view.new);
        if let Some(from) = from {
            push_again(&mut picks, from, left, view.old - 1);
        }
        while state.0 > 0 {
            let Some((_, step, before)) = self.best[self.index(state)] else {
                break;
            };
            match step {
                Step::Advance => picks.push(Pick {
                    from: Some(state.1 - 1),
                    how: How::Next,
                }),
                Step::Rest => picks.push(Pick {
                    from: None,
                    how: How::Rests,
                }),
                Step::Again(slots) => {
                    push_again(&mut picks, state.1 - slots, slots, state.1 - 1);
                }
            }
            state = before;
        }
        picks.reverse();
        picks
    }
}

/// A passage played again after slot `last`, last new slot first.
fn push_again(picks: &mut Vec<Pick>, from: usize, slots: usize, last: usize) {
    for i in (0..slots).rev() {
        let how = match i {
            0 if from == last => How::Stays,
            0 => How::Back,
            _ => How::Again,
        };
        picks.push(Pick {
            from: Some(from + i),
            how,
        });
    }
}
