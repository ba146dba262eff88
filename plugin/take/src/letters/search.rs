//! The dictionary of cells with which a take is told in least words.

use super::parse::{Entry, Step, Text};
use crate::TakeError;
use crate::job::Job;
use std::collections::{HashMap, HashSet};

/// A reading of the whole take.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// Cells used, each at least once, in the order in which they first come.
    pub entries: Vec<Entry>,
    /// Each entry's parent, if it is a prime.
    pub parents: Vec<Option<usize>>,
    /// Cells in playing order; every step has an entry.
    pub steps: Vec<Step>,
    /// What it all costs, in nats.
    pub cost: f64,
}

impl Solution {
    /// The class that the form has on each beat.
    pub fn classes(&self) -> Vec<usize> {
        let entry = |s: &Step| s.entry.map_or(&[][..], |e| &self.entries[e]);
        self.steps.iter().flat_map(|s| entry(s).to_vec()).collect()
    }
}

/// Most cells held in a dictionary while searching.
const MOST_ENTRIES: usize = 120;

/// Most repeated stretches considered.
const MOST_CANDIDATES: usize = 600;

/// Work of one search, in cells held against beats.
const BUDGET: f64 = 3.0e7;

struct Search<'t, 'a, 'j, 'w> {
    text: &'t Text<'a>,
    job: &'j mut Job<'w>,
    done: f64,
    budget: f64,
}

/// A dictionary with its reading.
#[derive(Clone)]
struct Draft {
    entries: Vec<Entry>,
    steps: Vec<Step>,
    cost: f64,
}

/// The best readings, cheapest first, all unlike each other.
///
/// # Errors
/// [`TakeError::Cancelled`].
pub fn search(text: &Text<'_>, most: usize, job: &mut Job<'_>) -> Result<Vec<Solution>, TakeError> {
    let mut search = Search {
        text,
        job,
        done: 0.0,
        budget: BUDGET,
    };
    let mut found = Vec::new();
    let free = search.grown(Vec::new())?;
    found.push(search.pruned(free)?);
    let bar = text.bar;
    let mut lengths = vec![bar, 2 * bar, 1, 2];
    if bar.is_multiple_of(2) {
        lengths.push(bar / 2);
    }
    lengths.sort_unstable();
    lengths.dedup();
    for length in lengths {
        let even = search.even(length);
        let draft = search.draft(even);
        found.push(search.pruned(draft)?);
    }
    for draft in &mut found {
        *draft = search.joined(draft.clone())?;
    }
    // What the best one leaves written out may still repeat.
    found.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    let best = found[0].entries.clone();
    let again = search.grown(best)?;
    let again = search.pruned(again)?;
    found.push(search.joined(again)?);
    let mut solutions: Vec<Solution> = found.into_iter().map(|d| finish(text, d)).collect();
    let neighbours = neighbours(text, &solutions);
    solutions.extend(neighbours);
    solutions.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    let mut seen = HashSet::new();
    solutions.retain(|s| seen.insert(s.steps.clone()));
    solutions.truncate(most);
    Ok(solutions)
}

impl Search<'_, '_, '_, '_> {
    fn spent(&mut self, work: f64) -> Result<bool, TakeError> {
        self.done += work;
        let share = (self.done / (8.0 * self.budget)).min(1.0);
        self.job.step(((share * 100.0) as usize) * 64, 6400)?;
        Ok(self.done > self.budget)
    }

    fn draft(&self, entries: Vec<Entry>) -> Draft {
        let (read, steps) = self.text.parse(&entries);
        let mut uses = vec![0; entries.len()];
        steps.iter().filter_map(|s| s.entry).for_each(|e| uses[e] += 1);
        let (words, _) = self.text.dictionary(&entries, &uses);
        Draft {
            entries,
            steps,
            cost: read + words,
        }
    }

    fn work(&self, draft: &Draft) -> f64 {
        let beats: usize = draft.entries.iter().map(Vec::len).sum();
        (self.text.beats.len() * (beats + 2 * self.text.longest)) as f64
    }

