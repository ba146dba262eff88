//! Counting: what is said on each slot, in every tradition.
//!
//! What the American tradition says is common practice without a source; the
//! published systems are named beside their checks, from memory.

use barform_app::craft::counting::Counting;
use barform_app::music::*;
use proptest::prelude::*;
use std::collections::{HashMap, HashSet};

fn beats(text: &str) -> Beats {
    text.parse().unwrap()
}

/// `4`, `3@2`, `1@1/2 3@1/2`.
fn grid(text: &str) -> Grid {
    let span = |word: &str| {
        let (slots, length) = word.split_once('@').unwrap_or((word, "1"));
        Span::new(slots.parse().unwrap(), beats(length)).unwrap()
    };
    Grid::new(text.split_whitespace().map(span).collect()).unwrap()
}

fn meter(text: &str) -> Meter {
    text.parse().unwrap()
}

fn say(tradition: &str, on: &str, from: &str, in_meter: &str, by: CountBy) -> String {
    let counting = Counting::builtin();
    let counts = counting
        .tradition(tradition)
        .unwrap()
        .count(&grid(on), beats(from), meter(in_meter), by)
        .unwrap();
    let texts: Vec<String> = counts
        .into_iter()
        .map(|c| {
            if c.text.is_empty() {
                "_".into()
            } else {
                c.text
            }
        })
        .collect();
    texts.join(" ")
}

fn in_four(tradition: &str, on: &str) -> String {
    say(tradition, on, "0", "4/4", CountBy::Units)
}

#[test]
fn american_common_practice() {
    for (on, said) in [
        ("1 1 1 1", "1 2 3 4"),
        ("2 2", "1 & 2 &"),
        ("3 3", "1 trip let 2 trip let"),
        ("4 4", "1 e & a 2 e & a"),
        ("6", "1 ta la & ta la"),
        ("5", "1 2 3 4 5"),
        ("7", "1 2 3 4 5 6 7"),
        ("8", "1 ta e ta & ta a ta"),
        ("9", "1 ta la trip ta la let ta la"),
        ("12", "1 ta la e ta la & ta la a ta la"),
        ("4 6", "1 e & a 2 ta la & ta la"),
        // A word is a place in the beat, whatever span it stands in.
        ("1@1/2 3@1/2", "1 & ta la"),
        ("2@1/2 3@1/2", "1 e & ta la"),
        ("1@1/2 1@1/4 1@1/4", "1 & a"),
        ("1@3/4 1@1/4", "1 a"),
        ("1@2/3 1@1/3", "1 let"),
        // Quarter triplets stand on every other eighth triplet.
        ("3@2", "1 let trip"),
        // Dotted eighths.
        ("4@3", "1 a & e"),
    ] {
        assert_eq!(in_four("american", on), said, "{on}");
        let by_default = count_syllables(&grid(on), Beats::ZERO, Meter::FOUR_FOUR).unwrap();
        assert_eq!(by_default.join(" "), said, "{on}, the default entry");
    }
    assert_eq!(in_four("and-a", "3 4"), "1 & a 2 e & a");
}

/// Hoffman, Pelto, White, Takadimi: A Beat-Oriented System of Rhythm Pedagogy
/// (1996), from memory: syllables belong to attack points in the beat, so an
/// attack half-way through is "di" in simple meter whatever else is played.
#[test]
fn takadimi_names_attack_points() {
    for (on, said) in [
        ("1", "ta"),
        ("2", "ta di"),
        ("3", "ta ki da"),
        ("4", "ta ka di mi"),
        ("6", "ta va ki di da ma"),
        ("1@3/4 1@1/4", "ta mi"),
        ("1@1/4 1@3/4", "ta ka"),
        ("1@1/2 2@1/2", "ta di mi"),
        ("1@2/3 1@1/3", "ta da"),
    ] {
        assert_eq!(in_four("takadimi", on), said, "{on}");
    }
    // Compound: three eighths to the beat, sixteenths six.
    let compound = |on| say("takadimi", on, "0", "6/8", CountBy::Pulses);
    assert_eq!(compound("3@3/2"), "ta ki da");
    assert_eq!(compound("6@3/2"), "ta va ki di da ma");
}

