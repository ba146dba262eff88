//! A reading held against what was played.

use super::make::{Piece, Played};
use barform_take::{Form, Reading};
use std::collections::HashMap;

#[derive(Clone, Copy, Debug, Default)]
pub struct Verdict {
    pub beats: usize,
    pub beats_right: usize,
    /// Adjusted Rand index of beats by letter, and by letter without primes.
    pub ari: f64,
    pub ari_base: f64,
    pub exact: bool,
    pub exact_of_three: bool,
    pub cuts_right: bool,
}

/// When a stroke was found, in which beat, and where in it.
type Placed = (f64, i64, (i64, i64));

/// Adjusted Rand index (Hubert and Arabie 1985, from memory).
pub fn ari(a: &[usize], b: &[usize]) -> f64 {
    let pairs = |n: f64| n * (n - 1.0) / 2.0;
    let mut both: HashMap<(usize, usize), f64> = HashMap::new();
    let (mut rows, mut columns) = (HashMap::new(), HashMap::new());
    for (x, y) in a.iter().zip(b) {
        *both.entry((*x, *y)).or_default() += 1.0;
        *rows.entry(*x).or_insert(0.0) += 1.0;
        *columns.entry(*y).or_insert(0.0) += 1.0;
    }
    let index: f64 = both.values().map(|n| pairs(*n)).sum();
    let r: f64 = rows.values().map(|n| pairs(*n)).sum();
    let c: f64 = columns.values().map(|n| pairs(*n)).sum();
    let expected = r * c / pairs(a.len() as f64).max(1.0);
    let most = (r + c) / 2.0;
    if (most - expected).abs() < 1e-12 {
        1.0
    } else {
        (index - expected) / (most - expected)
    }
}

/// Cell and placement of each beat of a form; primes as themselves or as what
/// they are primes of.
pub fn labels(form: &Form, base: bool) -> Vec<(usize, usize)> {
    let mut labels = Vec::new();
    for (i, step) in form.steps.iter().enumerate() {
        let cell = match form.cells[step.cell].like {
            Some(like) if base => like,
            _ => step.cell,
        };
        labels.extend(vec![(cell, i); step.length]);
    }
    labels
}

fn same(form: &Form, truth: &[(usize, usize)]) -> bool {
    let found = labels(form, false);
    if found.len() != truth.len() {
        return false;
    }
    let (mut to, mut back) = (HashMap::new(), HashMap::new());
    found.iter().zip(truth).all(|(f, t)| {
        *to.entry(f.0).or_insert(t.0) == t.0 && *back.entry(t.0).or_insert(f.0) == f.0
    }) && cuts(&found) == cuts(truth)
}

fn cuts(labels: &[(usize, usize)]) -> Vec<usize> {
    (1..labels.len())
        .filter(|i| labels[*i].1 != labels[i - 1].1)
        .collect()
}

/// Shifts the reading's pulses so that pulse 0 is the form's first beat.
pub fn judge(piece: &Piece, played: &[Played], reading: &Reading, first_beat: f64) -> Verdict {
    let shift = reading.map.pulse(first_beat).round() as i64;
    let count = piece.beats() as usize;
    let mut right = vec![true; count];
    let mut found: HashMap<u8, Vec<Placed>> = HashMap::new();
    for p in &reading.strokes {
        let key = super::make::KEYS
            .iter()
            .find(|k| {
                let key = barform_score::music::Key::new(**k).expect("a key");
                let kit = barform_score::music::Kit::general_midi();
                kit.voice_of_key(barform_score::music::Channel::PERCUSSION, key)
                    .is_some_and(|(v, _)| v == p.stroke.voice)
            })
            .copied()
            .expect("a drum that was played");
        found
            .entry(key)
            .or_default()
            .push((p.stroke.seconds, p.pulse, p.slot));
    }
    for p in played.iter().filter(|p| !p.grace) {
        let Some((beat, place)) = p.meant else {
            continue;
        };
        let all = found.get(&p.key).map_or(&[][..], |l| l);
        let near = all
            .iter()
            .min_by(|a, b| (a.0 - p.seconds).abs().total_cmp(&(b.0 - p.seconds).abs()));
        let ok = near.is_some_and(|(s, pulse, slot)| {
            (s - p.seconds).abs() < 0.013
                && pulse - shift == beat
                && slot.0 * place.1 == place.0 * slot.1
        });
        right[beat as usize] &= ok;
    }
    let truth = piece.labels();
    let mut verdict = Verdict {
        beats: count,
        beats_right: right.iter().filter(|r| **r).count(),
        ..Verdict::default()
    };
    if let (Some(form), 0) = (reading.forms.first(), shift) {
        let letters = |l: &[(usize, usize)]| -> Vec<usize> { l.iter().map(|x| x.0).collect() };
        let base: Vec<usize> = truth
            .iter()
            .map(|t| piece.cells[t.0].like.unwrap_or(t.0))
            .collect();
        verdict.ari = ari(&letters(&labels(form, false)), &letters(&truth));
        verdict.ari_base = ari(&letters(&labels(form, true)), &base);
        verdict.exact = same(form, &truth);
        verdict.exact_of_three = reading.forms.iter().take(3).any(|f| same(f, &truth));
        verdict.cuts_right = cuts(&labels(form, false)) == cuts(&truth);
    }
    verdict
}
