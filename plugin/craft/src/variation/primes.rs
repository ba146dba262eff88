//! Primes worked out by rule: displaced, reversed, hands inverted. Each keeps
//! the grid and can be undone.

use super::primed;
use barform_score::music::{Cell, Graces, Hand, Limb, Slot, Stroke};

/// Every stroke `slots` slots later, what falls off the end starting over from
/// the first slot; negative is earlier. By all slots is the identity. On a
/// mixed grid strokes move by slots, not by time.
pub fn displaced(cell: &Cell, slots: i64) -> Cell {
    let mut moved = cell.slots.clone();
    if let Ok(count) = i64::try_from(moved.len())
        && count > 0
    {
        // In 0 .. count, so it fits.
        moved.rotate_right(slots.rem_euclid(count) as usize);
    }
    with_slots(cell, moved)
}

/// The strokes in reverse order on the same grid. A grace note stays ahead of
/// its stroke.
pub fn reversed(cell: &Cell) -> Cell {
    with_slots(cell, cell.slots.iter().rev().cloned().collect())
}

/// Right for left and left for right, grace notes too; the feet stay.
pub fn inverted(cell: &Cell) -> Cell {
    let other = |limb: Limb| limb.hand().map_or(limb, |hand| hand.other().into());
    let invert = |stroke: &Stroke| {
        let hands: Vec<Hand> = stroke.graces.iter().map(Hand::other).collect();
        Stroke {
            limb: other(stroke.limb),
            // As many as there were: they fit.
            graces: Graces::from_hands(&hands).unwrap_or(stroke.graces),
            ..*stroke
        }
    };
    let slots = cell
        .slots
        .iter()
        .map(|slot| slot.iter().map(invert).collect());
    with_slots(cell, slots.collect())
}

fn with_slots(cell: &Cell, slots: Vec<Slot>) -> Cell {
    Cell {
        letter: primed(&cell.letter),
        grid: cell.grid.clone(),
        slots,
    }
}
