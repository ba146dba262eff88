//! The form as a score writes it: bars, and runs as repeats.
//!
//! In: cells in playing order with the bar lines and sections they stand in.
//! Out: sections. Never here: what a cell plays.

use barform_score::music::{Letter, Meter};
use barform_score::score::{FormItem, MAX_REPEATS, Overrides, Section};

/// A cell in the form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Step {
    /// Its letter.
    pub letter: Letter,
    /// Loudness in percent.
    pub level: u8,
    /// Whether a bar line falls at its end.
    pub bar_line: bool,
}

/// A section before its form is written.
#[derive(Debug, Clone)]
pub(super) struct Part {
    /// Its name.
    pub name: String,
    /// Its meter, if not the score's.
    pub meter: Option<Meter>,
    /// What it plays; not empty.
    pub steps: Vec<Step>,
}

/// Runs of a letter from this length on are a group.
const RUN: usize = 3;

impl Part {
    /// The section.
    pub fn section(self) -> Section {
        let mut items = Vec::new();
        let bars: Vec<&[Step]> = self.steps.split_inclusive(|s| s.bar_line).collect();
        let runs = bars.chunk_by(|a, b| a == b);
        for bars in runs.flat_map(|run| run.chunks(MAX_REPEATS as usize)) {
            let bar = bars[0];
            let whole = bar.last().is_some_and(|s| s.bar_line);
            let mut inside = letters(bar);
            if whole {
                inside.push(FormItem::BarLine);
            }
            if bars.len() > 1 && whole {
                items.push(group(inside, bars.len()));
            } else {
                items.extend(inside);
            }
        }
        Section {
            name: self.name,
            meter: self.meter,
            overrides: Overrides::default(),
            items,
        }
    }
}

fn group(items: Vec<FormItem>, times: usize) -> FormItem {
    FormItem::Group {
        items,
        // At most MAX_REPEATS.
        times: times as u32,
        overrides: Overrides::default(),
    }
}

/// The letters of a bar, runs as groups.
fn letters(steps: &[Step]) -> Vec<FormItem> {
    let mut items = Vec::new();
    let same = |a: &Step, b: &Step| a.letter == b.letter && a.level == b.level;
    let runs = steps.chunk_by(same);
    for run in runs.flat_map(|run| run.chunks(MAX_REPEATS as usize)) {
        let letter = |step: &Step| FormItem::Letter {
            letter: step.letter.clone(),
            overrides: Overrides {
                level: (step.level != 100).then_some(step.level),
                ..Overrides::default()
            },
        };
        if run.len() >= RUN {
            items.push(group(vec![letter(&run[0])], run.len()));
        } else {
            items.extend(run.iter().map(letter));
        }
    }
    items
}
