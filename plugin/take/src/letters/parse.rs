//! Beats read as cells of a dictionary, at least cost: exact, by dynamic
//! programming over beats.

use super::content::{Content, Costs, Difference};
use std::cell::RefCell;
use std::collections::HashMap;

/// What is to be read: the class of each beat, and where bars begin.
pub struct Text<'a> {
    /// Class of each beat.
    pub beats: &'a [usize],
    /// What each class plays.
    pub classes: &'a [Content],
    /// Beats in a bar.
    pub bar: usize,
    /// Beats of the first bar that are missing, below `bar`.
    pub into_bar: usize,
    /// Longest cell in beats: two bars.
    pub longest: usize,
    /// What differences cost.
    pub costs: Costs,
    /// Cuts that are settled: a cell must begin there.
    pub must: Vec<bool>,
    /// Cuts that are ruled out: no cell may begin there.
    pub never: Vec<bool>,
    known: RefCell<HashMap<(u32, u32), Difference>>,
}

/// A cell of the dictionary: classes of its beats.
pub type Entry = Vec<usize>;

/// What a new letter costs, in nats.
pub const LETTER: f64 = 4.0;

/// What a placement costs if its letter is the one before, and otherwise ahead
/// of the choice among letters.
const AGAIN: f64 = 0.5;
const PLACE: f64 = 0.9;

/// What a cell costs that begins off the bar line, by half bars and other beats,
/// and each bar line inside it. Phrases begin at bars; common practice.
const HALF: f64 = 0.25;
const BEAT: f64 = 0.6;
const ACROSS: f64 = 0.9;

/// What a letter costs that is a prime of another, ahead of what differs.
pub const PRIME: f64 = 5.0;

/// What each stroke that differs costs in a prime.
pub const PRIME_STROKE: f64 = 3.7;

/// A cell in the form: where it begins, and which entry it is; `None` for one
/// that is written out on the spot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Step {
    /// First beat.
    pub start: usize,
    /// Beats.
    pub length: usize,
    /// Its entry.
    pub entry: Option<usize>,
}

