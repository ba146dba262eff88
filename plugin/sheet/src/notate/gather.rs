//! What is played in one bar: onsets of both voices, the grids beneath, counts
//! and sticking.

use super::error::Fault;
use super::pieces::{Frame, Onset};
use super::plan::Division;
use super::spell;
use super::{Options, meter};
use crate::{Source, Under, VoiceLine, WrittenStroke, head, stem_up, step};
use barform_score::music::{
    Beats, BeatsError, Grid, Meter, Slot, Span, Stroke, count_syllables, sticking_under,
};
use std::rc::Rc;

/// Something that is played: a cell at its rate, or one cycle of an ostinato.
pub(super) struct Part {
    /// Grid as it sounds.
    grid: Grid,
    slots: Vec<Slot>,
    /// Start of each slot, then the end.
    bounds: Vec<Beats>,
    divisions: Vec<Division>,
}

impl Part {
    pub fn new(grid: &Grid, slots: &[Slot], rate: Beats) -> Result<Part, BeatsError> {
        let (mut spans, mut divisions) = (Vec::new(), Vec::new());
        let mut start = Beats::ZERO;
        for span in grid.spans() {
            let length = span.length.checked_div(rate)?;
            spans.push(Span { length, ..*span });
            divisions.push(Division {
                start,
                length,
                slots: span.slots,
            });
            start = start.checked_add(length)?;
        }
        let grid = Grid::new(spans).ok_or(BeatsError::Overflow)?;
        Ok(Part {
            bounds: grid.slot_bounds()?,
            grid,
            slots: slots.to_vec(),
            divisions,
        })
    }

    pub fn length(&self) -> Beats {
        self.bounds.last().copied().unwrap_or(Beats::ZERO)
    }

    /// Whether anything is struck.
    pub fn plays(&self) -> bool {
        self.slots.iter().any(|slot| !slot.is_empty())
    }

    /// What is counted on each slot, `from` beats after a bar line.
    pub fn counts(
        &self,
        from: Beats,
        meter: Meter,
        options: &Options,
    ) -> Result<Vec<String>, BeatsError> {
        let Some(tradition) = &options.tradition else {
            return count_syllables(&self.grid, from, meter);
        };
        let counts = tradition.count(&self.grid, from, meter, options.count_by)?;
        Ok(counts.into_iter().map(|count| count.text).collect())
    }
}

/// A cell that stands in the bar.
pub(super) struct Row<'a> {
    pub part: &'a Part,
    /// Beats from the bar line of a full bar; below zero if it began earlier.
    pub start: Beats,
    /// Number of its place, counted from the first of the bar.
    pub place: u32,
    pub counts: Rc<Vec<String>>,
}

/// An ostinato beneath the bar.
pub(super) struct Beneath<'a> {
    pub part: &'a Part,
    /// How far its cycle has come where the written bar starts.
    pub phase: Beats,
}

/// What stands in a bar, apart from its number and marks. The places of strokes
/// are counted from the first of the bar.
#[derive(Debug, Clone)]
pub(super) struct Content {
    pub hands: VoiceLine,
    pub feet: VoiceLine,
    pub under: Vec<Under>,
}

/// Two voices and their grids while they are gathered.
#[derive(Default)]
struct Gathered {
    hands: Vec<Onset>,
    feet: Vec<Onset>,
    /// Divisions without gaps, the form's first.
    rows: Vec<Vec<Division>>,
}

