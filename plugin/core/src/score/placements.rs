//! The form written out: every cell in playing order.

use super::check::{Size, size};
use super::error::{Fault, Mend, ScoreErrorKind as Kind, Spot, beats};
use super::form::{FormItem, Overrides, Rate};
use super::limits::*;
use super::model::{Score, Voicing};
use super::resolve::unknown_cell;
use crate::music::{Articulation, Beats, Cell, Fit, Meter, RefitError, Stroke, Subdivision};
use std::collections::HashMap;

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

/// A distinct cell: its index, subdivision and voicing.
type VariantKey<'s> = (usize, Option<&'s (Subdivision, Fit)>, Option<usize>);

struct Builder<'s> {
    score: &'s Score,
    cells: &'s [Cell],
    letters: HashMap<&'s str, usize>,
    known: HashMap<VariantKey<'s>, u32>,
    variants: Vec<Cell>,
    /// Length and cost of each variant.
    measures: Vec<(Beats, u64)>,
    /// Slots of all variants together.
    slots: u64,
    steps: Vec<Step>,
    /// Items of this section so far, groups before their content.
    item: usize,
}

impl Placements {
    /// Writes out the form of a score whose cells are resolved.
    pub(super) fn build(score: &Score, cells: &[Cell]) -> Result<Placements, Fault> {
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
        let (length, _) = self.measures[variant as usize];
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
        self.measures.push((length, weight(&played)));
        self.variants.push(played);
        // Below MAX_STROKES: every cell has a slot.
        let number = (self.variants.len() - 1) as u32;
        self.known.insert(key, number);
        Ok(number)
    }

    /// Cells the form plays with its repeats written out, checked against the
    /// limits before one of them is written.
    fn count(&self) -> Result<usize, Fault> {
        let (mut times, mut open) = (1_u64, Vec::new());
        let (mut cells, mut strokes, mut lines) = (0_u64, 0_u64, 0_u64);
        let mut section = 0;
        for step in &self.steps {
            let item = match step {
                Step::Section(i) => {
                    section = *i;
                    continue;
                }
                Step::Open { times: n } => {
                    open.push(times);
                    times = times.saturating_mul(u64::from(*n));
                    continue;
                }
                Step::Close => {
                    times = open.pop().unwrap_or(1);
                    continue;
                }
                Step::BarLine { item } => {
                    lines = lines.saturating_add(times);
                    *item
                }
                Step::Play { item, place } => {
                    let (_, cost) = self.measures[place.variant as usize];
                    cells = cells.saturating_add(times);
                    strokes = strokes.saturating_add(times.saturating_mul(cost));
                    *item
                }
            };
            for (what, read, most) in [
                (
                    "cells in the form, repeats written out",
                    cells,
                    MAX_PLACEMENTS,
                ),
                (
                    "bar lines in the form, repeats written out",
                    lines,
                    MAX_PLACEMENTS,
                ),
                (
                    "strokes in the form, repeats written out",
                    strokes,
                    MAX_STROKES,
                ),
            ] {
                if read > most {
                    return Err(Fault::part(
                        Spot::Form(section),
                        item,
                        too_long(what, read, most),
                    ));
                }
            }
        }
        Ok(usize::try_from(cells).unwrap_or(0))
    }

    /// Writes the form out and checks where bar lines fall.
    fn walk(self, count: usize) -> Result<Placements, Fault> {
        let mut places: Vec<Placement> = Vec::with_capacity(count);
        let mut section_starts = Vec::with_capacity(self.score.sections.len());
        let mut now = Beats::ZERO;
        let mut bars = Bars {
            meter: self.score.meter,
            first: self.score.pickup,
            number: 1,
        };
        let mut section = 0;
        let mut loops: Vec<(usize, u32)> = Vec::new();
        let mut at = 0;
        while let Some(step) = self.steps.get(at) {
            at += 1;
            match step {
                Step::Section(i) => {
                    section = *i;
                    let meter = self.score.sections[section]
                        .meter
                        .unwrap_or(self.score.meter);
                    if section == 0 {
                        bars.meter = meter;
                    } else if meter != bars.meter {
                        let what = format!("section {} changes to {meter}", section + 1);
                        bars.number +=
                            self.bar_line(bars, now, &what, Spot::SectionMeter(section), &places)?;
                        (bars.first, bars.meter) = (now, meter);
                    }
                    section_starts.push(now);
                }
                Step::Play { item, place } => {
                    let end = now.checked_add(place.length).map_err(|_| {
                        let what = "the form up to here".to_owned();
                        Fault::part(Spot::Form(section), *item, Kind::Overflow { what })
                    })?;
                    places.push(Placement {
                        start: now,
                        ..*place
                    });
                    now = end;
                }
                Step::BarLine { item } => {
                    self.bar_line(
                        bars,
                        now,
                        "'|' asserts a bar line",
                        Spot::Form(section),
                        &places,
                    )
                    .map_err(|f| Fault {
                        part: Some(*item),
                        ..f
                    })?;
                }
                Step::Open { times } => loops.push((at, times - 1)),
                Step::Close => match loops.last_mut() {
                    Some((start, left)) if *left > 0 => {
                        *left -= 1;
                        at = *start;
                    }
                    _ => {
                        loops.pop();
                    }
                },
            }
        }
        Ok(Placements {
            places,
            variants: self.variants,
            section_starts,
            length: now,
        })
    }

