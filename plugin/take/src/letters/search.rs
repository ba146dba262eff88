//! The dictionary of cells with which a take is told in least words.

mod steps;

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
        steps
            .iter()
            .filter_map(|s| s.entry)
            .for_each(|e| uses[e] += 1);
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
        let candidates = steps::candidates(self.text);
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

    /// A draft without the entries that nothing uses.
    fn used(&self, draft: Draft) -> Draft {
        let used: HashSet<usize> = draft.steps.iter().filter_map(|s| s.entry).collect();
        if used.len() == draft.entries.len() {
            return draft;
        }
        let kept = draft.entries.iter().enumerate();
        let kept = kept
            .filter(|(i, _)| used.contains(i))
            .map(|(_, e)| e.clone());
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
                places
                    .iter()
                    .for_each(|p| *counts.entry(text.beats[p + j]).or_default() += 1);
                let mut few: Vec<(usize, usize)> = counts.iter().map(|(c, n)| (*n, *c)).collect();
                few.sort_unstable_by(|a, b| b.cmp(a));
                few.truncate(12);
                let all: Vec<(usize, usize)> = counts.into_iter().collect();
                let cost = |c: usize| -> f64 {
                    all.iter()
                        .map(|(o, n)| *n as f64 * text.difference(c, *o).cost)
                        .sum()
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
    steps
        .iter()
        .filter_map(|s| s.entry)
        .for_each(|e| uses[e] += 1);
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
