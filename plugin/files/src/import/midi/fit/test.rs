//! The choice of a grid against a search through all, with the cost written
//! out a second time from its description.

use super::*;
use num_rational::Ratio;
use proptest::prelude::*;

/// A candidate: spans as (slots, length in sixtieths of a beat), and the price
/// of choosing it.
type Candidate = (Vec<(u8, i64)>, i64);

/// All ways to cut `units` beats.
fn candidates(units: usize) -> Vec<Candidate> {
    if units == 0 {
        return vec![(Vec::new(), 0)];
    }
    let mut firsts: Vec<(usize, Candidate)> = Vec::new();
    for n in 1..=12 {
        firsts.push((1, (vec![(n, 60)], price(n))));
        for m in 1..=12 {
            let halves = vec![(n, 30), (m, 30)];
            firsts.push((1, (halves, 900 + price(n) + price(m))));
        }
    }
    for (over, slots) in [(2, vec![3, 5, 7]), (3, vec![2, 4]), (4, vec![3, 5, 7])] {
        for n in slots {
            let span = vec![(n, 60 * over as i64)];
            firsts.push((over, (span, price(n) + 600 * (over as i64 - 1))));
        }
    }
    let mut all = Vec::new();
    for (over, (spans, cost)) in firsts.into_iter().filter(|(over, _)| *over <= units) {
        for (rest, more) in candidates(units - over) {
            all.push(([spans.clone(), rest].concat(), cost + more));
        }
    }
    all
}

/// What a candidate costs in all. Strokes belong to the span they are in.
fn cost(spans: &[(u8, i64)], price: i64, onsets: &[Onset], us: u32, tolerance: Ratio<i64>) -> i64 {
    let mut total = price;
    let mut start = Ratio::new(0, 60);
    for (n, length) in spans {
        let slot = Ratio::new(*length, 60 * i64::from(*n));
        let end = start + Ratio::new(*length, 60);
        let mut hit = Vec::new();
        for onset in onsets {
            let at = Ratio::new(onset.at.numer(), onset.at.denom());
            if at < start - tolerance && start > Ratio::from(0) || at >= end - tolerance {
                continue;
            }
            let near = (0..i64::from(*n))
                .min_by_key(|k| {
                    let off = at - (start + slot * k);
                    (off.max(-off), -k)
                })
                .unwrap();
            let off = at - (start + slot * near);
            let off = off.max(-off);
            if off > tolerance {
                let us = (off * i64::from(us)).floor().to_integer();
                total += us * us / 100_000;
            }
            total += 4_000 * hit.iter().filter(|h| **h == (near, onset.drum)).count() as i64;
            hit.push((near, onset.drum));
        }
        let taken: std::collections::HashSet<i64> = hit.iter().map(|(k, _)| *k).collect();
        total += 120 * (i64::from(*n) - taken.len() as i64);
        start = end;
    }
    total
}

fn onset(numer: i64, denom: i64) -> Onset {
    Onset {
        at: Beats::new(numer, denom),
        drum: 0,
        room_us: None,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]
    /// Ticks of 1/480, one or two beats, any strokes.
    #[test]
    fn the_grid_is_the_cheapest_of_all(
        units in 1_usize..3,
        ticks in proptest::collection::vec((0_i64..958, 0_u16..2), 0..7),
        us in 200_000_u32..1_000_000,
    ) {
        let mut onsets: Vec<Onset> = ticks
            .iter()
            .filter(|(t, _)| *t < 480 * units as i64 - 1)
            .map(|(t, drum)| Onset { drum: *drum, ..onset(*t, 480) })
            .collect();
        onsets.sort_by_key(|o| o.at);
        let tolerance = Beats::new(1, 960);
        let scale = Scale { us_per_quarter: us, tolerance, exact: false };
        let length = Beats::whole(units as i64);
        let found = fit(&onsets, length, Beats::ONE, &scale).unwrap().unwrap();
        let least = candidates(units)
            .into_iter()
            .map(|(spans, price)| cost(&spans, price, &onsets, us, Ratio::new(1, 960)))
            .min()
            .unwrap();
        prop_assert_eq!(found.cost, least, "{}", found.grid);
        prop_assert_eq!(found.slots.len(), onsets.len());
        prop_assert!(found.slots.is_sorted());
    }
}

/// Every tuplet in whole ticks is read as it is, on the grids tried.
#[test]
fn even_strokes_are_read_evenly() {
    for us in [300_000, 600_000, 1_000_000] {
        for n in 1..=12 {
            let onsets: Vec<Onset> = (0..n).map(|k| onset(k, n)).collect();
            let scale = Scale {
                us_per_quarter: us,
                tolerance: Beats::new(1, 1920),
                exact: false,
            };
            let found = fit(&onsets, Beats::ONE, Beats::ONE, &scale)
                .unwrap()
                .unwrap();
            assert_eq!(found.grid.to_string(), n.to_string());
            assert_eq!(found.slots, (0..n as usize).collect::<Vec<_>>());
        }
    }
}
