//! Variation: distinct, playable, counted, the same everywhere.

use crate::variation_support;

use barform_app::craft::variation::*;
use barform_app::music::*;
use num_bigint::BigUint;
use std::collections::HashSet;
use variation_support::*;

#[test]
fn a_thousand_asked_a_thousand_distinct() {
    let original = three_beats();
    let rules = VariationRules::builtin();
    for name in ["beginner", "intermediate", "advanced", "professional"] {
        let level = rules.level(name).unwrap();
        let ask = Ask::new(&original, name, 1_000);
        let found = vary(&ask, &rules).unwrap();
        assert_eq!(found.cells.len(), 1_000, "{name}");
        assert!(!found.fell_short());
        assert!(found.exist > BigUint::from(1_000u32));
        assert_distinct(&found, &original);
        for variation in &found.cells {
            let cell = &variation.cell;
            assert_eq!(cell.grid, original.grid);
            assert_eq!(cell.letter.as_str(), "A'");
            assert_eq!(Distance::between(cell, &original), Some(variation.distance));
            assert_eq!(variation.distance.total(rules.weights()), variation.total);
            assert_playable(cell, level);
        }
        assert_eq!(vary(&ask, &rules).unwrap(), found, "same seed, same cells");
        let other = vary(&Ask { seed: 2, ..ask }, &rules).unwrap();
        assert_ne!(other.cells, found.cells, "another seed, other cells");
    }
}

#[test]
fn what_must_stay_stays() {
    let original = three_beats();
    let rules = VariationRules::builtin();
    let mut ask = Ask::new(&original, "intermediate", 500);
    ask.keep = Keep {
        opening: 7,
        accents: true,
        kicks: true,
        rests: true,
        ..Keep::default()
    };
    let found = vary(&ask, &rules).unwrap();
    assert_eq!(found.cells.len(), 500);
    let accented = |slot: &Slot| slot.iter().any(|s| s.level == Level::Accent);
    for cell in found.cells.iter().map(|v| &v.cell) {
        assert_eq!(cell.slots[..7], original.slots[..7]);
        for (new, old) in cell.slots.iter().zip(&original.slots) {
            assert_eq!(accented(new), accented(old));
            assert_eq!(plays(Limb::KickFoot)(new), plays(Limb::KickFoot)(old));
            assert_eq!(new.is_empty(), old.is_empty());
        }
    }
    let same_sticking = vary(
        &Ask::new(&original, "intermediate", 300).other_voices(),
        &rules,
    );
    for v in same_sticking.unwrap().cells {
        for (new, old) in v.cell.slots.iter().zip(&original.slots) {
            let on_the_line = |slot: &Slot| -> Vec<_> {
                slot.iter()
                    .map(|s| (s.limb, s.level, s.graces, s.buzz))
                    .collect()
            };
            assert_eq!(on_the_line(new), on_the_line(old));
        }
        assert_eq!(
            v.distance.sticking + v.distance.rhythm + v.distance.levels,
            0
        );
        assert!(v.distance.voices > 0);
    }
    let same_rhythm = vary(
        &Ask::new(&original, "intermediate", 300).other_sticking(),
        &rules,
    );
    for v in same_rhythm.unwrap().cells {
        assert_eq!(v.distance.rhythm + v.distance.voices, 0);
        for (new, old) in v.cell.slots.iter().zip(&original.slots) {
            let voices = |slot: &Slot| slot.iter().map(|s| s.voice).collect::<Vec<_>>();
            assert_eq!(voices(new), voices(old));
        }
    }
}

