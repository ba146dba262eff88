//! What a beat plays, and how far two beats are from each other.

use barform_score::music::{Articulation, Level, Voice};

/// A stroke of a beat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// Its slot, as a fraction of a pulse from the beat.
    pub slot: (i64, i64),
    /// Where it was played, in pulses from the beat; of several takes of one
    /// beat the mean.
    pub played: f64,
    /// What was struck.
    pub voice: Voice,
    /// How.
    pub articulation: Articulation,
    /// How loud.
    pub level: Level,
    /// Grace notes.
    pub graces: u8,
    /// Whether it was buzzed.
    pub buzz: bool,
    /// Index of the stroke in the take.
    pub stroke: usize,
}

/// What one pulse plays.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Content {
    /// Index of its shape.
    pub shape: usize,
    /// Which pulse of the shape this is, from 0.
    pub part: usize,
    /// Its strokes in order of slots.
    pub marks: Vec<Mark>,
    /// How often it was played so; its times are the mean of as many.
    pub times: usize,
}

/// What differences cost, in nats.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Costs {
    /// A stroke too many or too few.
    pub slip: f64,
    /// Another articulation, level or ornament.
    pub shade: f64,
    /// Spread of strokes around their slots, in pulses.
    pub spread: f64,
}

/// A difference between two beats.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Difference {
    /// What it costs, in nats.
    pub cost: f64,
    /// Strokes that only one of them has.
    pub strokes: u32,
    /// Strokes played otherwise.
    pub shades: u32,
}

impl Content {
    /// What the beat costs when written out, in nats: which slots, which drums.
    pub fn written(&self) -> f64 {
        1.0 + 3.2 * self.marks.len() as f64
    }

    /// How far `other` is from this.
    pub fn difference(&self, other: &Content, costs: &Costs) -> Difference {
        let mut sum = Difference::default();
        let mut seen = 0_u32;
        for mark in self.marks.iter().chain(&other.marks) {
            let bit = 1 << mark.voice.index();
            if seen & bit == 0 {
                seen |= bit;
                drum(self, other, mark.voice, costs, &mut sum);
            }
        }
        sum
    }
}

/// Strokes of one drum, matched in order of time.
fn drum(a: &Content, b: &Content, voice: Voice, costs: &Costs, sum: &mut Difference) {
    const MOST: usize = 24;
    let of = |c: &Content| -> ([usize; MOST], usize) {
        let (mut list, mut n) = ([0; MOST], 0);
        for (i, mark) in c.marks.iter().enumerate() {
            if mark.voice == voice && n < MOST {
                list[n] = i;
                n += 1;
            }
        }
        (list, n)
    };
    let ((ia, na), (ib, nb)) = (of(a), of(b));
    // Two means differ by more than their own share of the spread only by chance.
    let share = 1.0 / a.times.max(1) as f64 + 1.0 / b.times.max(1) as f64;
    let spread = costs.spread * share.max(0.5).sqrt();
    let matched = |i: usize, j: usize| {
        let (x, y) = (&a.marks[ia[i]], &b.marks[ib[j]]);
        let shades = u32::from(x.articulation != y.articulation)
            + u32::from(x.level != y.level)
            + u32::from(x.graces != y.graces || x.buzz != y.buzz);
        // On one slot is the same, whatever lies between.
        let apart = if x.slot == y.slot {
            0.0
        } else {
            let off = crate::subdivide::fit::off(x.played - y.played, spread);
            (off - 2.0).max(0.0)
        };
        (apart + costs.shade * f64::from(shades), shades)
    };
    // Least cost with the first i of one and j of the other matched.
    let mut rows = [[(0.0_f64, 0_u32, 0_u32); MOST + 1]; 2];
    for (j, cell) in rows[0].iter_mut().enumerate().take(nb + 1) {
        *cell = (costs.slip * j as f64, j as u32, 0);
    }
    for i in 1..=na {
        let (before, now) = (rows[(i - 1) % 2], &mut rows[i % 2]);
        now[0] = (costs.slip * i as f64, i as u32, 0);
        for j in 1..=nb {
            let (cost, shades) = matched(i - 1, j - 1);
            let both = before[j - 1];
            let mut best = (both.0 + cost, both.1, both.2 + shades);
            for one in [before[j], now[j - 1]] {
                if one.0 + costs.slip < best.0 {
                    best = (one.0 + costs.slip, one.1 + 1, one.2);
                }
            }
            now[j] = best;
        }
    }
    let (cost, strokes, shades) = rows[na % 2][nb];
    sum.cost += cost;
    sum.strokes += strokes;
    sum.shades += shades;
}
