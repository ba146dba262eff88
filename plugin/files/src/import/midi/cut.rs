//! A file cut into stretches, each a cell to be.
//!
//! In: strokes in ticks, bars, or the letters that stand in the file. Out: for
//! every stretch its strokes on a grid. Never here: letters given out, hands.

use super::bars::Bar;
use super::exact::exact;
use super::fit::{Fitted, Onset, Scale, fit};
use super::strokes::{Played, room_us};
use crate::import::{ImportError, RemarkKind, Remarks};
use barform_score::music::{Beats, Grid, Letter, Span};
use std::collections::HashMap;

/// A stretch of the file.
#[derive(Debug, Clone)]
pub(super) struct Stretch {
    /// Its letter, where the file states one.
    pub letter: Option<Letter>,
    /// Start from the start of the form, as the score has it.
    pub start: Beats,
    /// Start as the file has it; differs where ticks were rounded.
    pub file_start: Beats,
    /// Length.
    pub length: Beats,
    /// Beat, or pulse of a compound meter.
    pub unit: Beats,
    /// Strokes in it.
    pub strokes: Vec<Timed>,
}

/// A stroke with its time from the start of the form.
#[derive(Debug, Clone, Copy)]
pub(super) struct Timed {
    /// Where the grid is asked to have it: the beat, of one that comes early
    /// for it.
    pub at: Beats,
    /// Where it was played.
    pub played_at: Beats,
    /// The stroke.
    pub played: Played,
}

/// Grids worked out already, by onsets, length, unit and whether letters are
/// stated.
pub(super) type Known = HashMap<(Vec<Onset>, Beats, Beats, bool), (Grid, Vec<usize>)>;

/// A stretch on its grid.
#[derive(Debug, Clone)]
pub(super) struct Gridded {
    /// The grid.
    pub grid: Grid,
    /// Slot of each stroke of the stretch.
    pub slots: Vec<usize>,
    /// Largest distance of a stroke from its slot, in microseconds.
    pub off_us: i64,
}

/// Cells of `cell` beats from every bar line on, shorter where a bar ends;
/// without a length a beat each, in compound meters a pulse.
pub(super) fn at_beats(bars: &[Bar], cell: Option<Beats>) -> Result<Vec<Stretch>, ImportError> {
    let mut stretches = Vec::new();
    for bar in bars {
        let unit = if bar.meter.is_compound() {
            bar.meter.pulse()
        } else {
            Beats::ONE
        };
        let cell = cell.unwrap_or(unit);
        let end = bar.start.checked_add(bar.length)?;
        let mut at = bar.start;
        while at < end {
            let length = cell.min(end.checked_sub(at)?);
            stretches.push(Stretch {
                letter: None,
                start: at,
                file_start: at,
                length,
                unit,
                strokes: Vec::new(),
            });
            if stretches.len() as u64 > barform_score::score::MAX_PLACEMENTS {
                return Err(ImportError::TooMuch(format!(
                    "more than {} cells in the form",
                    barform_score::score::MAX_PLACEMENTS
                )));
            }
            at = at.checked_add(length)?;
        }
    }
    Ok(stretches)
}

/// Puts every stroke into the stretch it is played in. Without `exact`, one
/// shortly before a beat goes to that beat where that is the cheaper reading.
pub(super) fn share(
    stretches: &mut [Stretch],
    strokes: Vec<Timed>,
    scale: &Scale,
    drum: impl Fn(&Played) -> u16,
) -> Result<(), ImportError> {
    if stretches.is_empty() {
        return Ok(());
    }
    let mut strokes = strokes.into_iter().peekable();
    // Strokes that come a little early for the next beat.
    let mut early: Vec<Timed> = Vec::new();
    let count = stretches.len();
    for i in 0..count {
        let (file_start, length, unit) = {
            let s = &stretches[i];
            (s.file_start, s.length, s.unit)
        };
        let end = stretches.get(i + 1).map(|next| next.file_start);
        let mut from = file_start;
        let last = file_start.checked_add(length)?;
        while from < last {
            let long = unit.min(last.checked_sub(from)?);
            let to = from.checked_add(long)?;
            // The last unit of a stretch ends where the file says.
            let until = if to == last { end } else { Some(to) };
            let mut here = std::mem::take(&mut early);
            let in_time = |at: Beats| until.is_none_or(|until| at < until);
            while let Some(next) = strokes.next_if(|s| in_time(s.at)) {
                here.push(next);
            }
            let next_exists = to != last || i + 1 < count;
            if !scale.exact && next_exists {
                early = take_early(&mut here, from, to, long, scale, &drum)?;
            }
            stretches[i].strokes.append(&mut here);
            from = to;
        }
    }
    let rest = early.into_iter().chain(strokes);
    stretches[count - 1].strokes.extend(rest);
    Ok(())
}

