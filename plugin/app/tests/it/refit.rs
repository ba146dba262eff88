//! A cell on another subdivision: what stays, what it costs, and why.

use crate::craft_cells;

use barform_app::craft::refit::*;
use barform_app::music::*;
use craft_cells::*;
use proptest::prelude::*;

fn per_beat(n: u8) -> Subdivision {
    Subdivision(Grid::per_beat(n).unwrap())
}

fn on(on: &str, written: &str, to: &str) -> String {
    strokes(
        &refit(&cell(on, written), &Subdivision(grid(to)))
            .unwrap()
            .cell,
    )
}

/// Percussive Arts Society, *International Drum Rudiments*, nos. 16 to 18, from
/// memory: the single, double and triple paradiddle are one figure with one,
/// two or three pairs of singles ahead of the double.
#[test]
fn a_paradiddle_gains_its_singles() {
    let single = "R> L R R L> R L L";
    assert_eq!(
        on("4 4", single, "6"),
        "R> L R L R R L> R L R L L",
        "double paradiddle"
    );
    assert_eq!(
        on("4 4", single, "8"),
        "R> L R L R L R R L> R L R L R L L",
        "triple paradiddle"
    );
}

/// Hand-worked, common practice.
#[test]
fn a_run_round_the_kit_keeps_its_drums_on_their_beats() {
    let run = "R L R L R:tom1 L:tom1 R:tom1 L:tom1 R:tom2 L:tom2 R:tom2 L:tom2";
    assert_eq!(
        on("4 4 4", run, "6"),
        "R L R L R L R:tom1 L:tom1 R:tom1 L:tom1 R:tom1 L:tom1 \
         R:tom2 L:tom2 R:tom2 L:tom2 R:tom2 L:tom2"
    );
    // An odd number on each beat: the lead changes hands, the drums do not.
    assert_eq!(
        on("4 4 4", run, "3"),
        "R L R L:tom1 R:tom1 L:tom1 R:tom2 L:tom2 R:tom2"
    );
    assert_eq!(
        on("4", "R L:tom1 R:tom2 L:tom3", "8"),
        "R L R:tom1 L:tom1 R:tom2 L:tom2 R:tom3 L:tom3"
    );
}

/// Hand-worked, common practice: three in the time of sixteenth-triplets become
/// the three-three-two of 32nds, and no grid doubles the foot.
#[test]
fn a_hand_hand_foot_figure() {
    let figure = "R L K R:tom1 L:tom1 K";
    assert_eq!(on("6", figure, "8"), "R L K R:tom1 L:tom1 K R:tom1 L:tom1");
    assert_eq!(
        on("6", figure, "9"),
        "R L K R:tom1 L:tom1 K R:tom1 L:tom1 K"
    );
    assert_eq!(on("6", figure, "3"), "R L K");
    for n in 2..=9 {
        assert!(!on("6", figure, &n.to_string()).contains("K K"), "on {n}");
    }
}

#[test]
fn one_hand_gets_help_and_one_foot_gets_rests() {
    assert_eq!(
        on("2 2", "R:hat R:hat R:hat R:hat", "4"),
        "R:hat L:hat R:hat L:hat R:hat L:hat R:hat L:hat"
    );
    assert_eq!(on("1", "K", "4"), "K - - -");
    assert_eq!(on("1", "R", "3"), "R L R");
}

#[test]
fn mixed_and_fractional_grids() {
    // A beat and a half.
    assert_eq!(on("3@3/2", "R L R", "4"), "R L R L R L");
    // An eighth and a triplet onto four: as many slots, so all strokes stay.
    assert_eq!(on("1@1/2 3@1/2", "R L R L", "4"), "R L R L");
    let fails = refit(&cell("1@1/2", "R"), &per_beat(3)).unwrap_err();
    assert!(matches!(fails, RefitError::NoWholeSlots { .. }), "{fails}");
    assert_eq!(
        fails.to_string(),
        "1/2 beats are no whole number of slots of '3'"
    );
}

