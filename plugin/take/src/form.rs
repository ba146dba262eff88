//! What was found, in a drummer's words: cells with letters, and their order.

use crate::letters::{Content, Solution, Text};
use barform_score::music::Letter;

/// A cell of a form.
#[derive(Debug, Clone, PartialEq)]
pub struct FormCell {
    /// Its letter.
    pub letter: Letter,
    /// The cell it is a prime of.
    pub like: Option<usize>,
    /// What it plays, pulse by pulse.
    pub beats: Vec<Content>,
}

/// A cell at its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Step {
    /// Index of its cell.
    pub cell: usize,
    /// First pulse of the form, from 0.
    pub start: usize,
    /// Pulses.
    pub length: usize,
    /// Strokes played there and not in the cell, or the other way round.
    pub slips: u32,
}

/// A form: one reading of a take.
#[derive(Debug, Clone, PartialEq)]
pub struct Form {
    /// Cells in the order in which they first come.
    pub cells: Vec<FormCell>,
    /// Cells in playing order; they fill the take without a gap.
    pub steps: Vec<Step>,
    /// How much it takes to tell the take so, in bits.
    pub bits: f64,
}

impl Form {
    /// The form of a solution; `None` if there are more cells than letters.
    pub fn of(solution: &Solution, text: &Text<'_>) -> Option<Form> {
        let mut names = Names::default();
        let mut letters: Vec<Option<Letter>> = vec![None; solution.entries.len()];
        // Primes take their letter from a parent that may come later.
        for (e, parent) in solution.parents.iter().enumerate() {
            let base = parent.unwrap_or(e);
            if letters[base].is_none() {
                letters[base] = Some(names.fresh()?);
            }
            if let Some(parent) = parent {
                let mut letter = letters[*parent].clone()?.primed();
                while let Some(taken) = &letter {
                    if !letters.contains(&letter) {
                        break;
                    }
                    letter = taken.primed();
                }
                letters[e] = Some(match letter {
                    Some(letter) => letter,
                    None => names.fresh()?,
                });
            }
        }
        let cells = solution.entries.iter().zip(&letters).zip(&solution.parents);
        let cells = cells.map(|((entry, letter), parent)| {
            Some(FormCell {
                letter: letter.clone()?,
                // What ran out of primes stands on its own.
                like: parent.filter(|_| letter.as_ref().is_some_and(|l| l.primes() > 0)),
                beats: entry.iter().map(|c| text.classes[*c].clone()).collect(),
            })
        });
        let steps = solution.steps.iter().map(|s| {
            let cell = s.entry.unwrap_or(0);
            let played = &text.beats[s.start..s.start + s.length];
            let pairs = played.iter().zip(&solution.entries[cell]);
            Step {
                cell,
                start: s.start,
                length: s.length,
                slips: pairs.map(|(a, b)| text.difference(*a, *b).strokes).sum(),
            }
        });
        Some(Form {
            cells: cells.collect::<Option<_>>()?,
            steps: steps.collect(),
            bits: solution.cost / std::f64::consts::LN_2,
        })
    }

    /// The letters in playing order.
    pub fn letters(&self) -> Vec<&Letter> {
        self.steps
            .iter()
            .map(|s| &self.cells[s.cell].letter)
            .collect()
    }
}

/// Letters in order: A to Z, then A1 to Z1, A2 …
#[derive(Default)]
struct Names(usize);

impl Names {
    fn fresh(&mut self) -> Option<Letter> {
        let (round, letter) = (self.0 / 26, (b'A' + (self.0 % 26) as u8) as char);
        self.0 += 1;
        match round {
            0 => Letter::new(&letter.to_string()),
            1..100 => Letter::new(&format!("{letter}{round}")),
            _ => None,
        }
    }
}
