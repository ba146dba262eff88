//! The opening figure: the first strokes, by which a cell is recognised.

use super::stretch::beats;
use crate::music::{Articulation, BeatsError, Cell, Limb, Slot, Voice};

/// Number of slots of a cell's opening figure, `1 ..= most` (0 for a cell
/// without slots).
///
/// It lies within the first beat. If the beat's strokes start over within
/// themselves (`R L K R L K`), it is what starts over, up to the first hand that
/// moves to another voice; else it is the first half of the beat.
///
/// # Errors
/// [`BeatsError::Overflow`] if the exact positions do not fit.
pub fn opening_figure(cell: &Cell, most: u32) -> Result<usize, BeatsError> {
    let bounds = cell.grid.slot_bounds()?;
    let end = beats(&cell.grid)?
        .into_iter()
        .find_map(|b| bounds.binary_search(&b).ok());
    let slots = &cell.slots[..end.unwrap_or(cell.slots.len()).min(cell.slots.len())];
    Ok(figure(slots).min(most as usize))
}

/// The figure of one beat's slots; see [`opening_figure`].
fn figure(slots: &[Slot]) -> usize {
    if slots.is_empty() {
        return 0;
    }
    if let Some(period) = period(slots, struck) {
        return period;
    }
    let half = slots.len().div_ceil(2);
    let Some(period) = period(slots, |slot| {
        slot.iter().map(|s| s.limb).collect::<Vec<_>>()
    }) else {
        return half;
    };
    let first = hand_voices(&slots[0]);
    let moved = slots.iter().position(|slot| {
        let here = hand_voices(slot);
        !here.is_empty() && here != first
    });
    moved.unwrap_or(period).clamp(1, period)
}

/// What is struck on a slot and with which limbs, however loud.
pub(super) fn struck(slot: &Slot) -> Vec<(Limb, Voice, Articulation)> {
    slot.iter()
        .map(|s| (s.limb, s.voice, s.articulation))
        .collect()
}

/// What the hands strike on a slot; empty where they rest.
pub(super) fn hand_voices(slot: &Slot) -> Vec<Voice> {
    slot.iter()
        .filter(|s| s.limb.hand().is_some())
        .map(|s| s.voice)
        .collect()
}

/// The shortest length, at most half, after which the slots start over.
pub(super) fn period<T: PartialEq>(slots: &[Slot], of: impl Fn(&Slot) -> T) -> Option<usize> {
    let seen: Vec<T> = slots.iter().map(of).collect();
    (1..=slots.len() / 2).find(|p| seen[*p..].iter().zip(&seen).all(|(a, b)| a == b))
}