    /// Adds the cell that saves most, as long as one does.
    fn grown(&mut self, start: Vec<Entry>) -> Result<Draft, TakeError> {
        self.done = 0.0;
        let candidates = candidates(self.text);
        let mut draft = self.draft(start);
        while draft.entries.len() < MOST_ENTRIES {
            let ranked = self.ranked(&draft, &candidates);
            let mut better = None;
            for entry in ranked {
                let mut entries = draft.entries.clone();
                entries.push(entry);
                let tried = self.draft(entries);
                let work = self.work(&tried);
                let better_yet = better.as_ref().map_or(draft.cost, |b: &Draft| b.cost);
                if tried.cost < better_yet - 1e-6 {
                    better = Some(tried);
                }
                if self.spent(work)? {
                    break;
                }
            }
            match better {
                Some(tried) => draft = self.used(tried),
                None => break,
            }
            if self.done > self.budget {
                break;
            }
        }
        Ok(draft)
    }

    /// The candidates that seem to save most over a draft.
    fn ranked(&self, draft: &Draft, candidates: &[(Entry, Vec<usize>)]) -> Vec<Entry> {
        let text = self.text;
        // What the draft pays for each beat.
        let mut paid = vec![0.0; text.beats.len() + 1];
        let choice = 0.9 + (draft.entries.len() as f64 + 1.0).ln();
        for step in &draft.steps {
            let range = step.start..step.start + step.length;
            let cost = match step.entry {
                Some(e) => text.apart(step.start, &draft.entries[e], f64::INFINITY),
                None => text.written(&text.beats[range.clone()]),
            };
            let each = (cost + choice) / step.length as f64;
            paid[range].iter_mut().for_each(|p| *p = each);
        }
        let mut sum = 0.0;
        let before: Vec<f64> = std::iter::once(0.0)
            .chain(paid.iter().map(|p| {
                sum += p;
                sum
            }))
            .collect();
        let mut ranked: Vec<(f64, &Entry)> = Vec::new();
        for (entry, places) in candidates {
            let mut saved = -text.written(entry).min(
                draft
                    .entries
                    .iter()
                    .filter(|e| e.len() == entry.len())
                    .filter_map(|e| text.prime(entry, e))
                    .fold(f64::INFINITY, f64::min),
            );
            let mut end = 0;
            for at in places.iter().filter(|p| p.saturating_add(0) + entry.len() <= text.beats.len()) {
                if *at < end {
                    continue;
                }
                let gain = before[at + entry.len()] - before[*at] - choice;
                if gain > 0.0 {
                    saved += gain;
                    end = at + entry.len();
                }
            }
            if saved > 0.0 && !draft.entries.contains(entry) {
                ranked.push((saved, entry));
            }
        }
        ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
        let most = (self.budget / 12.0 / self.work(draft).max(1.0)).clamp(3.0, 24.0);
        ranked.into_iter().take(most as usize).map(|(_, e)| e.clone()).collect()
    }

    /// A draft without the entries that nothing uses.
    fn used(&self, draft: Draft) -> Draft {
        let used: HashSet<usize> = draft.steps.iter().filter_map(|s| s.entry).collect();
        if used.len() == draft.entries.len() {
            return draft;
        }
        let kept = draft.entries.iter().enumerate();
        let kept = kept.filter(|(i, _)| used.contains(i)).map(|(_, e)| e.clone());
        self.draft(kept.collect())
    }

    /// Takes away, mends and moves what makes a draft dearer than need be.
    fn pruned(&mut self, draft: Draft) -> Result<Draft, TakeError> {
        self.done = 0.0;
        let mut draft = self.used(draft);
        for _ in 0..4 {
            let before = draft.cost;
            let mut i = 0;
            while i < draft.entries.len() {
                let mut entries = draft.entries.clone();
                entries.remove(i);
                let tried = self.draft(entries);
                if tried.cost < draft.cost {
                    draft = tried;
                } else {
                    i += 1;
                }
                let work = self.work(&draft);
                if self.spent(work)? {
                    break;
                }
            }
            let centred = self.centred(&draft);
            if centred.cost < draft.cost {
                draft = self.used(centred);
            }
            if draft.cost > before - 1e-6 {
                break;
            }
        }
        Ok(draft)
    }