    /// Number of bars since the meter began, if a bar line falls at `now`.
    fn bar_line(
        &self,
        bars: Bars,
        now: Beats,
        what: &str,
        spot: Spot,
        places: &[Placement],
    ) -> Result<u64, Fault> {
        let overflow = |_| {
            Fault::new(
                spot,
                Kind::Overflow {
                    what: "the form up to here".into(),
                },
            )
        };
        let whole = bars.meter.bar();
        let since = now.checked_sub(bars.first).map_err(overflow)?;
        let passed = since.checked_div(whole).map_err(overflow)?;
        if passed.is_whole() && passed >= Beats::ZERO {
            return Ok(passed.numer().unsigned_abs());
        }
        let (bar, into, short) = if since < Beats::ZERO {
            // The pickup bar: only its end is a bar line.
            let short = bars.first.checked_sub(now).map_err(overflow)?;
            (0, now, short)
        } else {
            let into = since.checked_rem(whole).map_err(overflow)?;
            let bar = bars.number + passed.floor().unsigned_abs();
            (bar, into, whole.checked_sub(into).map_err(overflow)?)
        };
        let mend = if short <= into || into.is_zero() {
            let fits = self
                .cells
                .iter()
                .find(|c| c.grid.length().is_ok_and(|l| l == short));
            let cell = fits.map_or(String::new(), |c| {
                format!(", for example cell {}", c.letter)
            });
            format!("add {} before it{cell}", beats(short))
        } else {
            let last = places.last().filter(|p| p.length == into);
            let last = last.map_or(String::new(), |p| {
                format!(
                    ": the cell {} before it",
                    self.cells[p.letter as usize].letter
                )
            });
            format!("take away {}{last}", beats(into))
        };
        let kind = Kind::BarLine {
            what: what.to_owned(),
            bar,
            meter: bars.meter,
            into,
            short,
            over: into,
            mend: Mend(Some(mend)),
        };
        Err(Fault::new(spot, kind))
    }
}

/// Where bars are counted from.
#[derive(Clone, Copy)]
struct Bars {
    meter: Meter,
    /// First bar line in this meter.
    first: Beats,
    /// Number of the bar there.
    number: u64,
}

fn too_long(what: &'static str, read: u64, most: u64) -> Kind {
    let read = if read == u64::MAX {
        "far too many".into()
    } else {
        format!("{read} or more")
    };
    Kind::TooMany {
        what,
        read,
        most,
        mend: Mend(Some("take smaller repeats".into())),
    }
}

/// The cell on another subdivision, if that is within the limits.
fn moved(cell: &Cell, subdivision: &Subdivision, fit: Fit) -> Result<Cell, Kind> {
    let pattern = &subdivision.0;
    let length = cell.grid.length().unwrap_or(Beats::ZERO);
    let refuse = |why: String, mend: Option<String>| Kind::Refit {
        letter: cell.letter.clone(),
        length,
        subdivision: super::error::brief(&subdivision.to_string()),
        why,
        mend: Mend(mend),
    };
    let overflow = || Kind::Overflow {
        what: format!("cell {} on {subdivision}", cell.letter),
    };
    if fit == Fit::Refit {
        // Before the slots are made: how many whole patterns go into the cell.
        let times = pattern.length().and_then(|p| length.checked_div(p));
        let times = times.map_err(|_| overflow())?.floor().unsigned_abs();
        if times.saturating_mul(pattern.slot_count() as u64) > MAX_SLOTS as u64 {
            return Err(refuse(format!("more than {MAX_SLOTS} slots"), None));
        }
    }
    let moved = cell.on(subdivision, fit).map_err(|e| match e {
        RefitError::NoWholeSlots { .. } => {
            let mend = "carry it, or take a subdivision that divides its length";
            refuse("no whole number of slots".into(), Some(mend.into()))
        }
        RefitError::Beats(_) => overflow(),
    })?;
    match size(&moved.grid) {
        Ok(_) => Ok(moved),
        Err(Size::Slots(_)) => Err(refuse(format!("more than {MAX_SLOTS} slots"), None)),
        Err(Size::Beats(l)) => Err(refuse(
            format!("{}; at most {MAX_CELL_BEATS} are allowed", beats(l)),
            None,
        )),
        Err(Size::Overflow) => Err(overflow()),
    }
}

/// Plays the strokes on other voices. A stroke keeps its articulation where the
/// voicing names none and the new voice has it.
fn revoice(cell: &mut Cell, voicing: &Voicing) {
    for stroke in cell.slots.iter_mut().flatten() {
        let Some((_, to)) = voicing.map.iter().find(|(from, _)| *from == stroke.voice) else {
            continue;
        };
        stroke.voice = to.voice;
        let kept = to.articulation == Articulation::Plain
            && to.voice.articulations().contains(&stroke.articulation);
        if !kept {
            stroke.articulation = to.articulation;
        }
    }
}