/// Four sixteenths of one voice, hands only, no rests, no accents, at most two
/// in a row, played again and again: of the 16 stickings RRRR and LLLL go (2),
/// and each with three of one hand next to each other, going round (8).
#[test]
fn fewer_exist_than_asked_and_it_says_so() {
    use Voice::Snare;
    let original = cell_of(vec![right(Snare), left(Snare), right(Snare), left(Snare)]);
    let rules = VariationRules::from_toml(
        "[level.drill]\nabout = \"One drum.\"\nsame_hand = 2\nkick = 1\nhat_foot = 1\nrests = 0\n\
         at_once = 1\nboth_hands = false\none_drum = false\naccents = false\nghosts = false\n\
         flams = false\n",
    )
    .unwrap();
    let found = vary(&Ask::new(&original, "drill", 1_000), &rules).unwrap();
    assert!(found.fell_short());
    assert_eq!(
        found.exist,
        BigUint::from(5u32),
        "6 stickings, the original not counted"
    );
    let lines: HashSet<String> = found
        .cells
        .iter()
        .map(|v| v.cell.slots.iter().map(|s| s[0].limb.letter()).collect())
        .collect();
    let want = ["RRLL", "RLLR", "LLRR", "LRRL", "LRLR"];
    assert_eq!(lines, want.map(String::from).into());
    // Played once, what is in a row ends with the cell: all but RRRR, LLLL and
    // those with three at one end.
    let once = Ask {
        repeats: false,
        ..Ask::new(&original, "drill", 1_000)
    };
    assert_eq!(
        vary(&once, &rules).unwrap().exist,
        BigUint::from(16u32 - 2 - 4 - 1)
    );
}

#[test]
fn a_cell_that_stays_wholly_has_no_variation() {
    let original = three_beats();
    let mut ask = Ask::new(&original, "intermediate", 10);
    ask.keep.opening = original.slots.len();
    let found = vary(&ask, &VariationRules::builtin()).unwrap();
    assert!(found.cells.is_empty() && found.fell_short());
    assert_eq!(found.exist, BigUint::ZERO);
}

/// Counts of all distances add up to the count at any distance.
#[test]
fn distances_can_be_limited_and_add_up() {
    use Voice::*;
    let original = cell_of(vec![right(Snare), left(Snare), kick(), vec![]]);
    let rules = VariationRules::builtin();
    let ask = Ask::new(&original, "beginner", 1);
    let all = vary(&ask, &rules).unwrap().exist;
    let mut sum = BigUint::ZERO;
    for d in 1..=60 {
        let found = vary(
            &Ask {
                within: Some(d..=d),
                count: 10_000,
                ..ask.clone()
            },
            &rules,
        );
        let found = found.unwrap();
        assert!(found.cells.iter().all(|v| v.total == d), "distance {d}");
        assert_eq!(BigUint::from(found.cells.len()), found.exist);
        sum += found.exist;
    }
    assert_eq!(sum, all);
    let at_zero = vary(
        &Ask {
            within: Some(0..=0),
            ..ask
        },
        &rules,
    )
    .unwrap();
    assert_eq!(at_zero.exist, BigUint::ZERO, "only the original is there");
}

#[test]
fn near_variations_of_a_long_cell() {
    let original = three_beats();
    let rules = VariationRules::builtin();
    let ask = Ask {
        within: Some(1..=12),
        ..Ask::new(&original, "advanced", 1_000)
    };
    let found = vary(&ask, &rules).unwrap();
    assert_eq!(found.cells.len(), 1_000);
    assert_distinct(&found, &original);
    assert!(found.cells.iter().all(|v| (1..=12).contains(&v.total)));
}

#[test]
fn questions_without_sense_are_refused() {
    let original = three_beats();
    let rules = VariationRules::builtin();
    let says = |ask: Ask<'_>, text: &str| {
        let error = vary(&ask, &rules).unwrap_err().to_string();
        assert!(error.contains(text), "{error}");
    };
    let ask = || Ask::new(&original, "intermediate", 10);
    says(
        Ask {
            level: "hard".into(),
            ..ask()
        },
        "known are advanced beginner intermediate professional",
    );
    says(Ask { count: 0, ..ask() }, "allowed are 1 to 10000");
    says(
        Ask {
            count: 10_001,
            ..ask()
        },
        "allowed are 1 to 10000",
    );
    says(
        Ask {
            keep: Keep {
                opening: 19,
                ..Keep::default()
            },
            ..ask()
        },
        "the cell has 18",
    );
    says(
        Ask {
            within: Some(std::ops::RangeInclusive::new(5, 4)),
            ..ask()
        },
        "at least the first",
    );
    says(
        Ask {
            within: Some(0..=161),
            ..ask()
        },
        "up to 160",
    );
    says(
        Ask {
            voices: vec![(Voice::Kick, Articulation::Rim)],
            ..ask()
        },
        "no articulation 'rim'",
    );
    let torn = Cell {
        slots: vec![],
        ..original.clone()
    };
    says(
        Ask {
            original: &torn,
            ..ask()
        },
        "0 slots and its grid 18",
    );
    let long = cell_on(129);
    says(
        Ask {
            original: &long,
            ..ask()
        },
        "at most 128",
    );
}

