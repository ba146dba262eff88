//! A cell carried across the bar line, how it comes back to one, and tempos at
//! the same stroke rate.

use crate::craft_cells;

use barform_app::craft::carry::*;
use barform_app::craft::modulate::*;
use barform_app::music::*;
use craft_cells::*;
use proptest::prelude::*;

fn named(name: &str) -> Subdivision {
    Subdivision::from_name(name).unwrap()
}

/// Hand-worked: six strokes as sixteenths are a beat and a half; three beats and
/// so two of them, or three bars and so eight of them, in 4/4.
#[test]
fn six_sixteenths_against_four_quarters() {
    let six = cell("6", "R L K R L K");
    let carried = carry(&six, &named("16ths")).unwrap();
    assert_eq!(
        (carried.before, carried.after),
        (Beats::ONE, Beats::new(3, 2))
    );
    assert_eq!(carried.cell.slots, six.slots);
    let back = realign(carried.after, Meter::FOUR_FOUR.bar()).unwrap();
    assert_eq!(
        (back.repeats, back.bars, back.beats),
        (8, 3, Beats::whole(12))
    );
    let in_three = realign(carried.after, Beats::whole(3)).unwrap();
    assert_eq!((in_three.repeats, in_three.bars), (2, 1));
    assert!(realign(Beats::ZERO, Beats::ONE).is_err());
}

#[test]
fn ways_to_close_best_first() {
    let six = carry(&cell("6", "R L K R L K"), &named("16ths"))
        .unwrap()
        .cell;
    let told: Vec<String> = close(&six, Beats::ZERO, Beats::whole(4))
        .unwrap()
        .iter()
        .map(Close::to_string)
        .collect();
    // By price: three bars at a quarter each; half a beat cut and one bar, which
    // is as much; half a beat added and two bars.
    assert_eq!(told[0], "play it 8 times: closes after 3 bars");
    assert_eq!(
        told[1],
        "play it 2 times and once more cut after 4 slots: closes after 1 bar"
    );
    assert_eq!(
        told[2],
        "play it 5 times and add a tail of 2 slots: closes after 2 bars"
    );
    let late = close(&six, Beats::new(5, 2), Beats::whole(4)).unwrap();
    assert_eq!(late[0].way, Way::Repeat { times: 1 });
    assert!(close(&six, Beats::new(-1, 2), Beats::whole(4)).is_err());
}

#[test]
fn tails_of_rests_and_of_strokes() {
    let cell = cell("3@3/2", "R L K");
    let close = Close {
        way: Way::Tail {
            times: 2,
            beats: Beats::ONE,
            slots: Some(2),
        },
        bars: 1,
        changed: Beats::ONE,
    };
    let rests = close.cells(&cell, TailFill::Rest).unwrap();
    assert_eq!(strokes(&rests[2]), "-");
    let again = close.cells(&cell, TailFill::LastStrokes).unwrap();
    assert_eq!(
        (strokes(&again[2]).as_str(), again[2].letter.as_str()),
        ("L K", "A'")
    );
}

#[test]
fn closing_rules_are_checked() {
    let text = include_str!("../../../craft/src/data/carry.toml");
    assert_eq!(&CloseRules::from_toml(text).unwrap(), CloseRules::builtin());
    let told = |from: &str, to: &str| {
        assert!(text.contains(from), "{from}");
        CloseRules::from_toml(&text.replacen(from, to, 1))
            .unwrap_err()
            .to_string()
    };
    assert_eq!(
        told("most_bars = 32", "most_bars = 0"),
        "carry rules: most_bars is 0; allowed are 1 to 256"
    );
    assert_eq!(
        told("\"1/4\"", "\"17\""),
        "carry rules: beats_for_each_bar is 17; allowed are 0 to 16 beats such as 1/4"
    );
    assert_eq!(
        told("most_ways = 12", "most_ways = 101"),
        "carry rules: most_ways is 101; allowed are 1 to 100"
    );
    assert!(told("most_ways = 12", "most_way = 12").contains("most_way"));
    // Where bars cost a whole beat each, the short way comes first.
    let dear = CloseRules::from_toml(&text.replacen("\"1/4\"", "\"1\"", 1)).unwrap();
    let six = carry(&cell("6", "R L K R L K"), &named("16ths"))
        .unwrap()
        .cell;
    let first = close_by(&dear, &six, Beats::ZERO, Beats::whole(4)).unwrap()[0];
    assert_eq!(first.way, Way::Cut { times: 2, slots: 4 });
}

