//! The cheapest sticking, and the cost of a given one.
//!
//! What the past costs the future is fully described by a [`Before`], of which
//! there are few; so the cheapest way on from each of them, worked out from the
//! end, is exact.

use super::charge::{Before, Did, Hands, Problem, Use, side};
use super::explain::Sticking;
use super::passage::{Passage, StickingError};
use super::{Ask, Rules};
use barform_score::music::Hand;

impl Sticking {
    /// The cheapest sticking. Settled hands are kept. Of equally cheap ones,
    /// that with the lead hand at the first stroke where they differ (strokes
    /// at the same time in the order given).
    ///
    /// # Errors
    /// See [`StickingError`]; what is merely impossible to play is a cost.
    pub fn best(passage: &Passage, ask: &Ask, rules: &Rules) -> Result<Sticking, StickingError> {
        let problem = Problem::new(passage, ask, rules)?;
        let plan = Plan::new(&problem);
        let best = if problem.looped {
            // Round a loop the end must hand over what the start began with.
            (0..plan.states.len())
                .filter_map(|state| plan.cheapest(state, Some(state)))
                .min_by(|(a, a_hands), (b, b_hands)| {
                    let rank = |hands: &[Hands]| -> Vec<bool> {
                        hands.iter().flatten().map(|h| *h != ask.lead).collect()
                    };
                    a.cmp(b).then_with(|| rank(a_hands).cmp(&rank(b_hands)))
                })
        } else {
            plan.cheapest(0, None)
        };
        let hands = best.map(|(_, hands)| hands).unwrap_or_default();
        let sticking = explain(&problem, &hands);
        Ok(sticking)
    }

    /// What the given hands cost, one per stroke; missing ones are taken to be
    /// the lead hand. A settled stroke is costed with the hand given here.
    ///
    /// # Errors
    /// See [`StickingError`].
    pub fn of(
        passage: &Passage,
        hands: &[Hand],
        ask: &Ask,
        rules: &Rules,
    ) -> Result<Sticking, StickingError> {
        let problem = Problem::new(passage, ask, rules)?;
        let hand = |i: usize| hands.get(i).copied().unwrap_or(ask.lead);
        let pairs: Vec<Hands> = problem
            .moments
            .iter()
            .map(|m| [hand(m.first), hand(m.first + 1)])
            .collect();
        Ok(explain(&problem, &pairs))
    }
}

/// Walks through a passage and writes down every cost.
fn explain(problem: &Problem<'_>, played: &[Hands]) -> Sticking {
    let mut charges = vec![Vec::new(); problem.strokes.len()];
    let mut hands = Vec::with_capacity(problem.strokes.len());
    let mut total = 0;
    for (i, now) in played.iter().enumerate() {
        problem.charge(
            i,
            *now,
            &look_back(problem, played, i),
            &mut |stroke, charge| {
                total += charge.cost;
                charges[stroke].push(charge);
            },
        );
        hands.extend(now.iter().take(problem.moments[i].count));
    }
    Sticking {
        hands,
        charges,
        total,
    }
}

/// What the hands did before a moment, looked up moment by moment.
fn look_back(problem: &Problem<'_>, played: &[Hands], moment: usize) -> Before {
    let n = played.len();
    let earlier = |ago: u8| {
        let ago = usize::from(ago);
        if problem.looped {
            Some((moment + n * (1 + ago / n) - ago) % n)
        } else {
            moment.checked_sub(ago)
        }
    };
    let last = |hand: Hand| {
        (1..=problem.memory()).find_map(|ago| {
            let at = earlier(ago)?;
            Some(Use {
                ago,
                did: problem.did(at, played[at], hand)?,
            })
        })
    };
    let alone = earlier(1).and_then(|at| alone(problem.moments[at].count, played[at]));
    Before {
        last: alone,
        hands: [last(Hand::Right), last(Hand::Left)],
    }
}

/// The hand that alone plays the main strokes of a moment.
fn alone(count: usize, hands: Hands) -> Option<Hand> {
    (count == 1 || hands[0] == hands[1]).then_some(hands[0])
}

/// All that the hands may remember, and how each way of playing leads on.
struct Plan<'p> {
    problem: &'p Problem<'p>,
    /// State 0 is "nothing played yet".
    states: Vec<Before>,
    /// The ways of playing that occur in this passage.
    ways: Vec<Way>,
    /// State after each way, by state times number of ways.
    next: Vec<usize>,
    /// Ways of each moment with the hands, the preferred one first.
    choices: Vec<Vec<(Hands, usize)>>,
}

/// What a moment leaves behind: who played alone, what each hand did.
type Way = (Option<Hand>, [Option<Did>; 2]);

