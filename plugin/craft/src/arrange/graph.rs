//! The places a form can be at on its way, each worked out once: how many ways
//! lead on from there, and the price of the best.

use super::forms::{FormsError, Request};
use super::rules::RankPrices;
use barform_score::music::{Beats, Letter};
use num_bigint::BigUint;
use num_integer::Integer;
use num_traits::Zero;
use std::collections::HashMap;

/// Most places kept: some hundred megabytes.
const MOST_PLACES: usize = 400_000;

/// All that the rest of a form depends on.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
struct State {
    /// Units since the start.
    at: u64,
    /// Last letter.
    last: Option<u8>,
    /// How often in a row it has been played, as far as that matters.
    row: u32,
    /// How often each letter has been played, as far as that matters.
    played: Vec<u32>,
}

#[derive(Debug, Clone, Default)]
struct Place {
    /// Letter, price, place after it.
    steps: Vec<(u8, u64, u32)>,
    is_end: bool,
    count: BigUint,
    /// Price of the best way to the end; `None` if none leads there.
    best: Option<u64>,
}

/// The places of a request. Every step leads to a later one.
#[derive(Debug, Clone)]
pub(super) struct Graph {
    places: Vec<Place>,
}

/// A request in whole units of time.
struct Units {
    lengths: Vec<u64>,
    bar: u64,
    total: u64,
}

impl Graph {
    /// The place before the first letter.
    pub const START: u32 = 0;

    pub fn build(prices: &RankPrices, request: &Request) -> Result<Graph, FormsError> {
        let units = units(request)?;
        let index = |letter: &Option<Letter>| {
            let at = |l: &Letter| request.offers.iter().position(|o| o.letter == *l);
            letter.as_ref().and_then(at)
        };
        let (starts, ends) = (index(&request.starts), index(&request.ends));
        let row_matters = request.most_in_a_row.unwrap_or(2).max(2);
        let matters: Vec<u32> = request
            .offers
            .iter()
            .map(|o| o.least.max(o.most.unwrap_or(1)).max(1))
            .collect();

        let start = State {
            at: 0,
            last: None,
            row: 0,
            played: vec![0; units.lengths.len()],
        };
        let mut known = HashMap::from([(start.clone(), Graph::START)]);
        let mut states = vec![start];
        let mut places: Vec<Place> = vec![Place::default()];
        let mut next = 0;
        while next < states.len() {
            let state = states[next].clone();
            let here = next;
            next += 1;
            if state.at == units.total {
                let enough = request
                    .offers
                    .iter()
                    .zip(&state.played)
                    .all(|(o, n)| *n >= o.least);
                let ends_well = ends.is_none_or(|e| state.last.map(usize::from) == Some(e));
                places[here].is_end = enough && ends_well;
                continue;
            }
            for (letter, offer) in request.offers.iter().enumerate() {
                if state.last.is_none() && starts.is_some_and(|s| s != letter) {
                    continue;
                }
                let end = state.at.saturating_add(units.lengths[letter]);
                let crosses = state.at / units.bar != (end - 1) / units.bar
                    && !(state.at.is_multiple_of(units.bar) && end.is_multiple_of(units.bar));
                if end > units.total || (request.meets_bar_lines && crosses) {
                    continue;
                }
                let same = state.last.map(usize::from) == Some(letter);
                let row = if same { state.row + 1 } else { 1 };
                let too_many = offer.most.is_some_and(|most| state.played[letter] >= most);
                if too_many || request.most_in_a_row.is_some_and(|most| row > most) {
                    continue;
                }
                let price = step_price(prices, &state, letter, row)
                    + end_price(prices, &state, letter, end == units.total);
                let mut played = state.played.clone();
                played[letter] = (played[letter] + 1).min(matters[letter]);
                // At most 26 letters.
                let last = Some(letter as u8);
                let to = State {
                    at: end,
                    last,
                    row: row.min(row_matters),
                    played,
                };
                let to = *known.entry(to).or_insert_with_key(|to| {
                    states.push(to.clone());
                    places.push(Place::default());
                    // Below MOST_PLACES plus one step of 26 letters.
                    (states.len() - 1) as u32
                });
                places[here].steps.push((letter as u8, price, to));
            }
            if states.len() > MOST_PLACES {
                return Err(FormsError::TooMany);
            }
        }
        let mut graph = Graph { places };
        graph.work_back(&states);
        Ok(graph)
    }

