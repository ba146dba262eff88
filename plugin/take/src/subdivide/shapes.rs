//! The subdivisions a beat can be on, and what each costs ahead of any stroke.

use barform_score::music::{Beats, Grid, Span};

/// A subdivision of one beat or, for 3 over 2, of two.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    /// Spans: slots, and their time as a fraction of a pulse.
    pub spans: Vec<(u8, (i64, i64))>,
    /// Start of each slot in pulses from its beat, as a fraction.
    pub slots: Vec<(i64, i64)>,
    /// The same, to reckon with.
    pub starts: Vec<f64>,
    /// Pulses it takes: 1 or 2.
    pub pulses: usize,
    /// How many subdivisions away it is from plain eighths and sixteenths, in
    /// nats. Common practice, no source.
    pub rarity: f64,
    /// Binary (0), ternary (1) or other (2): neighbours within a kind are cheap.
    pub kind: u8,
}

/// What an even grid costs: slots, nats, kind.
const EVEN: [(u8, f64, u8); 10] = [
    (1, 0.0, 0),
    (2, 0.2, 0),
    (4, 0.4, 0),
    (3, 1.2, 1),
    (6, 1.4, 1),
    (8, 2.2, 0),
    (5, 5.5, 2),
    (7, 6.5, 2),
    (9, 8.0, 1),
    (12, 8.0, 1),
];

/// Halves of a beat that no even grid above has.
const HALVES: [(u8, u8); 4] = [(2, 3), (3, 2), (4, 3), (3, 4)];

/// What unlike halves, and three over two beats, cost.
const HALVES_COST: f64 = 7.0;
const ACROSS_COST: f64 = 5.0;

/// All of them.
pub fn shapes() -> Vec<Shape> {
    let mut all: Vec<Shape> = EVEN
        .iter()
        .map(|(n, cost, kind)| Shape::new(vec![(*n, (1, 1))], *cost, *kind))
        .collect();
    let half = |n| (n, (1, 2));
    let halves = HALVES.iter();
    all.extend(halves.map(|(a, b)| Shape::new(vec![half(*a), half(*b)], HALVES_COST, 2)));
    all.push(Shape::new(vec![(3, (2, 1))], ACROSS_COST, 2));
    all
}

impl Shape {
    fn new(spans: Vec<(u8, (i64, i64))>, rarity: f64, kind: u8) -> Shape {
        let mut slots = Vec::new();
        let mut at = Beats::ZERO;
        for (n, (num, den)) in &spans {
            for i in 0..*n {
                let into = Beats::new(num * i64::from(i), den * i64::from(*n));
                let start = at.checked_add(into).unwrap_or(at);
                slots.push((start.numer(), start.denom()));
            }
            at = at.checked_add(Beats::new(*num, *den)).unwrap_or(at);
        }
        let starts = slots.iter().map(|(n, d)| *n as f64 / *d as f64).collect();
        Shape {
            spans,
            slots,
            starts,
            pulses: at.numer().max(1) as usize,
            rarity,
            kind,
        }
    }

    /// Whether it is one of the grids that anybody reads: 1, 2, 3, 4, 6 or 8
    /// even slots in a beat.
    pub fn is_readable(&self) -> bool {
        matches!(self.spans.as_slice(), [(1 | 2 | 3 | 4 | 6 | 8, (1, 1))])
    }

    /// The grid in beats where a pulse is `pulse` beats long.
    pub fn grid(&self, pulse: Beats) -> Option<Grid> {
        let span = |(n, (num, den)): &(u8, (i64, i64))| {
            Span::new(*n, pulse.checked_mul(Beats::new(*num, *den)).ok()?)
        };
        Grid::new(self.spans.iter().map(span).collect::<Option<_>>()?)
    }
}
