//! A cell on another kit: the way round it, what is played instead, and whether
//! it comes back.

use crate::craft_cells;

use barform_app::craft::revoice::*;
use barform_app::music::*;
use craft_cells::*;
use proptest::prelude::*;

const TOMS: [Voice; 6] = [
    Voice::Tom1,
    Voice::Tom2,
    Voice::Tom3,
    Voice::Tom4,
    Voice::Tom5,
    Voice::Tom6,
];

fn kit(toms: usize) -> Setup {
    let mut order = vec![Voice::Hat, Voice::Snare];
    order.extend(&TOMS[..toms]);
    order.extend([Voice::Ride, Voice::Crash, Voice::Splash]);
    Setup::new(&order, Pedals::ALL)
}

fn moved(on: &str, written: &str, from: &Setup, to: &Setup) -> (String, bool) {
    let moved = revoice(&cell(on, written), from, to).unwrap();
    (strokes(&moved.cell), moved.reversible)
}

/// Hand-worked, common practice.
#[test]
fn five_toms_to_two_and_two_to_five() {
    let five = "R:tom1 L:tom2 R:tom3 L:tom4 R:tom5";
    let two = "R:tom1 L:tom1 R:tom1 L:tom2 R:tom2";
    assert_eq!(moved("5", five, &kit(5), &kit(2)), (two.into(), true));
    assert_eq!(moved("5", two, &kit(2), &kit(5)).0, five);
    let up = "R:tom5 L:tom4 R:tom3 L:tom2 R:tom1";
    assert_eq!(
        moved("5", up, &kit(5), &kit(2)).0,
        "R:tom2 L:tom2 R:tom2 L:tom1 R:tom1"
    );
    // Eight sixteenths down two toms, over five.
    assert_eq!(
        moved(
            "4 4",
            "R:tom1 L:tom1 R:tom1 L:tom1 R:tom2 L:tom2 R:tom2 L:tom2",
            &kit(2),
            &kit(5)
        )
        .0,
        "R:tom1 L:tom1 R:tom2 L:tom2 R:tom3 L:tom3 R:tom4 L:tom5"
    );
}

#[test]
fn feet_and_the_snare_in_a_run_stay() {
    assert_eq!(
        moved("6", "R:tom1 L:tom2 K R:tom3 L:tom4 K", &kit(4), &kit(2)).0,
        "R:tom1 L:tom1 K R:tom2 L:tom2 K"
    );
    assert_eq!(
        moved("4", "R L:tom1 R:tom2 L:tom3", &kit(3), &kit(2)).0,
        "R L:tom1 R:tom1 L:tom2"
    );
}

/// Two of five toms have two of their own on a small kit, and come back.
#[test]
fn toms_that_have_one_of_their_own_keep_their_strokes() {
    let uneven = "R:tom1 L:tom1 R:tom1 L:tom2";
    assert_eq!(moved("4", uneven, &kit(5), &kit(2)), (uneven.into(), false));
    let ends = "R:tom1 L:tom1 R:tom1 L:tom5";
    assert_eq!(moved("4", ends, &kit(5), &kit(2)), (uneven.into(), false));
}

/// Of the two ways to share five strokes, the one that keeps the double whole.
#[test]
fn doubles_are_not_split() {
    assert_eq!(
        moved("5", "R:tom1 L:tom2 R:tom3 R:tom4 L:tom5", &kit(5), &kit(2)).0,
        "R:tom1 L:tom1 R:tom2 R:tom2 L:tom2"
    );
}

#[test]
fn what_is_missing_is_played_on_the_next_best() {
    let bare = Setup::new(&[Voice::Snare, Voice::Hat, Voice::Crash], Pedals::TWO);
    assert_eq!(
        moved("4", "R:ride L:splash R:tom1 L:tom2", &kit(2), &bare),
        ("R:hat L:crash R L".into(), false)
    );
    let mut bell = cell("1", "R:ride");
    bell.slots[0][0].articulation = Articulation::Bell;
    let on_hat = revoice(&bell, &kit(2), &bare).unwrap();
    let stroke = on_hat.cell.slots[0][0];
    assert_eq!(
        (stroke.voice, stroke.articulation),
        (Voice::Hat, Articulation::Bell)
    );
    assert_eq!(
        on_hat.changes[0].to_string(),
        "slot 1 R: ride:bell to hat:bell, the kit has none"
    );
    assert!(
        !on_hat.reversible,
        "on the kit with both, the bell stays on the hi-hat"
    );
}

