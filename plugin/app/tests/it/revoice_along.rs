//! A cell's hands on other voices of the same kit: there and back, and what never
//! moves.

use crate::craft_cells;

use barform_app::craft::revoice::{along, hand_on};
use barform_app::music::{Articulation, Cell, Hand, Kit, Limb, Stroke, Voice};
use craft_cells::{cell, strokes};
use proptest::collection::vec;
use proptest::prelude::*;

/// The drums of the General MIDI kit in its order round it.
const DRUMS: [Voice; 5] = [
    Voice::Snare,
    Voice::Tom1,
    Voice::Tom2,
    Voice::Tom3,
    Voice::Tom4,
];

fn order() -> Vec<Voice> {
    Kit::general_midi().order
}

/// Eight slots of hands anywhere and of feet on their pedals.
fn any_cell() -> impl Strategy<Value = Cell> {
    let slot = (0_usize..4, 0_usize..16).prop_map(|(limb, voice)| {
        let stroke = Stroke::plain(Limb::ALL[limb]);
        let voice = Voice::ALL[voice];
        let hand = !stroke.limb.is_foot() && !matches!(voice, Voice::Kick | Voice::HatFoot);
        vec![Stroke {
            voice: if hand { voice } else { stroke.voice },
            ..stroke
        }]
    });
    vec(slot, 8).prop_map(|slots| Cell {
        slots,
        ..cell("8", "- - - - - - - -")
    })
}

proptest! {
    #[test]
    fn so_many_drums_on_and_back_is_the_cell(cell in any_cell(), steps in -12_i64..12) {
        let moved = along(&cell, &order(), steps);
        prop_assert_eq!(along(&moved, &order(), -steps), cell.clone());
        // Once all the way round.
        prop_assert_eq!(along(&cell, &order(), 5), cell);
    }

    #[test]
    fn each_drum_goes_to_the_one_so_far_round_and_nothing_else_moves(
        cell in any_cell(),
        steps in -12_i64..12,
    ) {
        let moved = along(&cell, &order(), steps);
        for (was, is) in cell.slots.iter().flatten().zip(moved.slots.iter().flatten()) {
            let drum = DRUMS.iter().position(|drum| *drum == was.voice);
            let to = match drum {
                Some(at) => DRUMS[(at as i64 + steps).rem_euclid(5) as usize],
                None => was.voice,
            };
            prop_assert_eq!(*is, Stroke { voice: to, ..*was });
        }
    }

    #[test]
    fn one_hand_goes_and_the_other_stays(cell in any_cell(), right in any::<bool>()) {
        let hand = if right { Hand::Right } else { Hand::Left };
        let moved = hand_on(&cell, hand, Voice::Ride);
        for (was, is) in cell.slots.iter().flatten().zip(moved.slots.iter().flatten()) {
            let own = was.limb.hand() == Some(hand);
            let to = if own { Voice::Ride } else { was.voice };
            prop_assert_eq!(*is, Stroke { voice: to, ..*was });
        }
    }
}

#[test]
fn a_figure_goes_round_the_toms_as_written() {
    let figure = cell("6", "R> L K R:tom2 (L):tom4 R:ride");
    let moved = along(&figure, &order(), 1);
    assert_eq!(strokes(&moved), "R>:tom1 L:tom1 K R:tom3 (L) R:ride");
}

#[test]
fn a_stroke_is_struck_the_same_way_where_its_new_drum_has_it() {
    let mut figure = cell("2", "R L");
    figure.slots[0][0].articulation = Articulation::Rim;
    figure.slots[1][0].articulation = Articulation::Cross;
    let moved = along(&figure, &order(), 1);
    let ways: Vec<Articulation> = moved
        .slots
        .iter()
        .flatten()
        .map(|s| s.articulation)
        .collect();
    // A tom has a rim, but no cross-stick.
    assert_eq!(ways, [Articulation::Rim, Articulation::Plain]);
}

#[test]
fn a_kit_without_drums_leaves_the_cell_alone() {
    let figure = cell("2", "R L");
    assert_eq!(along(&figure, &[Voice::Ride], 1), figure);
    assert_eq!(along(&figure, &[], 1), figure);
}