    /// Joins cells that follow each other, and parts cells, as long as that
    /// saves.
    fn joined(&mut self, start: Draft) -> Result<Draft, TakeError> {
        self.done = 0.0;
        let mut draft = start;
        for _ in 0..60 {
            let mut better: Option<Draft> = None;
            for entries in self.moves(&draft) {
                let tried = self.draft(entries);
                let tried = self.used(tried);
                let most = better.as_ref().map_or(draft.cost, |b| b.cost);
                let work = self.work(&tried);
                if tried.cost < most - 1e-6 {
                    better = Some(tried);
                }
                if self.spent(work)? {
                    break;
                }
            }
            match better {
                Some(found) => draft = found,
                None => break,
            }
            if self.done > self.budget {
                break;
            }
        }
        self.pruned(draft)
    }

    /// Dictionaries one step from a draft's.
    fn moves(&self, draft: &Draft) -> Vec<Vec<Entry>> {
        let content = |s: &Step| match s.entry {
            Some(e) => draft.entries[e].clone(),
            None => self.text.beats[s.start..s.start + s.length].to_vec(),
        };
        let mut pairs: HashMap<Entry, usize> = HashMap::new();
        for pair in draft.steps.windows(2) {
            if pair[0].length + pair[1].length <= self.text.longest {
                let both = [content(&pair[0]), content(&pair[1])].concat();
                *pairs.entry(both).or_default() += 1;
            }
        }
        let mut pairs: Vec<(usize, Entry)> = pairs
            .into_iter()
            .filter(|(e, n)| *n > 1 && !draft.entries.contains(e))
            .map(|(e, n)| (n * e.len(), e))
            .collect();
        pairs.sort_unstable_by(|a, b| b.cmp(a));
        let mut moves: Vec<Vec<Entry>> = Vec::new();
        for (_, pair) in pairs.into_iter().take(10) {
            let mut entries = draft.entries.clone();
            entries.push(pair);
            moves.push(entries);
        }
        for (i, entry) in draft.entries.iter().enumerate() {
            for cut in 1..entry.len() {
                let mut entries = draft.entries.clone();
                entries.swap_remove(i);
                for part in [&entry[..cut], &entry[cut..]] {
                    if !entries.iter().any(|e| e == part) {
                        entries.push(part.to_vec());
                    }
                }
                moves.push(entries);
            }
        }
        moves
    }

    /// Every beat of every entry as most of its places have it.
    fn centred(&self, draft: &Draft) -> Draft {
        let text = self.text;
        let mut entries = draft.entries.clone();
        for (e, entry) in entries.iter_mut().enumerate() {
            let places: Vec<usize> = draft
                .steps
                .iter()
                .filter(|s| s.entry == Some(e))
                .map(|s| s.start)
                .take(400)
                .collect();
            for (j, class) in entry.iter_mut().enumerate() {
                let mut counts: HashMap<usize, usize> = HashMap::new();
                places.iter().for_each(|p| *counts.entry(text.beats[p + j]).or_default() += 1);
                let mut few: Vec<(usize, usize)> = counts.iter().map(|(c, n)| (*n, *c)).collect();
                few.sort_unstable_by(|a, b| b.cmp(a));
                few.truncate(12);
                let all: Vec<(usize, usize)> = counts.into_iter().collect();
                let cost = |c: usize| -> f64 {
                    all.iter().map(|(o, n)| *n as f64 * text.difference(c, *o).cost).sum()
                };
                let best = few.iter().map(|(_, c)| (cost(*c), *c));
                if let Some((_, c)) = best.min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1))) {
                    *class = c;
                }
            }
        }
        entries.sort();
        entries.dedup();
        self.draft(entries)
    }

    /// The cells of a take cut evenly into `length` beats from bar line to bar
    /// line: of like ones the most played.
    fn even(&mut self, length: usize) -> Vec<Entry> {
        let text = self.text;
        let first = (length - text.into_bar % length) % length;
        let mut counts: HashMap<&[usize], usize> = HashMap::new();
        for cell in text.beats[first.min(text.beats.len())..].chunks_exact(length) {
            *counts.entry(cell).or_default() += 1;
        }
        let mut cells: Vec<(&[usize], usize)> = counts.into_iter().collect();
        cells.sort_unstable_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(b.0)));
        let mut leaders: Vec<(Entry, usize)> = Vec::new();
        for (cell, times) in cells.iter().take(4000) {
            let far = text.written(cell) - 4.0;
            let near = leaders.iter().position(|(leader, _)| {
                let apart = leader.iter().zip(*cell).map(|(a, b)| text.difference(*a, *b).cost);
                apart.sum::<f64>() < far
            });
            match near {
                Some(at) => leaders[at].1 += times,
                None if leaders.len() < 4 * MOST_ENTRIES => leaders.push((cell.to_vec(), *times)),
                None => {}
            }
        }
        leaders.sort_by(|a, b| b.1.cmp(&a.1));
        let kept = leaders.into_iter().filter(|(_, n)| *n > 1);
        kept.take(MOST_ENTRIES / 2).map(|(e, _)| e).collect()
    }
}

