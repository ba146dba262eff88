//! Variation: the metric, the algebra of primes, chance that is the same
//! everywhere, and whatever is asked answered within the question.

use crate::variation_support;

use barform_app::craft::variation::*;
use barform_app::music::*;
use num_bigint::BigUint;
use proptest::prelude::*;
use variation_support::*;

const GOLDEN: u64 = 1_871_769_723_775_171_231;

/// The first outputs for seed 1234567, as published with implementations of
/// SplitMix64 (Steele, Lea, Flood 2014); from memory.
#[test]
fn the_generator_is_splitmix64() {
    let mut random = SplitMix64::new(1_234_567);
    for want in [
        6_457_827_717_110_365_317_u64,
        3_203_168_211_198_807_973,
        9_817_491_932_198_370_423,
        4_593_380_528_125_082_431,
        16_408_922_859_458_223_821,
    ] {
        assert_eq!(random.next_u64(), want);
    }
}

/// FNV-1a over the integers that say what a cell is.
fn hash(found: &Variations) -> u64 {
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    let mut eat = |n: u64| {
        for byte in n.to_le_bytes() {
            hash = (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
        }
    };
    for v in &found.cells {
        eat(v.total);
        for slot in &v.cell.slots {
            eat(slot.len() as u64);
            for s in slot {
                let limb = Limb::ALL.iter().position(|l| *l == s.limb).unwrap();
                let level = [Level::Ghost, Level::Normal, Level::Accent]
                    .iter()
                    .position(|l| *l == s.level)
                    .unwrap();
                let parts = [
                    limb,
                    s.voice.index(),
                    s.articulation.index(),
                    level,
                    s.graces.len(),
                ];
                parts.into_iter().for_each(|part| eat(part as u64));
            }
        }
    }
    hash
}

/// Stable on every machine: the generator is wrapping 64-bit arithmetic written
/// out in the project, counts are exact integers, options are made in a fixed
/// order, and neither hash maps, floating point nor the width of a pointer has
/// a say. The value changes only if rules, order of options or generator do,
/// which users would notice as other cells for their seed.
#[test]
fn the_same_seed_gives_the_same_cells_on_every_machine() {
    let original = three_beats();
    let rules = VariationRules::builtin();
    let ask = Ask {
        seed: 92,
        ..Ask::new(&original, "intermediate", 200)
    };
    assert_eq!(hash(&vary(&ask, &rules).unwrap()), GOLDEN);
}

fn any_slot() -> impl Strategy<Value = Slot> {
    let stroke = (0usize..4, 0usize..4, 0usize..3, 0usize..3, any::<bool>()).prop_map(
        |(limb, voice, level, grace, buzz)| {
            let limb = Limb::ALL[limb];
            let mut s = Stroke::plain(limb);
            s.level = [Level::Ghost, Level::Normal, Level::Accent][level];
            if let Some(hand) = limb.hand() {
                s.voice = [Voice::Snare, Voice::Tom1, Voice::Hat, Voice::Ride][voice];
                s.graces = match grace {
                    0 => Graces::NONE,
                    1 => Graces::from_hands(&[hand.other()]).unwrap(),
                    _ => Graces::from_hands(&[hand.other(), hand.other()]).unwrap(),
                };
                s.buzz = buzz;
            }
            s
        },
    );
    proptest::collection::vec(stroke, 0..4).prop_map(|mut slot: Slot| {
        slot.sort_by_key(|s| s.limb);
        slot.dedup_by_key(|s| s.limb);
        slot
    })
}

fn any_cell(slots: impl Into<proptest::collection::SizeRange>) -> impl Strategy<Value = Cell> {
    proptest::collection::vec(any_slot(), slots).prop_map(cell_of)
}

fn three_cells() -> impl Strategy<Value = (Cell, Cell, Cell)> {
    (1usize..9).prop_flat_map(|n| (any_cell(n), any_cell(n), any_cell(n)))
}

proptest! {
    #[test]
    fn the_distance_is_a_metric((a, b, c) in three_cells()) {
        let rules = VariationRules::builtin();
        let d = |x: &Cell, y: &Cell| Distance::between(x, y).unwrap().total(rules.weights());
        prop_assert_eq!(d(&a, &a), 0);
        prop_assert_eq!(d(&a, &b) == 0, a == b, "zero for equal cells and only for them");
        prop_assert_eq!(d(&a, &b), d(&b, &a));
        prop_assert!(d(&a, &c) <= d(&a, &b) + d(&b, &c), "no detour is shorter");
    }

    #[test]
    fn cells_in_unlike_frames_have_no_distance(a in any_cell(3), b in any_cell(4)) {
        prop_assert_eq!(Distance::between(&a, &b), None);
    }

    #[test]
    fn primes_undo_themselves(cell in any_cell(1..12), k in -40i64..40, j in -40i64..40) {
        let n = cell.slots.len() as i64;
        let same = |x: &Cell| x.slots == cell.slots && x.grid == cell.grid;
        prop_assert!(same(&inverted(&inverted(&cell))));
        prop_assert!(same(&reversed(&reversed(&cell))));
        prop_assert!(same(&displaced(&cell, n)));
        prop_assert!(same(&displaced(&cell, 0)));
        prop_assert!(same(&displaced(&displaced(&cell, k), -k)));
        prop_assert_eq!(
            displaced(&displaced(&cell, k), j).slots,
            displaced(&cell, k + j).slots
        );
        prop_assert_eq!(
            reversed(&displaced(&cell, k)).slots,
            displaced(&reversed(&cell), -k).slots
        );
        prop_assert_eq!(
            inverted(&displaced(&cell, k)).slots,
            displaced(&inverted(&cell), k).slots
        );
        // Inverting changes the sticking line and nothing else.
        let d = Distance::between(&cell, &inverted(&cell)).unwrap();
        prop_assert_eq!(d.rhythm + d.voices + d.levels, 0);
    }

    /// Whatever is asked: distinct, within the rules, what stays stays.
    #[test]
    fn every_variation_keeps_to_the_question(
        cell in any_cell(1..9),
        level in 0usize..3,
        limbs_allowed in proptest::sample::subsequence(Limb::ALL.to_vec(), 1..=4),
        accents in any::<bool>(), kicks in any::<bool>(), rests in any::<bool>(),
        near in any::<bool>(), seed in any::<u64>(),
    ) {
        let rules = VariationRules::builtin();
        let name = ["beginner", "intermediate", "advanced"][level];
        let mut ask = Ask::new(&cell, name, 60);
        ask.limbs = limbs_allowed.clone();
        ask.voices.extend([
            (Voice::Snare, Articulation::Plain), (Voice::Hat, Articulation::Open),
            (Voice::Kick, Articulation::Plain), (Voice::HatFoot, Articulation::Plain),
        ]);
        ask.keep = Keep { accents, kicks, rests, ..Keep::default() };
        ask.within = near.then_some(1..=25);
        ask.seed = seed;
        let allowed = ask.voices.clone();
        let found = vary(&ask, &rules).unwrap();
        assert_distinct(&found, &cell);
        let here = BigUint::from(found.cells.len());
        prop_assert_eq!(here, found.exist.clone().min(BigUint::from(60u32)));
        let mut level = rules.level(name).unwrap().clone();
        // What stays is the user's own.
        if kicks { level.kick = u8::MAX }
        if rests { level.rests = u8::MAX }
        let accented = |slot: &Slot| slot.iter().any(|s| s.level == Level::Accent);
        for v in &found.cells {
            assert_playable(&v.cell, &level);
            prop_assert!(v.total > 0 && (!near || v.total <= 25));
            for (new, old) in v.cell.slots.iter().zip(&cell.slots) {
                prop_assert!(limbs(new).iter().all(|l| limbs_allowed.contains(l)));
                prop_assert!(new.iter().all(|s| allowed.contains(&(s.voice, s.articulation))));
                prop_assert!(!accents || accented(new) == accented(old));
                prop_assert!(!kicks || plays(Limb::KickFoot)(new) == plays(Limb::KickFoot)(old));
                prop_assert!(!rests || new.is_empty() == old.is_empty());
            }
        }
    }

    /// An opening that stays may be harder than the level; nothing that is added
    /// to it may make a row longer than the level allows, across the end neither.
    #[test]
    fn what_is_added_to_an_opening_keeps_to_the_level(
        cell in any_cell(2..8), keep in 1usize..8, seed in any::<u64>(),
    ) {
        let rules = VariationRules::builtin();
        let level = rules.level("intermediate").unwrap();
        let mut ask = Ask::new(&cell, "intermediate", 60);
        ask.keep.opening = keep.min(cell.slots.len());
        ask.limbs = Limb::ALL.to_vec();
        ask.voices.extend([
            (Voice::Snare, Articulation::Plain), (Voice::Kick, Articulation::Plain),
            (Voice::HatFoot, Articulation::Plain),
        ]);
        ask.seed = seed;
        for v in vary(&ask, &rules).unwrap().cells {
            let slots = &v.cell.slots;
            prop_assert_eq!(&slots[..ask.keep.opening], &cell.slots[..ask.keep.opening]);
            for (limb, most) in [
                (Limb::RightHand, level.same_hand), (Limb::LeftHand, level.same_hand),
                (Limb::KickFoot, level.kick), (Limb::HatFoot, level.hat_foot),
            ] {
                // From every free slot where the limb plays, both ways round.
                let n = slots.len();
                let plays = |i: usize| plays(limb)(&slots[i % n]);
                for free in ask.keep.opening..n {
                    if plays(free) {
                        let after = (1..n).take_while(|k| plays(free + k)).count();
                        let before = (1..n).take_while(|k| plays(free + n - k)).count();
                        prop_assert!(before + 1 + after <= usize::from(most), "{limb:?} {slots:?}");
                    }
                }
            }
        }
    }
}