/// McHose and Tibbs, Sight-Singing Manual (1944); Gordon, Learning Sequences in
/// Music (1980). Both from memory.
#[test]
fn other_published_systems() {
    assert_eq!(in_four("eastman", "2 4 3"), "1 te 2 ta te ta 3 la li");
    assert_eq!(
        in_four("beat-function", "2 4 3"),
        "du de du ta de ta du da di"
    );
}

#[test]
fn numbers_only() {
    assert_eq!(in_four("numbers", "4 3"), "1 2 3 4 2 2 3");
    assert_eq!(in_four("beats", "4 3"), "1 _ _ _ 2 _ _");
    // Figures that do not fill a beat could be taken for beats.
    assert_eq!(in_four("numbers", "1@1/2 2@1/2"), "1 1+1/2 1+3/4");
    assert_eq!(in_four("exact", "2 3"), "1 1+1/2 2 2+1/3 2+2/3");
}

/// Common practice: the lower number is counted, and 12/8 can be counted in
/// four.
#[test]
fn meters_decide_what_is_numbered() {
    let units = |on, m| say("american", on, "0", m, CountBy::Units);
    let pulses = |on, m| say("american", on, "0", m, CountBy::Pulses);
    assert_eq!(units("12@6", "12/8"), "1 2 3 4 5 6 7 8 9 10 11 12");
    assert_eq!(pulses("12@6", "12/8"), "1 la li 2 la li 3 la li 4 la li");
    assert_eq!(pulses("6@3/2 1@3/2", "12/8"), "1 ta la ta li ta 2");
    assert_eq!(units("7@7/2", "7/8"), "1 2 3 4 5 6 7");
    assert_eq!(units("4", "7/8"), "1 & 2 &");
    assert_eq!(units("4@4", "2/2"), "1 & 2 &");
    assert_eq!(units("4 4", "2/2"), "1 ta e ta & ta a ta");
    // Pulses are units in simple meters.
    assert_eq!(pulses("4 4", "4/4"), units("4 4", "4/4"));
    assert_eq!(pulses("7@7/2", "7/8"), units("7@7/2", "7/8"));
}

#[test]
fn numbers_restart_at_the_bar_line() {
    assert_eq!(
        say("american", "2 2 2", "3", "4/4", CountBy::Units),
        "4 & 1 & 2 &",
        "carried over a bar line"
    );
    assert_eq!(
        say("american", "2 1", "-1/2", "4/4", CountBy::Units),
        "& 1 &"
    );
}

#[test]
fn what_no_tradition_names_is_counted_exactly() {
    assert_eq!(in_four("american", "13").split(' ').nth(2), Some("1+2/13"));
    // Sixteenths a third of a beat late fall on no word that is clear.
    assert_eq!(
        say("american", "4", "1/3", "4/4", CountBy::Units),
        "1+1/3 1+7/12 1+5/6 2+1/12"
    );
    assert_eq!(in_four("eastman", "8").split(' ').nth(1), Some("1+1/8"));
}

#[test]
fn every_division_up_to_twelve_has_a_count_in_every_tradition() {
    let counting = Counting::builtin();
    assert!(counting.traditions().count() >= 8);
    for tradition in counting.traditions() {
        for n in 1..=12u8 {
            let counts = tradition
                .count(
                    &Grid::per_beat(n).unwrap(),
                    Beats::ZERO,
                    Meter::FOUR_FOUR,
                    CountBy::Units,
                )
                .unwrap();
            assert_eq!(counts.len(), usize::from(n), "{} {n}", tradition.name());
            let named = tradition.divisions().any(|(slots, _)| slots == n);
            let exact = counts.iter().any(|c| c.kind == CountKind::Exact);
            assert_eq!(
                exact,
                !named && n > 1,
                "{} {n}: {counts:?}",
                tradition.name()
            );
        }
        assert!(!tradition.about().is_empty(), "{}", tradition.name());
        assert!(!tradition.source().is_empty(), "{}", tradition.name());
    }
    // The default names them all.
    let named: Vec<u8> = counting
        .default_tradition()
        .divisions()
        .map(|(n, _)| n)
        .collect();
    assert_eq!(named, (1..=12).collect::<Vec<u8>>());
}