impl<'p> Plan<'p> {
    fn new(problem: &'p Problem<'p>) -> Plan<'p> {
        let mut ways: Vec<Way> = Vec::new();
        let mut choices = Vec::with_capacity(problem.moments.len());
        for moment in 0..problem.moments.len() {
            let count = problem.moments[moment].count;
            let mut here = Vec::new();
            for hands in hands_of(problem, moment) {
                let did = |hand| problem.did(moment, hands, hand);
                let way = (alone(count, hands), [did(Hand::Right), did(Hand::Left)]);
                let number = ways.iter().position(|w| *w == way).unwrap_or_else(|| {
                    ways.push(way);
                    ways.len() - 1
                });
                here.push((hands, number));
            }
            choices.push(here);
        }
        let mut states = vec![Before::NOTHING];
        let mut next = Vec::new();
        let mut done = 0;
        while done < states.len() {
            for way in &ways {
                let after = after(states[done], *way, problem.memory());
                next.push(states.iter().position(|s| *s == after).unwrap_or_else(|| {
                    states.push(after);
                    states.len() - 1
                }));
            }
            done += 1;
        }
        Plan {
            problem,
            states,
            ways,
            next,
            choices,
        }
    }

    /// The cheapest way from a state through all moments (to a state, if one is
    /// asked for).
    fn cheapest(&self, start: usize, end: Option<usize>) -> Option<(i64, Vec<Hands>)> {
        let (n, width) = (self.choices.len(), self.states.len());
        let reached = self.reached(start);
        // Cost of the rest from each state before each moment, and the choice.
        let mut rest: Vec<Option<i64>> = (0..width)
            .map(|s| end.is_none_or(|end| s == end).then_some(0))
            .collect();
        let mut chosen = vec![0_u8; n * width];
        for i in (0..n).rev() {
            let mut here = vec![None; width];
            for s in (0..width).filter(|s| reached[i * width + s]) {
                for (number, (hands, way)) in self.choices[i].iter().enumerate() {
                    let Some(later) = rest[self.next[s * self.ways.len() + way]] else {
                        continue;
                    };
                    let mut cost = later;
                    let add = &mut |_, charge: super::Charge| cost += charge.cost;
                    self.problem.charge(i, *hands, &self.states[s], add);
                    // Strictly cheaper only: the preferred choice comes first.
                    if here[s].is_none_or(|best| cost < best) {
                        here[s] = Some(cost);
                        chosen[i * width + s] = number as u8;
                    }
                }
            }
            rest = here;
        }
        let total = rest[start]?;
        let mut state = start;
        let mut hands = Vec::with_capacity(n);
        for (i, choices) in self.choices.iter().enumerate() {
            let (played, way) = choices[usize::from(chosen[i * width + state])];
            hands.push(played);
            state = self.next[state * self.ways.len() + way];
        }
        Some((total, hands))
    }

    /// Which states can stand before each moment.
    fn reached(&self, start: usize) -> Vec<bool> {
        let width = self.states.len();
        let mut reached = vec![false; (self.choices.len() + 1) * width];
        reached[start] = true;
        for (i, choices) in self.choices.iter().enumerate() {
            for s in (0..width)
                .filter(|s| reached[i * width + *s])
                .collect::<Vec<_>>()
            {
                for (_, way) in choices {
                    reached[(i + 1) * width + self.next[s * self.ways.len() + way]] = true;
                }
            }
        }
        reached
    }
}

/// What is remembered after a way of playing.
fn after(before: Before, (last, did): Way, memory: u8) -> Before {
    let hand = |hand: Hand| match (did[side(hand)], before.hands[side(hand)]) {
        (Some(did), _) => Some(Use { ago: 1, did }),
        (None, Some(earlier)) if earlier.ago < memory => Some(Use {
            ago: earlier.ago + 1,
            did: earlier.did,
        }),
        _ => None,
    };
    Before {
        last,
        hands: [hand(Hand::Right), hand(Hand::Left)],
    }
}

/// The hands a moment may be played with, in order of preference.
fn hands_of(problem: &Problem<'_>, moment: usize) -> Vec<Hands> {
    let m = problem.moments[moment];
    let lead = problem.ask.lead;
    let open = |i: usize| match problem.strokes[i].hand {
        Some(hand) => vec![hand],
        None => vec![lead, lead.other()],
    };
    let first = open(m.first);
    if m.count == 1 {
        return first.into_iter().map(|h| [h, h]).collect();
    }
    let second = open(m.first + 1);
    let settled = first.len() == 1 && second.len() == 1;
    let pairs = first
        .iter()
        .flat_map(|a| second.iter().map(move |b| [*a, *b]));
    pairs.filter(|[a, b]| settled || a != b).collect()
}