/// Stretches that come at least twice, with all their places.
fn candidates(text: &Text<'_>) -> Vec<(Entry, Vec<usize>)> {
    let n = text.beats.len();
    let mut all: Vec<(f64, Entry, Vec<usize>)> = Vec::new();
    // Longer ones come twice only where shorter ones do.
    let mut starts: Vec<usize> = (0..n).collect();
    for length in 1..=text.longest.min(n) {
        let mut places: HashMap<&[usize], Vec<usize>> = HashMap::new();
        starts.retain(|s| s + length <= n);
        for start in &starts {
            places.entry(&text.beats[*start..start + length]).or_default().push(*start);
        }
        starts.clear();
        for (cell, places) in places {
            if places.len() < 2 {
                continue;
            }
            starts.extend(&places);
            let saves = text.written(cell) * (places.len() as f64 - 1.0);
            all.push((saves, cell.to_vec(), places));
        }
        starts.sort_unstable();
    }
    all.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    all.truncate(MOST_CANDIDATES);
    all.into_iter().map(|(_, e, p)| (e, p)).collect()
}

/// A draft as a solution: what it writes out becomes entries, in playing order.
pub fn finish(text: &Text<'_>, draft_entries: impl Into<Parts>) -> Solution {
    let Parts { entries, steps } = draft_entries.into();
    let mut order: Vec<Entry> = Vec::new();
    let mut index: HashMap<Entry, usize> = HashMap::new();
    let mut numbered = Vec::with_capacity(steps.len());
    for step in &steps {
        let entry = match step.entry {
            Some(e) => entries[e].clone(),
            None => text.beats[step.start..step.start + step.length].to_vec(),
        };
        let e = *index.entry(entry.clone()).or_insert_with(|| {
            order.push(entry);
            order.len() - 1
        });
        numbered.push(Step {
            entry: Some(e),
            ..*step
        });
    }
    priced(text, order, numbered)
}

/// Entries and steps of a reading.
pub struct Parts {
    entries: Vec<Entry>,
    steps: Vec<Step>,
}

impl From<Draft> for Parts {
    fn from(draft: Draft) -> Parts {
        Parts {
            entries: draft.entries,
            steps: draft.steps,
        }
    }
}

/// A reading with its cost.
pub fn priced(text: &Text<'_>, entries: Vec<Entry>, steps: Vec<Step>) -> Solution {
    let mut uses = vec![0; entries.len()];
    steps.iter().filter_map(|s| s.entry).for_each(|e| uses[e] += 1);
    let (words, parents) = text.dictionary(&entries, &uses);
    let choice = 0.9 + (entries.len() as f64 + 1.0).ln();
    let mut cost = words;
    let mut before = None;
    for step in &steps {
        let entry = step.entry.map_or(&[][..], |e| &entries[e]);
        cost += text.place(step.start, step.length);
        cost += text.apart(step.start, entry, f64::INFINITY);
        cost += if step.entry == before { 0.5 } else { choice };
        before = step.entry;
    }
    Solution {
        entries,
        parents,
        steps,
        cost,
    }
}

/// Readings next to the best: two letters that follow each other joined, or like
/// letters taken for one.
fn neighbours(text: &Text<'_>, solutions: &[Solution]) -> Vec<Solution> {
    let best = solutions.iter().min_by(|a, b| a.cost.total_cmp(&b.cost));
    let Some(best) = best else {
        return Vec::new();
    };
    let mut found = Vec::new();
    for (i, parent) in best.parents.iter().enumerate() {
        let Some(parent) = parent else { continue };
        let steps = best.steps.iter().map(|s| Step {
            entry: s.entry.map(|e| if e == i { *parent } else { e }),
            ..*s
        });
        let parts = Parts {
            entries: best.entries.clone(),
            steps: steps.collect(),
        };
        found.push(finish(text, parts));
    }
    found
}
