//! What stands above the staff: sections, letters, and what is special there.

use crate::Mark;
use barform_score::music::{Beats, BeatsError, Grid, Subdivision};
use barform_score::score::{Rate, Score, ScoreError};
use barform_score::timeline::Timeline;

/// What a letter plays otherwise than its cell says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Special {
    /// The rate, where it is not 1.
    rate: Option<Beats>,
    /// Loudness in percent, where it is not 100.
    level: Option<u8>,
    /// The cell as played, where its grid is not the one it was written with.
    moved: Option<u32>,
}

/// Writes marks for the places of a form.
pub(super) struct Marks<'a> {
    timeline: &'a Timeline,
    levels: Vec<u8>,
    /// Name of the subdivision of each moved variant.
    moved: Vec<Option<String>>,
    /// What holds for all letters of a section is said at its start only.
    common: Vec<Option<Special>>,
}

impl<'a> Marks<'a> {
    pub fn new(score: &Score, timeline: &'a Timeline) -> Result<Marks<'a>, ScoreError> {
        let plan = score.placements()?;
        let mut levels: Vec<u8> = plan.places.iter().map(|p| p.level_percent).collect();
        // A timeline of another score: its levels are not known.
        levels.resize(timeline.places.len(), 100);
        let cells = score.cells_resolved()?;
        let moved = timeline.variants.iter().map(|variant| {
            let cell = cells.iter().find(|cell| cell.letter == variant.letter)?;
            (cell.grid != variant.grid).then(|| name(&variant.grid))
        });
        let mut marks = Marks {
            timeline,
            levels,
            moved: moved.collect(),
            common: Vec::new(),
        };
        marks.common = marks.common();
        Ok(marks)
    }

    /// Loudness of a place in percent.
    pub fn level(&self, place: usize) -> u8 {
        self.levels.get(place).copied().unwrap_or(100)
    }

    fn special(&self, number: usize) -> Special {
        let Some(place) = self.timeline.places.get(number) else {
            return Special::default();
        };
        let moved = self.moved.get(place.variant as usize);
        Special {
            rate: (place.rate != Rate::Normal.factor()).then_some(place.rate),
            level: Some(self.level(number)).filter(|level| *level != 100),
            moved: moved.is_some_and(Option::is_some).then_some(place.variant),
        }
    }

    /// For each section what all its letters share; `None` before it is known.
    fn common(&self) -> Vec<Option<Special>> {
        let mut common: Vec<Option<Special>> = vec![None; self.timeline.sections.len()];
        for (number, place) in self.timeline.places.iter().enumerate() {
            let Some(known) = common.get_mut(place.section as usize) else {
                continue;
            };
            let here = self.special(number);
            *known = Some(match *known {
                None => Special {
                    // The grid is said per letter: cells differ in theirs.
                    moved: None,
                    ..here
                },
                Some(all) => Special {
                    rate: all.rate.filter(|_| all.rate == here.rate),
                    level: all.level.filter(|_| all.level == here.level),
                    moved: None,
                },
            });
        }
        common
    }

    /// The mark of a place, `at` beats from the start of its bar.
    pub fn mark(&self, number: usize, at: Beats) -> Option<Mark> {
        let place = self.timeline.places.get(number)?;
        let before = number
            .checked_sub(1)
            .and_then(|n| self.timeline.places.get(n));
        let opens = before.is_none_or(|before| before.section != place.section);
        let section = self.timeline.sections.get(place.section as usize);
        let section = section.filter(|s| opens && !s.name.is_empty());
        let mut special = self.special(number);
        if !opens && let Some(Some(common)) = self.common.get(place.section as usize) {
            special.rate = special.rate.filter(|_| common.rate.is_none());
            special.level = special.level.filter(|_| common.level.is_none());
        }
        Some(Mark {
            at,
            section: section.map(|s| s.name.clone()),
            letter: self.timeline.letters.get(place.letter as usize).cloned(),
            letter_index: place.letter,
            note: self.note(special),
        })
    }

    fn note(&self, special: Special) -> String {
        let moved = special.moved.and_then(|v| self.moved.get(v as usize));
        let words = [
            special.rate.map(|rate| format!("×{rate}")),
            moved.cloned().flatten(),
            special.level.map(|level| format!("{level}%")),
        ];
        words.into_iter().flatten().collect::<Vec<_>>().join(" ")
    }
}

/// The name of a grid's even subdivision, if it has one; the grid otherwise.
fn name(grid: &Grid) -> String {
    let even = || -> Result<Option<&'static str>, BeatsError> {
        let mut slot = None;
        for span in grid.spans() {
            let length = span.slot_length()?;
            if *slot.get_or_insert(length) != length {
                return Ok(None);
            }
        }
        for (name, slots, beats) in Subdivision::NAMES {
            if slot == Some(Beats::new(beats, i64::from(slots))) {
                return Ok(Some(name));
            }
        }
        Ok(None)
    };
    match even() {
        Ok(Some(name)) => name.to_owned(),
        _ => grid.to_string(),
    }
}