/// Hand-worked, common practice: six strokes a beat at 80 are 480 a minute, four
/// a beat at 120 are too.
#[test]
fn modulations_keep_the_stroke_rate() {
    let way = Modulation::of_slots(Beats::whole(80), &named("16th-triplets"), &named("16ths"));
    let way = way.unwrap();
    assert_eq!((way.to, way.ratio), (Beats::whole(120), Beats::new(3, 2)));
    assert_eq!(
        way.to_string(),
        "sixteenth-triplet = sixteenth, ♩ = 80 → ♩ = 120 (3:2)"
    );
    assert_eq!(
        way.back().to_string(),
        "sixteenth = sixteenth-triplet, ♩ = 120 → ♩ = 80 (2:3)"
    );
    let dotted = Modulation::of_values(Beats::whole(100), Beats::new(3, 4), Beats::ONE).unwrap();
    assert_eq!(dotted.to, Beats::new(400, 3));
    assert_eq!(
        dotted.to_string(),
        "dotted eighth = quarter, ♩ = 100 → ♩ = about 133.333 (4:3)"
    );
    let five = Modulation::of_slots(Beats::new(185, 2), &named("quintuplets"), &named("16ths"));
    assert_eq!(
        five.unwrap().to_string(),
        "sixteenth of a quintuplet = sixteenth, ♩ = 92.5 → ♩ = 115.625 (5:4)"
    );
    let uneven = Subdivision(grid("4 6"));
    let fails = Modulation::of_slots(Beats::whole(80), &uneven, &named("16ths")).unwrap_err();
    assert_eq!(
        fails.to_string(),
        "'4 6' has slots of several lengths; take one with even slots, such as 16ths"
    );
    assert!(Modulation::of_values(Beats::ZERO, Beats::ONE, Beats::ONE).is_err());
}

#[test]
fn all_named_modulations_nearest_first() {
    let ways = modulations(Beats::whole(120), &named("16ths")).unwrap();
    let tempos: Vec<String> = ways.iter().map(|m| decimal(m.to, 2)).collect();
    assert_eq!(
        tempos,
        [
            "96",
            "160",
            "80",
            "about 68.57",
            "60",
            "240",
            "about 53.33",
            "320",
            "40"
        ]
    );
}

/// Common practice, no source.
#[test]
fn note_values_have_their_names() {
    for (numer, denom, name) in [
        (4, 1, "whole"),
        (3, 1, "dotted half"),
        (2, 3, "quarter-triplet"),
        (1, 3, "eighth-triplet"),
        (1, 6, "sixteenth-triplet"),
        (1, 12, "32nd-triplet"),
        (3, 8, "dotted sixteenth"),
        (7, 4, "double-dotted quarter"),
        (1, 7, "sixteenth of a septuplet"),
        (1, 9, "32nd of a nonuplet"),
        (5, 4, "5/4 quarter notes"),
    ] {
        assert_eq!(note_value(Beats::new(numer, denom)), name);
    }
    assert_eq!(decimal(Beats::new(2, 3), 2), "about 0.67");
    assert_eq!(decimal(Beats::new(2, 3), 0), "about 1");
    assert_eq!(decimal(Beats::new(-1, 4), 3), "-0.25");
}