#[test]
fn one_pedal_only() {
    let order = [Voice::Hat, Voice::Snare, Voice::Tom1];
    let (all, one) = (
        Setup::new(&order, Pedals::ALL),
        Setup::new(&order, Pedals::ONE),
    );
    let played = revoice(&cell("8", "K H:kick K R H:kick L H R"), &all, &one).unwrap();
    // Between two kicks the second foot's is left out; on its own the first
    // foot plays it; the hi-hat has no pedal.
    assert_eq!(strokes(&played.cell), "K - K R K L - R");
    let told: Vec<String> = played.changes.iter().map(Change::to_string).collect();
    assert_eq!(
        told,
        [
            "slot 2 H: kick is left out, there is one pedal and its foot is busy",
            "slot 5 H: kick to kick, with the other foot: there is one pedal",
            "slot 7 H: hatfoot is left out, the kit has none",
        ]
    );
    assert!(!played.reversible);
}

#[test]
fn the_kit_of_a_score_is_its_order() {
    let setup = Setup::of(&Kit::general_midi(), Pedals::TWO);
    assert_eq!(setup.toms(), &TOMS[..4]);
    assert!(setup.has(Voice::Kick) && setup.has(Voice::Ride) && !setup.has(Voice::Cowbell));
}

#[test]
fn re_voicing_rules_are_checked() {
    let text = include_str!("../../../craft/src/data/revoice.toml");
    assert_eq!(
        &RevoiceRules::from_toml(text).unwrap(),
        RevoiceRules::builtin()
    );
    let told = |from: &str, to: &str| {
        assert!(text.contains(from), "{from}");
        RevoiceRules::from_toml(&text.replacen(from, to, 1))
            .unwrap_err()
            .to_string()
    };
    assert_eq!(
        told("tom = [\"snare\"]", "tom = [\"gong\"]"),
        "re-voicing rules: instead.tom: 'gong' is no voice; allowed are voices such as ride"
    );
    assert_eq!(
        told("\"hat:bell\"", "\"hat:choke\""),
        "re-voicing rules: instead.ride:bell: 'hat:choke' is not a way to strike that voice"
    );
    assert_eq!(
        told("kick = []", "kick = [\"snare\"]"),
        "re-voicing rules: instead.kick: 'snare' is played with other limbs; feet stay feet, hands stay hands"
    );
    assert_eq!(
        told("kick = []", ""),
        "re-voicing rules: instead.kick is missing; [] leaves its strokes out"
    );
    assert_eq!(
        told("\"1\"", "\"65\""),
        "re-voicing rules: run.most_gap is 65; allowed are beats above 0, up to 64"
    );
    assert!(told("most_gap", "most_gapp").contains("most_gapp"));
    let other = text.replacen("ride = [\"hat\", ", "ride = [\"cowbell\", \"hat\", ", 1);
    let other = RevoiceRules::from_toml(&other).unwrap();
    let small = Setup::new(&[Voice::Hat, Voice::Cowbell], Pedals::ONE);
    let ride = cell("1", "R:ride");
    let by = |rules| strokes(&revoice_by(rules, &ride, &kit(2), &small).unwrap().cell);
    assert_eq!(
        (by(&other), by(RevoiceRules::builtin())),
        ("R:cowbell".into(), "R:hat".into())
    );
}

fn any_setup() -> impl Strategy<Value = Setup> {
    let others = [
        Voice::Snare,
        Voice::Hat,
        Voice::Ride,
        Voice::Crash,
        Voice::Splash,
        Voice::China,
    ];
    let others = proptest::sample::subsequence(others.to_vec(), 0..=6);
    let pedals = prop_oneof![Just(Pedals::ALL), Just(Pedals::TWO), Just(Pedals::ONE)];
    (0usize..=6, others, pedals).prop_map(|(toms, others, pedals)| {
        let order: Vec<Voice> = others
            .into_iter()
            .chain(TOMS[..toms].iter().copied())
            .collect();
        Setup::new(&order, pedals)
    })
}

/// A kit, a cell that it can play, and another kit.
fn any_case() -> impl Strategy<Value = (Setup, Cell, Setup)> {
    let plays = any_setup().prop_filter("hands need a voice", |s| {
        Voice::ALL
            .into_iter()
            .any(|v| s.has(v) && !matches!(v, Voice::Kick | Voice::HatFoot))
    });
    (plays, any_setup(), 1usize..=4, 2u8..=8).prop_flat_map(|(from, to, beats, n)| {
        let foot = |v: &Voice| matches!(v, Voice::Kick | Voice::HatFoot);
        let voices: Vec<Voice> = Voice::ALL
            .into_iter()
            .filter(|v| from.has(*v) && !foot(v))
            .collect();
        let toms = from.toms();
        // Mostly toms, so that there are runs.
        let toms = if toms.is_empty() {
            voices.clone()
        } else {
            toms
        };
        let voice = prop_oneof![
            4 => proptest::sample::select(toms),
            1 => proptest::sample::select(voices),
        ];
        let hand = (
            prop_oneof![Just(Limb::RightHand), Just(Limb::LeftHand)],
            voice,
        )
            .prop_map(|(limb, voice)| {
                vec![Stroke {
                    voice,
                    ..Stroke::plain(limb)
                }]
            });
        let slot = prop_oneof![
            5 => hand,
            1 => Just(vec![Stroke::plain(Limb::KickFoot)]),
            1 => Just(vec![]),
        ];
        let grid = Grid::new(vec![Span::new(n, Beats::ONE).unwrap(); beats]).unwrap();
        proptest::collection::vec(slot, usize::from(n) * beats).prop_map(move |slots| {
            let cell = Cell {
                letter: Letter::new("A").unwrap(),
                grid: grid.clone(),
                slots,
            };
            (from.clone(), cell, to.clone())
        })
    })
}