    /// Counts and best prices, latest places first.
    fn work_back(&mut self, states: &[State]) {
        let mut order: Vec<usize> = (0..states.len()).collect();
        order.sort_by_key(|i| std::cmp::Reverse(states[*i].at));
        for i in order {
            if self.places[i].is_end {
                (self.places[i].count, self.places[i].best) = (BigUint::from(1_u8), Some(0));
                continue;
            }
            let mut count = BigUint::zero();
            let mut best = None;
            for (_, price, to) in &self.places[i].steps {
                let to = &self.places[*to as usize];
                count += &to.count;
                if let Some(rest) = to.best {
                    best = Some(best.map_or(price + rest, |b: u64| b.min(price + rest)));
                }
            }
            (self.places[i].count, self.places[i].best) = (count, best);
        }
    }

    pub fn in_all(&self) -> &BigUint {
        &self.places[Graph::START as usize].count
    }

    /// How many ways lead from a place to the end.
    pub fn count(&self, place: u32) -> &BigUint {
        &self.places[place as usize].count
    }

    pub fn best(&self, place: u32) -> Option<u64> {
        self.places[place as usize].best
    }

    pub fn is_end(&self, place: u32) -> bool {
        self.places[place as usize].is_end
    }

    pub fn steps(&self, place: u32) -> &[(u8, u64, u32)] {
        &self.places[place as usize].steps
    }
}

/// Price of a step to a letter, the `row`-th time in a row.
fn step_price(prices: &RankPrices, state: &State, letter: usize, row: u32) -> u64 {
    u64::from(match row {
        _ if state.last.is_none() => 0,
        1 if state.played[letter] == 0 => prices.new,
        1 => prices.back,
        2 => prices.again,
        _ => prices.too_often,
    })
}

/// What a form costs for ending with this letter.
fn end_price(prices: &RankPrices, state: &State, letter: usize, ends: bool) -> u64 {
    if !ends {
        return 0;
    }
    let unused = (0..state.played.len()).filter(|l| *l != letter && state.played[*l] == 0);
    let repeats = state.last.map(usize::from) == Some(letter);
    let end = if repeats { prices.end_again } else { 0 };
    unused.count() as u64 * u64::from(prices.unused) + u64::from(end)
}

/// All lengths as whole numbers of the longest unit that divides them.
fn units(request: &Request) -> Result<Units, FormsError> {
    let overflow = || FormsError::Beats(barform_score::music::BeatsError::Overflow);
    let all = request.offers.iter().map(|o| o.length).chain([request.bar]);
    let mut denom = 1_i64;
    for length in all.clone() {
        let gcd = denom.gcd(&length.denom());
        denom = denom
            .checked_mul(length.denom() / gcd)
            .ok_or_else(overflow)?;
    }
    let scaled = |length: Beats| {
        let units = length.checked_mul(Beats::whole(denom))?;
        // Whole and above zero.
        Ok::<u64, FormsError>(units.numer().unsigned_abs())
    };
    let lengths = request.offers.iter().map(|o| scaled(o.length));
    let lengths: Vec<u64> = lengths.collect::<Result<_, _>>()?;
    let bar = scaled(request.bar)?;
    let total = bar
        .checked_mul(u64::from(request.bars))
        .ok_or_else(overflow)?;
    Ok(Units {
        lengths,
        bar,
        total,
    })
}
