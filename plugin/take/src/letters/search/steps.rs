//! Where a search may go next: cells to add, cells to join or part, even cuts.

use super::super::parse::{Entry, Step, Text};
use super::{Draft, MOST_CANDIDATES, MOST_ENTRIES, Search};
use std::collections::HashMap;

impl Search<'_, '_, '_, '_> {
    /// The candidates that seem to save most over a draft.
    pub(super) fn ranked(&self, draft: &Draft, candidates: &[(Entry, Vec<usize>)]) -> Vec<Entry> {
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
            for at in places
                .iter()
                .filter(|p| p.saturating_add(0) + entry.len() <= text.beats.len())
            {
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
        ranked
            .into_iter()
            .take(most as usize)
            .map(|(_, e)| e.clone())
            .collect()
    }

    /// Dictionaries one step from a draft's.
    pub(super) fn moves(&self, draft: &Draft) -> Vec<Vec<Entry>> {
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

    /// The cells of a take cut evenly into `length` beats from bar line to bar
    /// line: of like ones the most played.
    pub(super) fn even(&mut self, length: usize) -> Vec<Entry> {
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
                let apart = leader
                    .iter()
                    .zip(*cell)
                    .map(|(a, b)| text.difference(*a, *b).cost);
                apart.sum::<f64>() < far
            });
            match near {
                Some(at) => leaders[at].1 += times,
                None if leaders.len() < 4 * MOST_ENTRIES => leaders.push((cell.to_vec(), *times)),
                None => {}
            }
        }
        leaders.sort_by_key(|leader| std::cmp::Reverse(leader.1));
        let kept = leaders.into_iter().filter(|(_, n)| *n > 1);
        kept.take(MOST_ENTRIES / 2).map(|(e, _)| e).collect()
    }
}

/// Stretches that come at least twice, with all their places.
pub(super) fn candidates(text: &Text<'_>) -> Vec<(Entry, Vec<usize>)> {
    let n = text.beats.len();
    let mut all: Vec<(f64, Entry, Vec<usize>)> = Vec::new();
    // Longer ones come twice only where shorter ones do.
    let mut starts: Vec<usize> = (0..n).collect();
    for length in 1..=text.longest.min(n) {
        let mut places: HashMap<&[usize], Vec<usize>> = HashMap::new();
        starts.retain(|s| s + length <= n);
        for start in &starts {
            places
                .entry(&text.beats[*start..start + length])
                .or_default()
                .push(*start);
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
