//! The form written out: every cell in playing order.

mod moved;
mod walk;

use super::check::{long_enough, shortest_allowed, shortest_slot, size};
use super::error::{Fault, Mend, ScoreErrorKind as Kind, Spot, beats};
use super::form::{FormItem, Overrides, Rate};
use super::limits::*;
use super::model::Score;
use super::resolve::unknown_cell;
use crate::music::{Beats, Cell, Fit, Stroke, Subdivision};
use moved::{moved, revoice};
use std::collections::HashMap;
use walk::too_long;

/// The form written out. Distinct cells are worked out once and shared.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Placements {
    /// Cells in playing order.
    pub places: Vec<Placement>,
    /// The distinct cells they play: on their final subdivision and voicing,
    /// at rate 1.
    pub variants: Vec<Cell>,
    /// Start of each section from the start of the form.
    pub section_starts: Vec<Beats>,
    /// Length of one pass of the form.
    pub length: Beats,
}

/// One cell standing in the form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Placement {
    /// Start from the start of the form.
    pub start: Beats,
    /// Length as played, rate included.
    pub length: Beats,
    /// Speed against the cell as written: the product of all rates above it.
    pub rate: Beats,
    /// Cell, as an index into [`Score::cells`].
    pub letter: u32,
    /// Section, as an index into [`Score::sections`].
    pub section: u32,
    /// Item of that section's form it comes from, groups counted before their
    /// content, as in [`ScoreError::part`](super::ScoreError::part).
    pub item: u32,
    /// Cell as played, as an index into [`Placements::variants`].
    pub variant: u32,
    /// Loudness in percent: the product of all levels above it, rounded, at
    /// most 255.
    pub level_percent: u8,
}

/// What a cell costs: its strokes, grace notes and bounces; at least its slots.
pub(super) fn weight(cell: &Cell) -> u64 {
    let cost = |s: &Stroke| s.graces.len() as u64 + if s.buzz { BUZZ_STROKES } else { 1 };
    let strokes: u64 = cell.slots.iter().flatten().map(cost).sum();
    strokes.max(cell.slots.len() as u64)
}

/// The form as a list of steps with the loops still closed.
enum Step {
    /// A section begins.
    Section(usize),
    /// A cell is played. Its start is filled in on the way.
    Play { item: usize, place: Placement },
    /// A bar line is asserted.
    BarLine { item: usize },
    /// A group begins that is played so often.
    Open { times: u32 },
    /// The innermost group ends.
    Close,
}

/// What holds for a letter after all overrides around it.
#[derive(Clone, Copy)]
struct Holds<'s> {
    subdivision: Option<&'s (Subdivision, Fit)>,
    voicing: Option<usize>,
    rate: Beats,
    level: f64,
}

/// What the walk needs to know of a variant.
#[derive(Clone, Copy)]
struct Measure {
    length: Beats,
    shortest: Beats,
    cost: u64,
}

/// A distinct cell: its index, subdivision and voicing.
type VariantKey<'s> = (usize, Option<&'s (Subdivision, Fit)>, Option<usize>);

struct Builder<'s> {
    score: &'s Score,
    cells: &'s [Cell],
    letters: HashMap<&'s str, usize>,
    known: HashMap<VariantKey<'s>, u32>,
    variants: Vec<Cell>,
    /// Length and cost of each variant.
    measures: Vec<Measure>,
    /// Slots of all variants together.
    slots: u64,
    steps: Vec<Step>,
    /// Items of this section so far, groups before their content.
    item: usize,
    /// Whether bar lines have to fall where the meter has them.
    bar_lines: bool,
}

impl Placements {
    /// Writes out the form of a score whose cells are resolved.
    pub(super) fn build(
        score: &Score,
        cells: &[Cell],
        bar_lines: bool,
    ) -> Result<Placements, Fault> {
        let letters = score
            .cells
            .iter()
            .enumerate()
            .map(|(i, c)| (c.letter.as_str(), i));
        let mut builder = Builder {
            score,
            cells,
            letters: letters.collect(),
            known: HashMap::new(),
            variants: Vec::new(),
            measures: Vec::new(),
            slots: 0,
            steps: Vec::new(),
            item: 0,
            bar_lines,
        };
        for (i, section) in score.sections.iter().enumerate() {
            builder.item = 0;
            builder.steps.push(Step::Section(i));
            let all = Holds {
                subdivision: None,
                voicing: None,
                rate: Beats::ONE,
                level: 100.0,
            };
            let spot = Spot::SectionOverrides(i);
            let holds = builder.inside(all, &section.overrides, spot, None)?;
            builder.items(i, &section.items, holds, 0)?;
            if !section.items.iter().any(plays) {
                return Err(empty(Spot::Form(i), None, "form without a letter"));
            }
        }
        let count = builder.count()?;
        builder.walk(count)
    }
}

