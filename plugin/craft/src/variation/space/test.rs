//! Counting and numbering against making all cells one by one.

use super::*;
use crate::variation::{Ask, VariationRules};
use barform_score::music::{Articulation, Beats, Cell, Grid, Letter, Limb, Span, Stroke, Voice};

/// A cell on one span of the given slots.
fn cell(slots: Vec<Slot>) -> Cell {
    let span = Span::new(slots.len() as u8, Beats::ONE).unwrap();
    let letter = Letter::new("A").unwrap();
    Cell {
        letter,
        grid: Grid::new(vec![span]).unwrap(),
        slots,
    }
}

/// Every product of the frame's options, tried one by one by the plain meaning
/// of the limits: twice round for a cell that repeats.
fn by_hand(frame: &Frame, same_hand: usize, rests: usize) -> Vec<Vec<Slot>> {
    let mut cells: Vec<Vec<Slot>> = vec![Vec::new()];
    for groups in &frame.slots {
        let options: Vec<&Slot> = groups
            .iter()
            .flat_map(|g| &g.options)
            .map(|fill| &frame.fills[*fill])
            .collect();
        cells = cells
            .iter()
            .flat_map(|c| {
                options
                    .iter()
                    .map(|o| [c.clone(), vec![(*o).clone()]].concat())
            })
            .collect();
    }
    let rounds = if frame.repeats { 3 } else { 1 };
    cells.retain(|cell| {
        let line: Vec<&Slot> = std::iter::repeat_n(cell, rounds).flatten().collect();
        let longest = |hit: &dyn Fn(&Slot) -> bool| {
            line.split(|slot| !hit(slot))
                .map(<[_]>::len)
                .max()
                .unwrap_or(0)
        };
        let plays = |limb: Limb| longest(&|slot: &Slot| slot.iter().any(|s| s.limb == limb));
        plays(Limb::RightHand) <= same_hand
            && plays(Limb::LeftHand) <= same_hand
            && plays(Limb::KickFoot) <= 1
            && longest(&|slot: &Slot| slot.is_empty()) <= rests
            && cell.iter().any(|slot| !slot.is_empty())
    });
    cells
}

#[test]
fn the_count_is_what_making_them_all_gives() {
    let rules = VariationRules::builtin();
    let level = rules.level("beginner").unwrap();
    let r = vec![Stroke::plain(Limb::RightHand)];
    for repeats in [true, false] {
        for n in 1..=5 {
            let original = cell(vec![r.clone(); n]);
            let mut ask = Ask::new(&original, "beginner", 1);
            ask.limbs = vec![Limb::RightHand, Limb::LeftHand, Limb::KickFoot];
            ask.voices = vec![
                (Voice::Snare, Articulation::Plain),
                (Voice::Kick, Articulation::Plain),
            ];
            ask.repeats = repeats;
            let frame = Frame::new(&ask, &rules, level);
            let space = Space::new(&frame).unwrap();
            let mut all = by_hand(&frame, 2, 1);
            assert_eq!(
                space.total,
                BigUint::from(all.len()),
                "{n} slots, repeats {repeats}"
            );
            let mut made: Vec<Vec<Slot>> = (0..all.len())
                .map(|rank| space.cell(BigUint::from(rank)))
                .collect();
            for (rank, slots) in made.iter().enumerate() {
                assert_eq!(space.rank(slots), Some(BigUint::from(rank)));
            }
            let key = |c: &Vec<Slot>| format!("{c:?}");
            made.sort_by_key(key);
            all.sort_by_key(key);
            assert_eq!(made, all);
        }
    }
}
