//! Counts what the repeats come to, then writes them out and checks bar lines.

use super::super::error::{Fault, Mend, ScoreErrorKind as Kind, Spot, beats};
use super::super::limits::{MAX_PLACEMENTS, MAX_STROKES};
use super::{Builder, Measure, Placement, Placements, Step};
use crate::music::{Beats, Meter};

impl Builder<'_> {
    /// Cells the form plays with its repeats written out, checked against the
    /// limits before one of them is written.
    pub(super) fn count(&self) -> Result<usize, Fault> {
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
                    let Measure { cost, .. } = self.measures[place.variant as usize];
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
    pub(super) fn walk(self, count: usize) -> Result<Placements, Fault> {
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
                        "the form has a bar line (|)",
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
            format!("remove {}{last}", beats(into))
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

pub(super) fn too_long(what: &'static str, read: u64, most: u64) -> Kind {
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