#[test]
fn a_user_adds_and_restates() {
    let mine = Counting::from_toml(
        "default = \"school\"\n\
         [tradition.school]\nlike = \"american\"\n\
         [tradition.school.division]\n5 = \"# u ni ver sal\"\n\
         [tradition.american.division]\n3 = \"# tri plet\"\n",
    )
    .unwrap();
    let count = |on| {
        let counts = mine
            .count(&grid(on), Beats::ZERO, Meter::FOUR_FOUR, CountBy::Units)
            .unwrap();
        counts
            .into_iter()
            .map(|c| c.text)
            .collect::<Vec<_>>()
            .join(" ")
    };
    assert_eq!(mine.default_tradition().name(), "school");
    assert_eq!(count("5 4"), "1 u ni ver sal 2 e & a");
    assert_eq!(
        count("3"),
        "1 tri plet",
        "restated in the parent, taken by the child"
    );
    assert_eq!(Counting::from_toml("").unwrap(), Counting::builtin());
}

#[test]
fn errors_name_the_key_and_what_is_allowed() {
    for (text, place, says) in [
        ("defalt = \"x\"", "1:1", "defalt"),
        ("default = \"nobody\"", "1:11", "known are american"),
        (
            "\n[tradition.m.division]\n4 = \"# e &\"",
            "3:5",
            "tradition.m.division.4: 3 words",
        ),
        (
            "[tradition.m.division]\n0 = \"\"",
            "2:5",
            "whole numbers 1 to 64",
        ),
        (
            "[tradition.m.division]\n65 = \"\"",
            "2:6",
            "whole numbers 1 to 64",
        ),
        (
            "[tradition.m.division]\n2 = \"& #\"",
            "2:5",
            "# stands alone and first",
        ),
        (
            "[tradition.m.division]\n2 = \"# 1+1\"",
            "2:5",
            "no word has + or / in it",
        ),
        (
            "[tradition.m.division]\n2 = 2",
            "2:5",
            "tradition.m.division.2",
        ),
        ("[tradition.m]\nlike = \"m\"", "2:8", "like itself"),
        ("[tradition.m]\nlike = \"n\"", "2:8", "no tradition 'n'"),
        ("[tradition.m]\nwords = 3", "2:1", "unknown field `words`"),
        (
            "[tradition.m.division]\n2 = \"# abcdefghijklm\"",
            "2:5",
            "1 to 12 characters",
        ),
        ("default = ", "1:11", "not TOML"),
    ] {
        let error = Counting::from_toml(text).unwrap_err().to_string();
        assert!(error.contains(&format!(":{place}:")), "{text:?}: {error}");
        assert!(error.contains(says), "{text:?}: {error}");
    }
}

fn any_grid() -> impl Strategy<Value = Grid> {
    let length = prop_oneof![
        3 => Just(Beats::ONE),
        2 => (1i64..5, 1i64..7).prop_map(|(n, d)| Beats::new(n, d)),
    ];
    let span = (1u8..=16, length).prop_map(|(n, length)| Span::new(n, length).unwrap());
    proptest::collection::vec(span, 1..5).prop_map(|spans| Grid::new(spans).unwrap())
}

fn any_meter() -> impl Strategy<Value = Meter> {
    proptest::sample::select(vec![
        "4/4", "3/4", "5/4", "7/8", "6/8", "12/8", "2/2", "9/16",
    ])
    .prop_map(|text| text.parse().unwrap())
}

