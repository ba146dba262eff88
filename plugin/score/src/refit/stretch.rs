//! Stretches: the parts between beats that both grids share.

use crate::music::{Beats, BeatsError, Grid};
use std::ops::Range;

/// A part of a cell that begins and ends on a slot of both grids. What a cell
/// plays there is refit on its own, so that every such beat stays in place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stretch {
    /// Slots of the cell as it is.
    pub source: Range<usize>,
    /// Slots of the new grid.
    pub target: Range<usize>,
    /// Whether both grids cut it alike: then every stroke stays where it is.
    pub alike: bool,
}

/// The stretches of a cell on `from` that goes onto `to`, in order. Both grids
/// have the same length; what lies beyond the shorter one is left out.
///
/// They begin where the writer began a span, and inside a span of several
/// whole beats on each beat, as far as both grids have a slot there.
///
/// # Errors
/// [`BeatsError::Overflow`] if the exact positions do not fit.
pub fn stretches(from: &Grid, to: &Grid) -> Result<Vec<Stretch>, BeatsError> {
    let (source, target) = (from.slot_bounds()?, to.slot_bounds()?);
    let mut found = Vec::new();
    let (mut last_source, mut last_target) = (0, 0);
    let mut close = |s: usize, t: usize| {
        let cut = |bounds: &[Beats], range: Range<usize>| bounds[range].to_vec();
        let alike = cut(&source, last_source..s + 1) == cut(&target, last_target..t + 1);
        found.push(Stretch {
            source: last_source..s,
            target: last_target..t,
            alike,
        });
        (last_source, last_target) = (s, t);
    };
    for beat in beats(from)? {
        if let (Ok(s), Ok(t)) = (source.binary_search(&beat), target.binary_search(&beat))
            && s > 0
            && t > 0
        {
            close(s, t);
        }
    }
    Ok(found)
}

/// Where a cell's beats end by its grid: each span's end, and inside a span of
/// several whole beats every beat.
pub(super) fn beats(grid: &Grid) -> Result<Vec<Beats>, BeatsError> {
    let mut ends = Vec::new();
    let mut start = Beats::ZERO;
    for span in grid.spans() {
        // A span with more beats than slots has nothing to cut there.
        let inner = if span.length.is_whole() {
            span.length.numer()
        } else {
            1
        };
        if inner <= i64::from(span.slots) {
            for beat in 1..inner {
                ends.push(start.checked_add(Beats::whole(beat))?);
            }
        }
        start = start.checked_add(span.length)?;
        ends.push(start);
    }
    Ok(ends)
}