fn any_cell() -> impl Strategy<Value = Cell> {
    let length = (1i64..5, 1i64..4).prop_map(|(n, d)| Beats::new(n, d));
    let span = (1u8..=12, length).prop_map(|(n, length)| Span::new(n, length).unwrap());
    let spans = proptest::collection::vec(span, 1..4);
    (spans, proptest::collection::vec(0usize..4, 12)).prop_map(|(spans, limbs)| {
        let grid = Grid::new(spans).unwrap();
        let stroke = |i: usize| vec![Stroke::plain(Limb::ALL[limbs[i % limbs.len()]])];
        let slots = (0..grid.slot_count()).map(stroke).collect();
        Cell {
            letter: Letter::new("A").unwrap(),
            grid,
            slots,
        }
    })
}

proptest! {
    #[test]
    fn carried_there_and_back(cell in any_cell(), n in 1u8..=13) {
        let there = carry(&cell, &Subdivision(Grid::per_beat(n).unwrap())).unwrap();
        prop_assert_eq!(&there.cell.slots, &cell.slots);
        prop_assert_eq!(there.after, Beats::new(cell.slots.len() as i64, i64::from(n)));
        let back = carry(&there.cell, &Subdivision(cell.grid.clone())).unwrap();
        prop_assert_eq!(back.after, there.before);
        prop_assert_eq!(back.cell, cell);
    }

    /// Against counting: repeat until a bar line is met.
    #[test]
    fn realigning_equals_counting(n in 1i64..40, d in 1i64..13, bar in 1i64..8, half in any::<bool>()) {
        let (length, bar) = (Beats::new(n, d), Beats::new(bar, if half { 2 } else { 1 }));
        let found = realign(length, bar).unwrap();
        let mut at = Beats::ZERO;
        let mut repeats = 0;
        loop {
            at = at.checked_add(length).unwrap();
            repeats += 1;
            if at.checked_rem(bar).unwrap().is_zero() {
                break;
            }
        }
        prop_assert_eq!((found.repeats, found.beats), (repeats, at));
        prop_assert_eq!(Beats::whole(found.bars as i64).checked_mul(bar).unwrap(), at);
    }

    /// Every way offered ends on a bar line, with what it says it plays.
    #[test]
    fn every_way_closes(cell in any_cell(), n in 1u8..=9, from in 0i64..8, bar in 1i64..8) {
        let cell = carry(&cell, &Subdivision(Grid::per_beat(n).unwrap())).unwrap().cell;
        let (from, bar) = (Beats::new(from, 2), Beats::whole(bar));
        let into = from.checked_rem(bar).unwrap();
        let ways = close(&cell, from, bar).unwrap();
        prop_assert!(!ways.is_empty() || bar.checked_mul(Beats::whole(32)).unwrap() < cell.grid.length().unwrap());
        for way in ways {
            for fill in [TailFill::Rest, TailFill::LastStrokes] {
                let mut at = into;
                for played in way.cells(&cell, fill).unwrap() {
                    prop_assert_eq!(played.slots.len(), played.grid.slot_count());
                    at = at.checked_add(played.grid.length().unwrap()).unwrap();
                }
                prop_assert_eq!(at, bar.checked_mul(Beats::whole(way.bars as i64)).unwrap(), "{}", way);
            }
        }
    }

    #[test]
    fn strokes_a_minute_stay(tempo in 20i64..=400, a in 1u8..=13, b in 1u8..=13) {
        let sub = |n| Subdivision(Grid::per_beat(n).unwrap());
        let way = Modulation::of_slots(Beats::whole(tempo), &sub(a), &sub(b)).unwrap();
        let rate = |t: Beats, n: u8| t.checked_mul(Beats::whole(i64::from(n))).unwrap();
        prop_assert_eq!(rate(way.tempo, a), rate(way.to, b));
        prop_assert_eq!(way.back().back(), way);
    }
}
