//! From stretches on their grids to the lettered form.

use super::{Plan, Reading, drum};
use crate::import::midi::Report;
use crate::import::midi::bars::{Bar, bar_of};
use crate::import::midi::cells::{Cells, Content};
use crate::import::midi::cut::Known;
use crate::import::midi::fit::Scale;
use crate::import::midi::form::{Part, Step};
use crate::import::midi::slots::{Loudness, content, percents};
use crate::import::{ImportError, RemarkKind, Remarks};
use barform_score::music::{Beats, Meter};
use barform_score::score::MAX_SECTIONS;

/// How many places of the first letter are looked at for grace notes that its
/// first place lost.
const LOOK_AHEAD: usize = 16;

impl Reading<'_> {
    /// The form, cell by cell.
    pub(super) fn steps(
        &self,
        plan: &Plan,
        scale: &Scale,
        cells: &mut Cells,
        report: &mut Report,
        remarks: &mut Remarks,
    ) -> Result<Vec<Step>, ImportError> {
        let mut known = Known::new();
        let mut steps = Vec::with_capacity(plan.stretches.len());
        for stretch in &plan.stretches {
            let bar = bar_of(&plan.bars, stretch.start);
            let gridded = stretch.on_grid(scale, drum, &mut known, bar, remarks)?;
            let off = u64::try_from(gridded.off_us).unwrap_or(0);
            // Half a tick is the file's, not ours.
            if off > self.clock.us(scale.tolerance).unsigned_abs() + 1 {
                report.largest_error_us = report.largest_error_us.max(off);
            }
            let mut make =
                |loudness| content(self.kit, &gridded, &stretch.strokes, loudness, bar, remarks);
            let (mut played, mut level) = (None, 100);
            if self.own {
                let percents = percents(self.kit, &stretch.strokes);
                let first = stretch.letter.as_ref().and_then(|l| cells.first_of(l));
                let ways: Vec<(u8, Content)> = (percents.into_iter())
                    .map(|p| (p, make(Loudness::Percent(p))))
                    .collect();
                let known = ways.iter().position(|(_, c)| Some(c) == first);
                if let Some((percent, way)) = ways.into_iter().nth(known.unwrap_or(0)) {
                    (played, level) = (Some(way), percent);
                }
            }
            let level_unknown = played.is_none();
            let played = match played {
                Some(played) => played,
                None => make(Loudness::Nearest),
            };
            if self.own && level_unknown {
                let what = "velocities that are no levels of the kit took the nearest";
                remarks.add(RemarkKind::NotKept, Some(bar), what);
            }
            let played = if steps.is_empty() {
                self.with_lost_graces(played, plan, scale, level, remarks)?
            } else {
                played
            };
            let index = cells.index(played, stretch.letter.as_ref(), bar, remarks)?;
            let end = stretch.start.checked_add(stretch.length)?;
            steps.push(Step {
                letter: cells.letter(index),
                level,
                bar_line: ends_bar(&plan.bars, end)?,
            });
        }
        Ok(steps)
    }

    /// The first cell of a form that begins with the file. Grace notes ahead of
    /// its first stroke had no room there; another place of the same letter
    /// shows them, and written again they are lost again.
    fn with_lost_graces(
        &self,
        first: Content,
        plan: &Plan,
        scale: &Scale,
        level: u8,
        remarks: &mut Remarks,
    ) -> Result<Content, ImportError> {
        let letter = plan.stretches.first().and_then(|s| s.letter.as_ref());
        if !self.own || letter.is_none() || !plan.origin.is_zero() {
            return Ok(first);
        }
        let same = plan.stretches[1..]
            .iter()
            .filter(|s| s.letter.as_ref() == letter);
        let mut known = Known::new();
        for stretch in same.take(LOOK_AHEAD) {
            let bar = bar_of(&plan.bars, stretch.start);
            let gridded = stretch.on_grid(scale, drum, &mut known, bar, remarks)?;
            let loudness = Loudness::Percent(level);
            let strokes = &stretch.strokes;
            let fuller = content(self.kit, &gridded, strokes, loudness, bar, remarks);
            if fuller != first && fuller.without_first_graces() == first {
                return Ok(fuller);
            }
        }
        Ok(first)
    }

    /// The form cut where a section begins.
    pub(super) fn parts(
        &self,
        plan: &Plan,
        steps: Vec<Step>,
        score_meter: Meter,
        remarks: &mut Remarks,
    ) -> Vec<Part> {
        let mut parts: Vec<Part> = Vec::new();
        let mut meter = score_meter;
        for (i, (step, stretch)) in steps.into_iter().zip(&plan.stretches).enumerate() {
            let bar = plan.bars.partition_point(|b| b.start <= stretch.start);
            let bar = bar.checked_sub(1).map(|bar| plan.bars[bar]);
            let now = bar.map_or(score_meter, |b| b.meter);
            let at_start = bar.is_some_and(|b| b.start == stretch.start);
            let name = plan.names.get(&i);
            let changes = at_start && now != meter;
            if changes {
                meter = now;
            }
            if parts.len() >= MAX_SECTIONS && name.is_some() && !changes {
                remarks.add(
                    RemarkKind::NotKept,
                    None,
                    "a section beyond the most of them",
                );
            } else if parts.is_empty() || name.is_some() || changes {
                parts.push(Part {
                    name: name.cloned().unwrap_or_default(),
                    meter: (meter != score_meter).then_some(meter),
                    steps: Vec::new(),
                });
            }
            if let Some(part) = parts.last_mut() {
                part.steps.push(step);
            }
        }
        parts
    }
}

/// Whether a bar ends at `at`.
fn ends_bar(bars: &[Bar], at: Beats) -> Result<bool, ImportError> {
    let i = bars.partition_point(|b| b.start < at);
    match i.checked_sub(1).map(|i| bars[i]) {
        Some(bar) => Ok(bar.start.checked_add(bar.length)? == at),
        None => Ok(false),
    }
}