/// Everything a kit has, four limbs at once, in the longest cell that is varied.
#[test]
fn the_largest_question_has_an_answer() {
    let rules = VariationRules::from_toml("[level.advanced]\nat_once = 4").unwrap();
    let original = cell_on(128);
    let mut ask = Ask::new(&original, "advanced", 10);
    ask.limbs = Limb::ALL.to_vec();
    let every = |v: Voice| v.articulations().iter().map(move |a| (v, *a));
    ask.voices = Voice::ALL.into_iter().flat_map(every).collect();
    ask.repeats = false;
    let found = vary(&ask, &rules).unwrap();
    assert_eq!(found.cells.len(), 10);
    assert_distinct(&found, &original);
    assert!(found.exist.bits() > 1_000);
    // Counted by distance as well it would take minutes, and is refused.
    let wide = Ask {
        within: Some(0..=160),
        repeats: true,
        ..ask
    };
    assert_eq!(vary(&wide, &rules), Err(VariationError::TooManyWays));
}

#[test]
fn rule_errors_name_the_key_and_the_range() {
    for (text, place, says) in [
        (
            "[distance]\nslot = 0",
            "2:8",
            "distance.slot: 0; allowed are whole numbers 1 to 100",
        ),
        ("[distance]\nrhythm = 101", "2:10", "0 to 100"),
        ("[distance]\nrhythm = -1", "2:10", "distance.rhythm"),
        (
            "[level.advanced]\nsame_hand = 17",
            "2:13",
            "level.advanced.same_hand: 17",
        ),
        ("[level.advanced]\nat_once = 5", "2:11", "1 to 4"),
        ("[level.mine]\nkick = 2", "1:1", "missing field"),
        (
            "[level.advanced]\nspeed = 2",
            "2:1",
            "unknown field `speed`",
        ),
        (
            "[together]\nhands_on_one_cymbal = 1",
            "2:23",
            "together.hands_on_one_cymbal",
        ),
        ("[levels]\n", "1:2", "unknown field `levels`"),
    ] {
        let error = VariationRules::from_toml(text).unwrap_err().to_string();
        assert!(error.contains(&format!(":{place}:")), "{text:?}: {error}");
        assert!(error.contains(says), "{text:?}: {error}");
    }
    let rules = VariationRules::from_toml("[level.advanced]\nkick = 4").unwrap();
    assert_eq!(rules.level("advanced").unwrap().kick, 4);
    assert_eq!(
        rules.level("advanced").unwrap().same_hand,
        3,
        "what is not stated stays"
    );
    assert_eq!(
        rules.level_names().collect::<Vec<_>>(),
        ["advanced", "beginner", "intermediate", "professional"]
    );
}

/// The nearest ones: no cell that exists is nearer than one that is given.
#[test]
fn the_nearest_leave_out_none_that_is_nearer() {
    let original = three_beats();
    let rules = VariationRules::builtin();
    let ask = Ask::new(&original, "intermediate", 40);
    let near = nearest(&ask, &rules).unwrap();
    assert_eq!(near.cells.len(), 40);
    assert_distinct(&near, &original);
    assert_eq!(near.exist, vary(&ask, &rules).unwrap().exist);
    let farthest = near.cells.last().unwrap().total;
    let nearer = near.cells.iter().filter(|v| v.total < farthest).count();
    let within = Ask {
        within: Some(1..=farthest - 1),
        ..ask.clone()
    };
    assert_eq!(vary(&within, &rules).unwrap().exist, BigUint::from(nearer));
    assert_eq!(nearest(&ask, &rules).unwrap(), near);
    // Fewer than asked: all of them.
    let few = Ask {
        keep: Keep {
            opening: 17,
            ..Keep::default()
        },
        ..ask
    };
    assert_eq!(
        nearest(&few, &rules).unwrap().exist,
        vary(&few, &rules).unwrap().exist
    );
    assert_eq!(
        nearest(&few, &rules).unwrap().cells,
        vary(&few, &rules).unwrap().cells
    );
}