/// Whether an item plays anything; groups are checked on their own.
fn plays(item: &FormItem) -> bool {
    !matches!(item, FormItem::BarLine)
}

fn empty(spot: Spot, part: Option<usize>, what: &str) -> Fault {
    let kind = Kind::Form {
        problem: format!("a {what}"),
        allowed: "there is at least one".into(),
        mend: Mend::default(),
    };
    Fault {
        spot,
        part,
        kind: Box::new(kind),
    }
}

impl<'s> Builder<'s> {
    fn items(
        &mut self,
        section: usize,
        items: &'s [FormItem],
        holds: Holds<'s>,
        depth: usize,
    ) -> Result<(), Fault> {
        let spot = Spot::Form(section);
        let mut after_bar_line = false;
        for item in items {
            let part = self.item;
            self.item += 1;
            let bar_line = matches!(item, FormItem::BarLine);
            if bar_line && !self.bar_lines {
                continue;
            }
            if bar_line && after_bar_line {
                return Err(empty(
                    spot,
                    Some(part),
                    "bar between two bar lines without a letter",
                ));
            }
            after_bar_line = bar_line;
            match item {
                FormItem::BarLine => self.steps.push(Step::BarLine { item: part }),
                FormItem::Letter { letter, overrides } => {
                    let Some(cell) = self.letters.get(letter.as_str()).copied() else {
                        return Err(Fault::part(spot, part, unknown_cell(self.score, letter)));
                    };
                    let holds = self.inside(holds, overrides, spot, Some(part))?;
                    self.play(section, part, cell, holds)?;
                }
                FormItem::Group {
                    items,
                    times,
                    overrides,
                } => {
                    let group = |what, read: String, allowed: String| {
                        Fault::part(
                            spot,
                            part,
                            Kind::OutOfRange {
                                what,
                                read,
                                allowed,
                            },
                        )
                    };
                    if depth == MAX_DEPTH {
                        let (what, most) = ("the nesting of groups".into(), MAX_DEPTH);
                        return Err(group(what, "deeper".into(), format!("at most {most}")));
                    }
                    if !(1..=MAX_REPEATS).contains(times) {
                        let (what, most) = ("a repeat".into(), MAX_REPEATS);
                        return Err(group(what, times.to_string(), format!("1 to {most}")));
                    }
                    if !items.iter().any(plays) {
                        return Err(empty(spot, Some(part), "group without a letter"));
                    }
                    let holds = self.inside(holds, overrides, spot, Some(part))?;
                    self.steps.push(Step::Open { times: *times });
                    self.items(section, items, holds, depth + 1)?;
                    self.steps.push(Step::Close);
                }
            }
        }
        Ok(())
    }