/// Takes away the strokes of a unit that are better read as early ones of the
/// next.
fn take_early(
    here: &mut Vec<Timed>,
    from: Beats,
    to: Beats,
    long: Beats,
    scale: &Scale,
    drum: &impl Fn(&Played) -> u16,
) -> Result<Vec<Timed>, ImportError> {
    let late = to.checked_sub(long.checked_div(Beats::whole(24))?)?;
    let cut = here.partition_point(|s| s.at <= late);
    if cut == here.len() {
        return Ok(Vec::new());
    }
    let onsets = |strokes: &[Timed]| -> Result<Vec<Onset>, ImportError> {
        strokes.iter().map(|s| onset(s, from, drum)).collect()
    };
    let stay = fit(&onsets(here)?, long, long, scale)?.map_or(i64::MAX, |f| f.cost);
    let mut go = fit(&onsets(&here[..cut])?, long, long, scale)?.map_or(i64::MAX, |f| f.cost);
    for stroke in &here[cut..] {
        let off = to.checked_sub(stroke.at)?;
        if off > scale.tolerance {
            let us = off.to_f64() * f64::from(scale.us_per_quarter);
            go = go.saturating_add((us * us / 100_000.0) as i64);
        }
    }
    if go >= stay {
        return Ok(Vec::new());
    }
    let mut early = here.split_off(cut);
    early.iter_mut().for_each(|s| s.at = to);
    Ok(early)
}

fn onset(
    stroke: &Timed,
    from: Beats,
    drum: &impl Fn(&Played) -> u16,
) -> Result<Onset, ImportError> {
    Ok(Onset {
        at: stroke.at.checked_sub(from)?.max(Beats::ZERO),
        drum: drum(&stroke.played),
        room_us: stroke.played.bounces.map(room_us),
    })
}

impl Stretch {
    /// The stretch on the grid that fits it best; on one that fits exactly,
    /// where that is asked for and there is one.
    pub fn on_grid(
        &self,
        scale: &Scale,
        drum: impl Fn(&Played) -> u16,
        known: &mut Known,
        bar: u32,
        remarks: &mut Remarks,
    ) -> Result<Gridded, ImportError> {
        let onsets: Vec<Onset> = (self.strokes.iter())
            .map(|s| onset(s, self.file_start, &drum))
            .collect::<Result<_, _>>()?;
        let key = (onsets, self.length, self.unit, self.letter.is_some());
        let (grid, slots) = match known.get(&key) {
            Some(known) => known.clone(),
            None => {
                let found = self.best_grid(&key.0, scale, bar, remarks)?;
                known.insert(key, found.clone());
                found
            }
        };
        let bounds = grid.slot_bounds()?;
        let mut off_us = 0;
        for (stroke, slot) in self.strokes.iter().zip(&slots) {
            let into = stroke.played_at.checked_sub(self.file_start)?;
            let off = into.checked_sub(bounds[*slot])?;
            let us = off.to_f64() * f64::from(scale.us_per_quarter);
            off_us = off_us.max(us.abs().round() as i64);
        }
        Ok(Gridded {
            grid,
            slots,
            off_us,
        })
    }

    fn best_grid(
        &self,
        onsets: &[Onset],
        scale: &Scale,
        bar: u32,
        remarks: &mut Remarks,
    ) -> Result<(Grid, Vec<usize>), ImportError> {
        let whole = Span::new(1, self.length).and_then(|span| Grid::new(vec![span]));
        if let (true, Some(grid)) = (onsets.is_empty() && self.letter.is_some(), whole) {
            return Ok((grid, Vec::new()));
        }
        let mut found = None;
        if scale.exact {
            found = exact(onsets, self.length, scale)?;
            if found.is_none() {
                // Two roundings may add up to a tick: of the start and of the
                // stroke.
                let tolerance = scale.tolerance.checked_mul(Beats::whole(2))?;
                found = exact(
                    onsets,
                    self.length,
                    &Scale {
                        tolerance,
                        ..*scale
                    },
                )?;
            }
            if found.is_none() {
                let what = "strokes that lie on no grid a score can write";
                remarks.add(RemarkKind::NotKept, Some(bar), what);
            }
        }
        if found.is_none() {
            let scale = Scale {
                exact: false,
                ..*scale
            };
            found = fit(onsets, self.length, self.unit, &scale)?;
        }
        let Some(Fitted { grid, slots, .. }) = found else {
            return Err(ImportError::TooMuch("a cell that no grid fits".into()));
        };
        Ok((grid, slots))
    }
}