/// Writes a bar that lasts from `from` to `to` of a full bar of `meter`.
pub(super) fn content(
    meter: Meter,
    from: Beats,
    to: Beats,
    rows: &[Row<'_>],
    beneath: &[Beneath<'_>],
) -> Result<Content, Fault> {
    let mut all = Gathered::default();
    let mut under = Vec::new();
    let mut form = Vec::new();
    for row in rows {
        let range = all.part(row.part, row.start, (from, to), Some(row.place), &mut form)?;
        for slot in range {
            let strokes = &row.part.slots[slot];
            let count = row.counts.get(slot).cloned().unwrap_or_default();
            let sticking = sticking_under(strokes);
            if count.is_empty() && sticking.is_empty() {
                continue;
            }
            let at = row.part.bounds[slot].checked_add(row.start)?;
            under.push(Under {
                at: at.checked_sub(from)?,
                count,
                light: strokes.is_empty(),
                sticking,
            });
        }
    }
    all.close(form);
    for ostinato in beneath {
        let mut start = from.checked_sub(ostinato.phase)?;
        let mut cycles = Vec::new();
        while start < to {
            all.part(ostinato.part, start, (from, to), None, &mut cycles)?;
            start = start.checked_add(ostinato.part.length())?;
        }
        all.close(cycles);
    }
    let beats = meter::beats(meter)?;
    let write = |onsets: Vec<Onset>, hide_empty| {
        let frame = Frame {
            beats: &beats,
            from,
            to,
            hide_empty,
        };
        spell::line(frame, &together(onsets), &all.rows)
    };
    Ok(Content {
        hands: write(all.hands, false)?,
        feet: write(all.feet, true)?,
        under,
    })
}

impl Gathered {
    /// Adds what of a part falls in the bar; says which slots those are.
    fn part(
        &mut self,
        part: &Part,
        start: Beats,
        (from, to): (Beats, Beats),
        place: Option<u32>,
        divisions: &mut Vec<Division>,
    ) -> Result<std::ops::Range<usize>, Fault> {
        let (from, to) = (from.checked_sub(start)?, to.checked_sub(start)?);
        let count = part.slots.len();
        let first = part.bounds.partition_point(|b| *b < from).min(count);
        let end = part.bounds.partition_point(|b| *b < to).min(count);
        for slot in first..end {
            let at = part.bounds[slot];
            let long = part.bounds[slot + 1].checked_sub(at)?;
            let at = at.checked_add(start)?;
            for up in [true, false] {
                let strokes = part.slots[slot].iter().filter(|s| stem_up(s.limb) == up);
                let strokes: Vec<_> = strokes.map(|s| write(s, place, slot)).collect();
                if !strokes.is_empty() {
                    let voice = if up { &mut self.hands } else { &mut self.feet };
                    voice.push(Onset { at, strokes, long });
                }
            }
        }
        let first_division = part.divisions.partition_point(|d| d.start < from);
        for division in &part.divisions[first_division..] {
            if division.start.checked_add(division.length)? > to {
                break;
            }
            divisions.push(Division {
                start: division.start.checked_add(start)?,
                ..*division
            });
        }
        Ok(first..end.max(first))
    }

    fn close(&mut self, divisions: Vec<Division>) {
        if !divisions.is_empty() {
            self.rows.push(divisions);
        }
    }
}

fn write(stroke: &Stroke, place: Option<u32>, slot: usize) -> WrittenStroke {
    WrittenStroke {
        stroke: *stroke,
        step: step(stroke.voice),
        head: head(stroke.voice, stroke.articulation),
        // A cell has at most 1024 slots.
        source: place.map(|place| Source {
            place,
            slot: slot as u16,
        }),
    }
}

/// One onset for each time. Where an ostinato doubles a stroke of the form, the
/// form's is written.
fn together(mut onsets: Vec<Onset>) -> Vec<Onset> {
    onsets.sort_by_key(|onset| onset.at);
    let mut joined: Vec<Onset> = Vec::with_capacity(onsets.len());
    for onset in onsets {
        match joined.last_mut() {
            Some(last) if last.at == onset.at => {
                last.long = last.long.max(onset.long);
                for new in onset.strokes {
                    let same = |old: &WrittenStroke| {
                        let (a, b) = (old.stroke, new.stroke);
                        (a.limb, a.voice, a.articulation) == (b.limb, b.voice, b.articulation)
                    };
                    if new.source.is_some() || !last.strokes.iter().any(same) {
                        last.strokes.push(new);
                    }
                }
            }
            _ => joined.push(onset),
        }
    }
    for onset in &mut joined {
        onset.strokes.sort_by_key(|s| s.step);
    }
    joined
}