/// Strokes on toms, one at most on a slot: slot and place round the kit.
fn way(cell: &Cell, toms: &[Voice]) -> Vec<(usize, usize)> {
    let place = |slot: &Slot| {
        slot.iter()
            .find_map(|s| toms.iter().position(|t| *t == s.voice))
    };
    cell.slots
        .iter()
        .enumerate()
        .filter_map(|(i, s)| Some((i, place(s)?)))
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    #[test]
    fn the_way_round_the_kit_stays((from, cell, to) in any_case()) {
        let new = revoice(&cell, &from, &to).unwrap();
        for (slot, (old_slot, new_slot)) in cell.slots.iter().zip(&new.cell.slots).enumerate() {
            for stroke in new_slot {
                prop_assert!(to.has(stroke.voice), "{:?} on slot {}", stroke.voice, slot);
                prop_assert!(stroke.voice.articulations().contains(&stroke.articulation));
            }
            // The limbs are the same, so no hand has more in a row.
            let left = new.changes.iter().filter(|c| c.slot == slot && c.to.is_none()).count();
            prop_assert_eq!(old_slot.len(), new_slot.len() + left);
            if left == 0 {
                let limbs = |s: &Slot| s.iter().map(|s| s.limb).collect::<Vec<_>>();
                prop_assert_eq!(limbs(old_slot), limbs(new_slot));
            }
        }
        prop_assert_eq!(&new.cell.grid, &cell.grid);
        if to.toms().is_empty() {
            return Ok(());
        }
        let (old, toms) = (way(&cell, &from.toms()), to.toms());
        let place = |slot: usize| {
            let voice = new.cell.slots[slot][0].voice;
            toms.iter().position(|t| *t == voice).unwrap()
        };
        // Down stays down or level, up stays up or level.
        for pair in old.windows(2) {
            let was = pair[1].1.cmp(&pair[0].1);
            let is = place(pair[1].0).cmp(&place(pair[0].0));
            let near = cell.grid.slot_bounds().unwrap();
            let gap = near[pair[1].0].checked_sub(near[pair[0].0]).unwrap();
            prop_assert!(was.is_eq() || is.is_eq() || was == is, "{:?}", pair);
            // What stays on a drum moves only within a run that is spread.
            prop_assert!(was.is_ne() || is.is_eq() || gap <= Beats::ONE);
        }
        // Runs that are spread are even within one stroke.
        let bounds = cell.grid.slot_bounds().unwrap();
        let mut start = 0;
        for end in 1..=old.len() {
            let run = &old[start..end];
            let goes_on = end < old.len() && {
                let longer = &old[start..=end];
                let one_way = longer.is_sorted_by_key(|h| h.1)
                    || longer.is_sorted_by_key(|h| std::cmp::Reverse(h.1));
                let gap = bounds[old[end].0].checked_sub(bounds[old[end - 1].0]).unwrap();
                one_way && gap <= Beats::ONE
            };
            if goes_on {
                continue;
            }
            start = end;
            let spread = |h: &(usize, usize)| {
                new.changes.iter().any(|c| c.slot == h.0 && c.why == Why::Spread)
            };
            if !run.iter().any(spread) {
                continue;
            }
            let new: Vec<usize> = run.iter().map(|h| place(h.0)).collect();
            let (low, high) = (*new.iter().min().unwrap(), *new.iter().max().unwrap());
            let on = |tom: usize| new.iter().filter(|t| **t == tom).count();
            let counts: Vec<usize> = (low..=high).map(on).collect();
            let (least, most) = (counts.iter().min().unwrap(), counts.iter().max().unwrap());
            prop_assert!(most - least <= 1, "{:?}", counts);
        }
    }

    #[test]
    fn to_the_same_kit_nothing_changes((from, cell, _) in any_case()) {
        let same = revoice(&cell, &from, &from).unwrap();
        prop_assert_eq!(&same.cell, &cell);
        prop_assert!(same.reversible && same.changes.is_empty());
    }

    #[test]
    fn reversible_means_that_it_comes_back((from, cell, to) in any_case()) {
        let there = revoice(&cell, &from, &to).unwrap();
        let back = revoice(&there.cell, &to, &from).unwrap();
        prop_assert_eq!(there.reversible, back.cell == cell);
    }
}