fn any_start() -> impl Strategy<Value = Beats> {
    prop_oneof![
        Just(Beats::ZERO),
        (
            0i64..24,
            proptest::sample::select(vec![1i64, 2, 3, 4, 5, 6, 12])
        )
            .prop_map(|(n, d)| Beats::new(n, d)),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// Exact counts of one bar never repeat; in "exact" that is every count.
    #[test]
    fn the_fallback_is_unambiguous_within_a_bar(
        grid in any_grid(), from in any_start(), meter in any_meter(), pulses in any::<bool>(),
    ) {
        let by = if pulses { CountBy::Pulses } else { CountBy::Units };
        let counting = Counting::builtin();
        let counts = counting.tradition("exact").unwrap().count(&grid, from, meter, by).unwrap();
        let bounds = grid.slot_bounds().unwrap();
        prop_assert_eq!(counts.len() + 1, bounds.len());
        let mut seen = HashMap::new();
        for (count, at) in counts.iter().zip(&bounds) {
            let at = from.checked_add(*at).unwrap();
            let bar = at.checked_div(meter.bar()).unwrap().floor();
            let before = seen.insert((bar, count.text.clone()), at);
            prop_assert!(before.is_none_or(|b| b == at), "{:?} at {:?} and {}", count, before, at);
        }
    }

    /// Within one counted unit, two places share a text only where the
    /// tradition's own table says a word twice and the grid spells it out.
    #[test]
    fn words_are_clear_within_a_beat(
        grid in any_grid(), from in any_start(), meter in any_meter(), pulses in any::<bool>(),
    ) {
        let by = if pulses { CountBy::Pulses } else { CountBy::Units };
        let unit = if pulses { meter.pulse() } else { Beats::new(4, i64::from(meter.unit())) };
        let bounds = grid.slot_bounds().unwrap();
        for tradition in Counting::builtin().traditions() {
            let counts = tradition.count(&grid, from, meter, by).unwrap();
            let mut beats: HashMap<i64, Vec<(String, usize)>> = HashMap::new();
            for (i, count) in counts.iter().enumerate() {
                let at = from.checked_add(bounds[i]).unwrap().checked_div(unit).unwrap();
                if count.kind != CountKind::Silent {
                    beats.entry(at.floor()).or_default().push((count.text.clone(), i));
                }
            }
            for said in beats.values() {
                for (text, i) in said {
                    for (other, j) in said.iter().filter(|(_, j)| j > i) {
                        if text != other { continue }
                        // All slots from the one to the other are even, and of
                        // a division the tradition names with that word twice.
                        let step = bounds[i + 1].checked_sub(bounds[*i]).unwrap();
                        let even = (*i..*j).all(|k| {
                            bounds[k + 1].checked_sub(bounds[k]).unwrap() == step
                        });
                        prop_assert!(even, "{} {grid} at {from} in {meter}: {counts:?}", tradition.name());
                        let n = unit.checked_div(step).unwrap();
                        prop_assert!(n.is_whole());
                        let table = tradition.divisions().find(|(k, _)| i64::from(*k) == n.numer());
                        let twice = table.is_some_and(|(_, words)| {
                            let all: Vec<&str> = words.split(' ').collect();
                            all.iter().collect::<HashSet<_>>().len() < all.len()
                                || all.iter().any(|w| w.bytes().all(|b| b.is_ascii_digit()))
                        }) || (pulses && n == Beats::whole(6));
                        prop_assert!(twice, "{} {grid} at {from} in {meter}: {counts:?}", tradition.name());
                    }
                }
            }
        }
    }

    /// A whole bar later the count is the same.
    #[test]
    fn counting_repeats_with_the_bar(grid in any_grid(), from in any_start(), meter in any_meter()) {
        let later = from.checked_add(meter.bar()).unwrap();
        prop_assert_eq!(
            count_syllables(&grid, from, meter).unwrap(),
            count_syllables(&grid, later, meter).unwrap()
        );
    }
}