#[test]
fn flams_change_hands_with_their_stroke() {
    let mut run = cell("4 4 4", "R L R L R L R L R L R L");
    run.slots[4][0].graces = Graces::from_hands(&[Hand::Left]).unwrap();
    let on_three = refit(&run, &per_beat(3)).unwrap().cell;
    assert_eq!(strokes(&on_three), "R L R L R L R L R");
    let graces: Vec<Hand> = on_three.slots[3][0].graces.iter().collect();
    assert_eq!(graces, [Hand::Right], "the grace note is on the other hand");
}

#[test]
fn every_choice_is_told_in_one_line() {
    let figure = cell("6", "R L K R:tom1 L:tom1 K");
    let told = |n| {
        let refitted = refit(&figure, &per_beat(n)).unwrap();
        refitted
            .choices
            .iter()
            .map(Choice::to_string)
            .collect::<Vec<_>>()
    };
    assert_eq!(told(6)[3], "slot 4 from 4: stays in its place");
    let eight = told(8);
    assert_eq!(eight[0], "slot 1 from 1: the opening figure stays");
    assert_eq!(eight[3], "slot 4 from 4: comes next");
    assert_eq!(eight[6], "slot 7 from 4: a passage begins again");
    assert_eq!(eight[7], "slot 8 from 5: the passage goes on");
    let run = cell("4 4 4", "R L R L R L R L R L R L");
    let three = refit(&run, &per_beat(3)).unwrap().choices;
    assert_eq!(
        three[3].to_string(),
        "slot 4 from 5: on the beat; L plays it, to keep the sticking no harder than the cell's"
    );
}

#[test]
fn opening_figures() {
    for (grid, written, slots) in [
        ("6", "R L K R:tom1 L:tom1 K", 3),
        ("6", "R L K R L K", 3),
        ("4 4", "R L R R L R L L", 2),
        ("4", "R L:tom1 R:tom2 L:tom3", 1),
        ("4", "R L R:tom1 L:tom1", 2),
        ("4", "R R R R", 1),
        ("4", "R L:hat R L:hat", 2),
        ("9", "R L R L R L R L K", 4),
    ] {
        assert_eq!(
            opening_figure(&cell(grid, written), 4).unwrap(),
            slots,
            "{written}"
        );
    }
}

/// A pattern that runs on across cell joins.
#[test]
fn a_pattern_across_joins() {
    let pattern = Subdivision(grid("4 4 6 6"));
    let one = cell("4", "R L R L");
    let two = cell("6 6", "R L R L R L R L R L R L");
    let cells = [one.clone(), two, one];
    let moved = refit_across(RefitRules::builtin(), &cells, &pattern, Beats::ZERO).unwrap();
    let grids: Vec<String> = moved.iter().map(|r| r.cell.grid.to_string()).collect();
    assert_eq!(grids, ["4", "4 6", "6"]);
    assert_eq!(
        window(&pattern.0, Beats::new(7, 2), Beats::ONE)
            .unwrap()
            .to_string(),
        "3@1/2 2@1/2"
    );
    assert!(window(&pattern.0, Beats::new(1, 3), Beats::ONE).is_err());
    assert!(window(&pattern.0, Beats::ZERO, Beats::ZERO).is_err());
}

#[test]
fn rule_sets_are_checked() {
    let text = include_str!("../../../score/src/refit/data/refit.toml");
    assert_eq!(&RefitRules::from_toml(text).unwrap(), RefitRules::builtin());
    let told = |from: &str, to: &str| {
        assert!(text.contains(from), "{from}");
        RefitRules::from_toml(&text.replacen(from, to, 1))
            .unwrap_err()
            .to_string()
    };
    assert_eq!(
        told("turn_back = 60", "turn_back = 1001"),
        "refit rules: again.turn_back is 1001; allowed are 0 to 1000"
    );
    assert_eq!(
        told("alone = 3", "alone = 1"),
        "refit rules: sticking.alone is 1; allowed are 2 to 64"
    );
    assert!(told("moved = 3", "movd = 3").contains("movd"));
    assert!(told("moved = 3", "").contains("moved"));
    assert!(told("moved = 3", "moved = -1").contains("moved"));
    assert!(told("\"ride\"", "\"gong\"").contains("'gong'"));
    // Rules are data: where turning back costs nothing and time is dear, a run
    // starts over instead.
    let other = text.replacen("figure = 4 ", "figure = 400 ", 1);
    let other = RefitRules::from_toml(&other).unwrap();
    let figure = cell("6", "R L K R:tom1 L:tom1 K");
    let by = |rules| refit_by(rules, &figure, &per_beat(8)).unwrap().cell;
    assert_ne!(by(&other), by(RefitRules::builtin()));
}