    /// What holds inside of overrides.
    fn inside(
        &self,
        outer: Holds<'s>,
        overrides: &'s Overrides,
        spot: Spot,
        part: Option<usize>,
    ) -> Result<Holds<'s>, Fault> {
        let fault = |kind| Fault {
            spot,
            part,
            kind: Box::new(kind),
        };
        let mut holds = outer;
        if let Some(subdivision) = &overrides.subdivision {
            let grid = &subdivision.0.0;
            let length = size(grid).map_err(|_| {
                let what = "a subdivision".to_owned();
                let read = super::error::brief(&grid.to_string());
                let allowed =
                    format!("at most {MAX_SLOTS} slots and {MAX_CELL_BEATS} beats that add up");
                fault(Kind::OutOfRange {
                    what,
                    read,
                    allowed,
                })
            })?;
            debug_assert!(length.is_positive());
            if grid.spans().iter().any(|s| s.length.denom() > MAX_TERM) {
                return Err(fault(Kind::Overflow {
                    what: "the subdivision".into(),
                }));
            }
            holds.subdivision = Some(subdivision);
        }
        if let Some(name) = &overrides.voicing {
            let known = self.score.voicings.iter().position(|v| v.name == *name);
            holds.voicing = Some(known.ok_or_else(|| {
                let names = || self.score.voicings.iter().map(|v| v.name.as_str());
                let known = super::read::list(names());
                fault(Kind::Unknown {
                    what: "voicing",
                    read: super::error::brief(name),
                    known: if known.is_empty() {
                        "none".into()
                    } else {
                        known
                    },
                    mend: match super::nearest::did_you_mean(name, names()) {
                        Mend(None) => Mend(Some(format!("add [voicing.{name}]"))),
                        mend => mend,
                    },
                })
            })?);
        }
        if let Some(level) = overrides.level {
            if !(10..=150).contains(&level) {
                let (what, read) = ("a level".into(), format!("{level}%"));
                return Err(fault(Kind::OutOfRange {
                    what,
                    read,
                    allowed: "10% to 150%".into(),
                }));
            }
            holds.level *= f64::from(level) / 100.0;
        }
        if let Some(rate) = overrides.rate {
            let product = holds.rate.checked_mul(Rate::factor(rate));
            holds.rate = product.map_err(|_| {
                fault(Kind::Overflow {
                    what: "the rates".into(),
                })
            })?;
        }
        Ok(holds)
    }

    fn play(
        &mut self,
        section: usize,
        item: usize,
        cell: usize,
        holds: Holds<'s>,
    ) -> Result<(), Fault> {
        let spot = Spot::Form(section);
        let variant = self
            .variant(cell, holds)
            .map_err(|kind| Fault::part(spot, item, kind))?;
        let Measure {
            length, shortest, ..
        } = self.measures[variant as usize];
        // At worst the rate is too fine to divide by: then the slot is, too.
        let shortest = shortest.checked_div(holds.rate).unwrap_or(Beats::ZERO);
        if !long_enough(shortest) {
            let kind = Kind::OutOfRange {
                what: "the shortest slot at this rate".into(),
                read: beats(shortest),
                allowed: shortest_allowed(),
            };
            return Err(Fault::part(spot, item, kind));
        }
        let length = length.checked_div(holds.rate).map_err(|_| {
            Fault::part(
                spot,
                item,
                Kind::Overflow {
                    what: "the length of a cell".into(),
                },
            )
        })?;
        let place = Placement {
            start: Beats::ZERO,
            length,
            rate: holds.rate,
            // Both below MAX_CELLS and MAX_SECTIONS.
            letter: cell as u32,
            section: section as u32,
            // A file of MAX_FILE_BYTES has fewer.
            item: item as u32,
            variant,
            level_percent: holds.level.round().clamp(1.0, 255.0) as u8,
        };
        self.steps.push(Step::Play { item, place });
        Ok(())
    }

    /// The number of a distinct cell, worked out when first met.
    fn variant(&mut self, cell: usize, holds: Holds<'s>) -> Result<u32, Kind> {
        let key = (cell, holds.subdivision, holds.voicing);
        if let Some(known) = self.known.get(&key) {
            return Ok(*known);
        }
        let mut played = match holds.subdivision {
            None => self.cells[cell].clone(),
            Some((subdivision, fit)) => moved(&self.cells[cell], subdivision, *fit)?,
        };
        if let Some(voicing) = holds.voicing {
            revoice(&mut played, &self.score.voicings[voicing]);
        }
        self.slots = self.slots.saturating_add(played.slots.len() as u64);
        if self.slots > MAX_STROKES {
            return Err(too_long(
                "slots in all cells as played",
                self.slots,
                MAX_STROKES,
            ));
        }
        let length = played.grid.length().map_err(|_| Kind::Overflow {
            what: format!("the length of cell {}", played.letter),
        })?;
        let shortest = shortest_slot(&played.grid).map_err(|_| Kind::Overflow {
            what: format!("the slots of cell {}", played.letter),
        })?;
        self.measures.push(Measure {
            length,
            shortest,
            cost: weight(&played),
        });
        self.variants.push(played);
        // Below MAX_STROKES: every cell has a slot.
        let number = (self.variants.len() - 1) as u32;
        self.known.insert(key, number);
        Ok(number)
    }
}
