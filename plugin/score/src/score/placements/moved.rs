//! A cell on another subdivision, and on other voices.

use super::super::check::{Size, shortest_allowed, size};
use super::super::error::{Mend, ScoreErrorKind as Kind, beats, brief};
use super::super::limits::{MAX_CELL_BEATS, MAX_SLOTS};
use super::super::model::Voicing;
use crate::music::{Articulation, Beats, Cell, Fit, RefitError, Subdivision};

/// The cell on another subdivision, if that is within the limits.
pub(super) fn moved(cell: &Cell, subdivision: &Subdivision, fit: Fit) -> Result<Cell, Kind> {
    let pattern = &subdivision.0;
    let length = cell.grid.length().unwrap_or(Beats::ZERO);
    let refuse = |why: String, mend: Option<String>| Kind::Refit {
        letter: cell.letter.clone(),
        length,
        subdivision: brief(&subdivision.to_string()),
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
        Err(Size::Short(slot)) => Err(refuse(
            format!(
                "slots of {}; {} is allowed",
                beats(slot),
                shortest_allowed()
            ),
            None,
        )),
        Err(Size::Overflow) => Err(overflow()),
    }
}

/// Plays the strokes on other voices. A stroke keeps its articulation where the
/// voicing names none and the new voice has it.
pub(super) fn revoice(cell: &mut Cell, voicing: &Voicing) {
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
