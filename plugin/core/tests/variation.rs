//! Variation: distinct, playable, counted, the same everywhere.

use barform_core::craft::variation::*;
use barform_core::music::*;
use num_bigint::BigUint;
use proptest::prelude::*;
use std::collections::HashSet;

fn stroke(limb: Limb, voice: Voice) -> Stroke {
    Stroke {
        voice,
        ..Stroke::plain(limb)
    }
}

fn right(voice: Voice) -> Slot {
    vec![stroke(Limb::RightHand, voice)]
}

fn left(voice: Voice) -> Slot {
    vec![stroke(Limb::LeftHand, voice)]
}

fn kick() -> Slot {
    vec![Stroke::plain(Limb::KickFoot)]
}

fn accent(mut slot: Slot) -> Slot {
    for s in &mut slot {
        s.level = Level::Accent;
    }
    slot
}

fn cell_of(slots: Vec<Slot>) -> Cell {
    let grid = Grid::new(vec![Span::new(slots.len() as u8, Beats::ONE).unwrap()]).unwrap();
    Cell {
        letter: Letter::new("A").unwrap(),
        grid,
        slots,
    }
}

/// Three beats of sixteenth triplets: singles, an accent on each beat, a rest,
/// two kicks at the end. Invented.
fn three_beats() -> Cell {
    use Voice::*;
    let mut slots = Vec::new();
    for voice in [Snare, Tom1, Tom2] {
        slots.push(accent(right(voice)));
        slots.push(left(voice));
        slots.push(right(voice));
        slots.push(left(voice));
        slots.push(right(voice));
        slots.push(left(voice));
    }
    slots[10] = vec![];
    slots[16] = kick();
    slots[17] = kick();
    let span = Span::new(6, Beats::ONE).unwrap();
    let grid = Grid::new(vec![span; 3]).unwrap();
    Cell {
        letter: Letter::new("A").unwrap(),
        grid,
        slots,
    }
}

fn limbs(slot: &Slot) -> Vec<Limb> {
    let mut limbs: Vec<Limb> = slot.iter().map(|s| s.limb).collect();
    limbs.sort();
    limbs
}

/// Most slots in a row, going round the cell again and again, that `hit`.
fn longest(cell: &Cell, hit: impl Fn(&Slot) -> bool) -> usize {
    let twice: Vec<bool> = cell.slots.iter().chain(&cell.slots).map(hit).collect();
    twice.split(|on| !on).map(<[bool]>::len).max().unwrap_or(0)
}

fn plays(limb: Limb) -> impl Fn(&Slot) -> bool {
    move |slot| {
        slot.iter()
            .any(|s| s.limb == limb || s.graces.iter().any(|hand| Limb::from(hand) == limb))
    }
}

/// The level's rules, checked from the outside.
fn assert_playable(cell: &Cell, level: &LevelRules) {
    assert!(
        longest(cell, plays(Limb::RightHand)) <= usize::from(level.same_hand),
        "{cell:?}"
    );
    assert!(
        longest(cell, plays(Limb::LeftHand)) <= usize::from(level.same_hand),
        "{cell:?}"
    );
    assert!(
        longest(cell, plays(Limb::KickFoot)) <= usize::from(level.kick),
        "{cell:?}"
    );
    assert!(
        longest(cell, plays(Limb::HatFoot)) <= usize::from(level.hat_foot),
        "{cell:?}"
    );
    assert!(
        longest(cell, Vec::is_empty) <= usize::from(level.rests),
        "{cell:?}"
    );
    for slot in &cell.slots {
        assert!(slot.len() <= usize::from(level.at_once));
        let unique: HashSet<Limb> = slot.iter().map(|s| s.limb).collect();
        assert_eq!(unique.len(), slot.len(), "two voices on one limb");
        let hands = slot.iter().filter(|s| !s.limb.is_foot()).count();
        assert!(hands < 2 || level.both_hands);
        let open = |s: &Stroke| {
            s.voice == Voice::Hat
                && matches!(s.articulation, Articulation::Open | Articulation::Half)
        };
        let foot = slot.iter().any(|s| s.limb == Limb::HatFoot);
        assert!(
            !(foot && slot.iter().any(open)),
            "the foot closes an open hi-hat"
        );
        for s in slot {
            match s.limb {
                Limb::KickFoot => assert_eq!(s.voice, Voice::Kick),
                Limb::HatFoot => assert_eq!(s.voice, Voice::HatFoot),
                _ => assert!(!matches!(s.voice, Voice::Kick | Voice::HatFoot)),
            }
            assert!(level.accents || s.level != Level::Accent);
            assert!(level.ghosts || s.level != Level::Ghost);
            assert!(level.flams || s.graces.is_empty());
        }
    }
}

fn assert_distinct(found: &Variations, original: &Cell) {
    let all: HashSet<&Vec<Slot>> = found.cells.iter().map(|v| &v.cell.slots).collect();
    assert_eq!(all.len(), found.cells.len(), "a cell twice");
    assert!(!all.contains(&original.slots), "the original");
    assert!(
        found.cells.windows(2).all(|w| w[0].total <= w[1].total),
        "out of order"
    );
}

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

/// A cell of so many slots, up to 64 a span.
fn cell_on(slots: usize) -> Cell {
    let mut spans = Vec::new();
    let mut left = slots;
    while left > 0 {
        let n = left.min(64);
        spans.push(Span::new(n as u8, Beats::ONE).unwrap());
        left -= n;
    }
    Cell {
        letter: Letter::new("A").unwrap(),
        grid: Grid::new(spans).unwrap(),
        slots: (0..slots)
            .map(|i| {
                if i % 2 == 0 {
                    right(Voice::Snare)
                } else {
                    left_snare()
                }
            })
            .collect(),
    }
}

fn left_snare() -> Slot {
    left(Voice::Snare)
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

const GOLDEN: u64 = 1_871_769_723_775_171_231;

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
}