impl<'a> Text<'a> {
    /// A text without settled cuts.
    pub fn new(
        beats: &'a [usize],
        classes: &'a [Content],
        (bar, into_bar): (usize, usize),
        costs: Costs,
    ) -> Text<'a> {
        Text {
            beats,
            classes,
            bar,
            into_bar,
            longest: 2 * bar,
            costs,
            must: vec![false; beats.len() + 1],
            never: vec![false; beats.len() + 1],
            known: RefCell::new(HashMap::new()),
        }
    }

    /// How far two classes are from each other.
    pub fn difference(&self, a: usize, b: usize) -> Difference {
        if a == b {
            return Difference::default();
        }
        let key = (a.min(b) as u32, a.max(b) as u32);
        if let Some(known) = self.known.borrow().get(&key) {
            return *known;
        }
        let found =
            self.classes[key.0 as usize].difference(&self.classes[key.1 as usize], &self.costs);
        self.known.borrow_mut().insert(key, found);
        found
    }

    /// How far the beats from `start` are from an entry, unless that is more
    /// than `most`.
    pub fn apart(&self, start: usize, entry: &[usize], most: f64) -> f64 {
        let mut sum = 0.0;
        for (beat, class) in self.beats[start..].iter().zip(entry) {
            sum += self.difference(*beat, *class).cost;
            if sum > most {
                return f64::INFINITY;
            }
        }
        sum
    }

    /// What a cell written out costs.
    pub fn written(&self, classes: &[usize]) -> f64 {
        let beats = classes.iter().map(|c| self.classes[*c].written());
        LETTER + beats.sum::<f64>()
    }

    /// What the place of a cell costs; infinite where it may not be.
    pub fn place(&self, start: usize, length: usize) -> f64 {
        let end = start + length;
        let inside = start + 1..end;
        if self.never[start] || self.must[inside].iter().any(|m| *m) {
            return f64::INFINITY;
        }
        let into = (start + self.into_bar) % self.bar;
        let own = match into {
            0 => 0.0,
            _ if into * 2 == self.bar => HALF,
            _ => BEAT,
        };
        let lines = (into + length - 1) / self.bar;
        // A whole number of bars from a bar line on crosses no phrase.
        let inside = if into == 0 && length.is_multiple_of(self.bar) {
            0
        } else {
            lines
        };
        own + ACROSS * inside as f64
    }

    /// What all entries cost: the dearest ways first written out, primes by what
    /// differs. With each entry's parent, if it is a prime.
    pub fn dictionary(&self, entries: &[Entry], uses: &[usize]) -> (f64, Vec<Option<usize>>) {
        let mut order: Vec<usize> = (0..entries.len()).collect();
        order.sort_by_key(|i| std::cmp::Reverse(uses[*i]));
        let mut parents = vec![None; entries.len()];
        let mut sum = 0.0;
        for (rank, i) in order.iter().enumerate() {
            let mut best = (self.written(&entries[*i]), None);
            for j in &order[..rank] {
                if parents[*j].is_some() || entries[*j].len() != entries[*i].len() {
                    continue;
                }
                if let Some(cost) = self.prime(&entries[*i], &entries[*j])
                    && cost < best.0
                {
                    best = (cost, Some(*j));
                }
            }
            sum += best.0;
            parents[*i] = best.1;
        }
        (sum, parents)
    }

    /// What one cell costs as a prime of another; `None` if they are too unlike.
    pub fn prime(&self, cell: &[usize], of: &[usize]) -> Option<f64> {
        let (mut strokes, mut all, mut shades) = (0, 0, 0);
        for (a, b) in cell.iter().zip(of) {
            let d = self.difference(*a, *b);
            strokes += d.strokes;
            shades += d.shades;
            all += self.classes[*b].marks.len() as u32;
        }
        // More than half of them would be another cell.
        (strokes <= all.max(2) / 2)
            .then(|| PRIME + PRIME_STROKE * f64::from(strokes) + 2.0 * f64::from(shades))
    }

    /// The cheapest reading with a dictionary whose entries are paid for.
    pub fn parse(&self, entries: &[Entry]) -> (f64, Vec<Step>) {
        let n = self.beats.len();
        let kinds = entries.len();
        let choice = PLACE + (kinds as f64 + 1.0).ln();
        let inf = f64::INFINITY;
        // by[i][e]: cheapest up to beat i with entry e the last one.
        let mut best: Vec<(f64, Step)> = Vec::with_capacity(n + 1);
        let none = Step {
            start: 0,
            length: 0,
            entry: None,
        };
        best.push((0.0, none));
        best.resize(n + 1, (inf, none));
        let mut last = vec![inf; (n + 1) * kinds.max(1)];
        let mut repeat = vec![false; (n + 1) * kinds.max(1)];
        let written: Vec<f64> = std::iter::once(0.0)
            .chain(self.beats.iter().scan(0.0, |sum, c| {
                *sum += self.classes[*c].written();
                Some(*sum)
            }))
            .collect();
        for i in 0..n {
            let so_far = best[i].0;
            if so_far.is_infinite() || self.never[i] && i > 0 {
                continue;
            }
            for length in 1..=self.longest.min(n - i) {
                let place = self.place(i, length);
                if place.is_infinite() {
                    break;
                }
                let cost = so_far + choice + LETTER + place + written[i + length] - written[i];
                if cost < best[i + length].0 {
                    let step = Step {
                        start: i,
                        length,
                        entry: None,
                    };
                    best[i + length] = (cost, step);
                }
            }
            for (e, entry) in entries.iter().enumerate() {
                let length = entry.len();
                if i + length > n {
                    continue;
                }
                let place = self.place(i, length);
                if place.is_infinite() {
                    continue;
                }
                let again = last[i * kinds + e] + AGAIN;
                let fresh = so_far + choice;
                let enter = again.min(fresh);
                let to = i + length;
                let bound = last[to * kinds + e].max(best[to].0 + choice) - enter - place;
                let apart = self.apart(i, entry, bound);
                let cost = enter + place + apart;
                if cost < last[to * kinds + e] {
                    last[to * kinds + e] = cost;
                    repeat[to * kinds + e] = again <= fresh;
                }
                if cost < best[to].0 {
                    let step = Step {
                        start: i,
                        length,
                        entry: Some(e),
                    };
                    best[to] = (cost, step);
                }
            }
        }
        let mut steps = Vec::new();
        let mut at = n;
        // The entry that the next step repeats, if it does.
        let mut held: Option<usize> = None;
        while at > 0 {
            let step = match held {
                Some(e) => Step {
                    start: at - entries[e].len(),
                    length: entries[e].len(),
                    entry: Some(e),
                },
                None => best[at].1,
            };
            if step.length == 0 {
                break;
            }
            held = step.entry.filter(|e| repeat[at * kinds + *e]);
            steps.push(step);
            at = step.start;
        }
        steps.reverse();
        (best[n].0, steps)
    }
}