/// Longest row of a limb that reaches into the slots `from .. to` of a cell,
/// as the measure in `craft::refit::level` is worded.
fn longest_row(cell: &Cell, limb: Limb, from: usize, to: usize, new_slot: Beats) -> usize {
    let at = cell.grid.slot_bounds().unwrap();
    let played: Vec<usize> = (0..cell.slots.len())
        .filter(|i| cell.slots[*i].iter().any(|s| s.limb == limb))
        .collect();
    let follows = |a: usize, b: usize| {
        let gap = at[b].checked_sub(at[a]).unwrap();
        b == a + 1 || (gap <= new_slot && cell.slots[a + 1..b].iter().all(|s| s.is_empty()))
    };
    let rows = played.chunk_by(|a, b| follows(*a, *b));
    let reach = rows.filter(|r| r[r.len() - 1] >= from && r[0] < to);
    reach.map(|r| r.len()).max().unwrap_or(0)
}

/// Whether every row of the refit is at the level of the cell, place by place.
fn at_level(cell: &Cell, new: &Cell) -> Result<(), String> {
    let bounds = new.grid.slot_bounds().unwrap();
    for stretch in stretches(&cell.grid, &new.grid).unwrap() {
        let slots = stretch.target.clone();
        let new_slot = slots
            .clone()
            .map(|j| bounds[j + 1].checked_sub(bounds[j]).unwrap());
        let new_slot = new_slot.min().unwrap();
        for limb in Limb::ALL {
            let (from, to) = (stretch.source.start, stretch.source.end);
            let most = longest_row(cell, limb, from, to, new_slot).max(1);
            for j in slots.clone() {
                let plays = |i: &usize| new.slots[*i].iter().any(|s| s.limb == limb);
                let row = (0..=j).rev().take_while(plays).count();
                if row > most {
                    return Err(format!(
                        "{limb:?} {row} in a row on slot {j}, {most} in the cell"
                    ));
                }
            }
        }
    }
    Ok(())
}

fn any_slot() -> impl Strategy<Value = Slot> {
    let voices = vec![
        Voice::Snare,
        Voice::Tom1,
        Voice::Tom2,
        Voice::Tom3,
        Voice::Hat,
        Voice::Ride,
    ];
    let levels = vec![Level::Ghost, Level::Normal, Level::Normal, Level::Accent];
    let hand = (
        prop_oneof![Just(Limb::RightHand), Just(Limb::LeftHand)],
        proptest::sample::select(voices),
        proptest::sample::select(levels),
    );
    let hand = hand.prop_map(|(limb, voice, level)| Stroke {
        voice,
        level,
        ..Stroke::plain(limb)
    });
    let foot = prop_oneof![Just(Limb::KickFoot), Just(Limb::HatFoot)].prop_map(Stroke::plain);
    prop_oneof![
        1 => Just(vec![]),
        6 => hand.clone().prop_map(|s| vec![s]),
        2 => foot.clone().prop_map(|s| vec![s]),
        1 => (hand.clone(), foot).prop_map(|(h, f)| vec![h, f]),
        1 => hand.prop_map(|h| {
            let other: Limb = h.limb.hand().unwrap().other().into();
            vec![h, Stroke { limb: other, ..h }]
        }),
    ]
}

/// A cell on a grid of 2 to 9 a beat, of one to three beats, or on a mixed grid
/// of those.
fn any_cell() -> impl Strategy<Value = Cell> {
    let even = (2u8..=9, 1usize..=3).prop_map(|(n, beats)| vec![n; beats]);
    let mixed = proptest::collection::vec(2u8..=9, 1..=4);
    let grid = prop_oneof![3 => even, 1 => mixed];
    grid.prop_flat_map(|beats| {
        let slots = beats.iter().map(|n| usize::from(*n)).sum::<usize>();
        let spans = beats
            .iter()
            .map(|n| Span::new(*n, Beats::ONE).unwrap())
            .collect();
        let grid = Grid::new(spans).unwrap();
        proptest::collection::vec(any_slot(), slots).prop_map(move |slots| Cell {
            letter: Letter::new("A").unwrap(),
            grid: grid.clone(),
            slots,
        })
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    #[test]
    fn between_all_grids_2_to_9(cell in any_cell()) {
        let figure = opening_figure(&cell, 4).unwrap();
        prop_assert!(figure >= 1);
        for n in 2..=9 {
            let Refitted { cell: new, choices } = refit(&cell, &per_beat(n)).unwrap();
            prop_assert_eq!(new.grid.length().unwrap(), cell.grid.length().unwrap());
            prop_assert_eq!(new.slots.len(), new.grid.slot_count());
            prop_assert_eq!(choices.len(), new.slots.len());
            let kept = figure.min(usize::from(n));
            prop_assert_eq!(&new.slots[..kept], &cell.slots[..kept], "on {}", n);
            let level = at_level(&cell, &new);
            prop_assert!(level.is_ok(), "on {}: {:?} {}", n, level, strokes(&new));
            // No stroke from nowhere: what sounds is what the named slot has,
            // but for the hand and for strokes said to be left out.
            for (slot, choice) in new.slots.iter().zip(&choices) {
                let from = choice.from.map_or(Slot::new(), |i| cell.slots[i].clone());
                prop_assert_eq!(slot.len() + choice.left_out.len(), from.len());
                let sound = |s: &Stroke| (s.voice, s.articulation, s.level, s.graces.len());
                let left = from.iter().filter(|s| !choice.left_out.contains(&s.limb));
                prop_assert!(left.map(sound).eq(slot.iter().map(sound)));
                prop_assert!(!choice.to_string().contains('\n'));
            }
            // On each beat of one stretch: every slot in order on a finer grid.
            for stretch in stretches(&cell.grid, &new.grid).unwrap() {
                let taken: Vec<usize> =
                    choices[stretch.target.clone()].iter().filter_map(|c| c.from).collect();
                prop_assert_eq!(taken.first(), Some(&stretch.source.start));
                if stretch.target.len() >= stretch.source.len() {
                    for slot in stretch.source.clone() {
                        prop_assert!(taken.contains(&slot), "slot {} lost on {}", slot, n);
                    }
                } else {
                    prop_assert!(taken.windows(2).all(|w| w[0] < w[1]), "{:?}", taken);
                }
            }
        }
    }

    #[test]
    fn onto_the_own_grid_nothing_changes(cell in any_cell()) {
        let own = refit(&cell, &Subdivision(cell.grid.clone())).unwrap();
        prop_assert_eq!(&own.cell, &cell);
        prop_assert!(own.choices.iter().all(|c| c.hand.is_none() && c.left_out.is_empty()));
    }

    /// Across joins, the lengths and so the joins stay, and the grids together
    /// are the pattern.
    #[test]
    fn across_joins_the_pattern_runs_on(
        cells in proptest::collection::vec(any_cell(), 1..5),
        beats in proptest::collection::vec(2u8..=9, 1..5),
    ) {
        let spans = beats.iter().map(|n| Span::new(*n, Beats::ONE).unwrap()).collect();
        let pattern = Grid::new(spans).unwrap();
        let rules = RefitRules::builtin();
        let moved =
            refit_across(rules, &cells, &Subdivision(pattern.clone()), Beats::ZERO).unwrap();
        let mut spans = Vec::new();
        for (new, old) in moved.iter().zip(&cells) {
            prop_assert_eq!(new.cell.grid.length().unwrap(), old.grid.length().unwrap());
            prop_assert!(at_level(old, &new.cell).is_ok());
            spans.extend_from_slice(new.cell.grid.spans());
        }
        let total = Grid::new(spans.clone()).unwrap().length().unwrap();
        prop_assert_eq!(Grid::new(spans).unwrap(), pattern.tile_to_length(total).unwrap());
    }
}
