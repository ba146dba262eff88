//! Facts of the trade and of published standards that the types must agree
//! with.

use barform_app::craft::refit::{opening_figure, stretches};
use barform_app::music::*;
use proptest::prelude::*;

fn grid(spans: &[(u8, i64, i64)]) -> Grid {
    Grid::new(
        spans
            .iter()
            .map(|(n, a, b)| Span::new(*n, Beats::new(*a, *b)).unwrap())
            .collect(),
    )
    .unwrap()
}

fn counts(spans: &[(u8, i64, i64)], meter: Meter) -> Vec<String> {
    count_syllables(&grid(spans), Beats::ZERO, meter).unwrap()
}

/// General MIDI System Level 1, percussion key map on channel 10 (MIDI
/// Association); the table is from memory.
#[test]
fn default_kit_is_the_general_midi_percussion_map() {
    use Articulation::*;
    let kit = Kit::general_midi();
    for (key, voice, articulation, gm_name) in [
        (36, Voice::Kick, Plain, "Bass Drum 1"),
        (37, Voice::Snare, Cross, "Side Stick"),
        (38, Voice::Snare, Plain, "Acoustic Snare"),
        (40, Voice::Snare, Rim, "Electric Snare"),
        (41, Voice::Tom6, Plain, "Low Floor Tom"),
        (42, Voice::Hat, Plain, "Closed Hi Hat"),
        (43, Voice::Tom5, Plain, "High Floor Tom"),
        (44, Voice::HatFoot, Plain, "Pedal Hi-Hat"),
        (45, Voice::Tom4, Plain, "Low Tom"),
        (46, Voice::Hat, Open, "Open Hi-Hat"),
        (47, Voice::Tom3, Plain, "Low-Mid Tom"),
        (48, Voice::Tom2, Plain, "Hi Mid Tom"),
        (49, Voice::Crash, Plain, "Crash Cymbal 1"),
        (50, Voice::Tom1, Plain, "High Tom"),
        (51, Voice::Ride, Plain, "Ride Cymbal 1"),
        (52, Voice::China, Plain, "Chinese Cymbal"),
        (53, Voice::Ride, Bell, "Ride Bell"),
        (55, Voice::Splash, Plain, "Splash Cymbal"),
        (56, Voice::Cowbell, Plain, "Cowbell"),
        (57, Voice::Crash2, Plain, "Crash Cymbal 2"),
    ] {
        let found = kit.key(voice, articulation).map(Key::number);
        assert_eq!(found, Some(key), "{gm_name}");
        assert_eq!(kit.voice(voice).channel.number(), 10, "{gm_name}");
        let back = kit.voice_of_key(Channel::PERCUSSION, Key::new(key).unwrap());
        assert_eq!(back, Some((voice, articulation)), "{gm_name}");
    }
}

#[test]
fn every_voice_has_a_key_and_toms_fall() {
    let kit = Kit::general_midi();
    for voice in Voice::ALL {
        for articulation in voice.articulations() {
            assert!(
                kit.key(voice, *articulation).is_some(),
                "{voice:?} {articulation:?}"
            );
        }
    }
    let toms = [
        Voice::Tom1,
        Voice::Tom2,
        Voice::Tom3,
        Voice::Tom4,
        Voice::Tom5,
        Voice::Tom6,
    ];
    let keys = toms.map(|tom| kit.key(tom, Articulation::Plain).unwrap().number());
    assert!(
        keys.windows(2).all(|w| w[0] > w[1]),
        "GM toms fall with their keys: {keys:?}"
    );
}

/// Common practice, no source.
#[test]
fn counting_tables() {
    let four = Meter::FOUR_FOUR;
    assert_eq!(
        counts(&[(4, 1, 1), (4, 1, 1)], four),
        ["1", "e", "&", "a", "2", "e", "&", "a"]
    );
    assert_eq!(
        counts(&[(3, 1, 1), (2, 1, 1)], four),
        ["1", "trip", "let", "2", "&"]
    );
    assert_eq!(
        counts(&[(6, 1, 1)], four),
        ["1", "ta", "la", "&", "ta", "la"]
    );
    assert_eq!(counts(&[(1, 4, 1)], four), ["1"]);
    // Eighths are counted in 7/8.
    let seven = Meter::new(7, 8).unwrap();
    assert_eq!(
        counts(&[(7, 7, 2)], seven),
        ["1", "2", "3", "4", "5", "6", "7"]
    );
    assert_eq!(counts(&[(4, 1, 1)], seven), ["1", "&", "2", "&"]);
}

#[test]
fn counts_without_a_tradition_are_still_unambiguous() {
    let thirteen = counts(&[(13, 1, 1)], Meter::FOUR_FOUR);
    assert_eq!(thirteen[0], "1");
    for (i, count) in thirteen.iter().enumerate().skip(1) {
        assert_eq!(*count, format!("1+{i}/13"));
    }
    // Quarter triplets fall on every other eighth triplet.
    assert_eq!(counts(&[(3, 2, 1)], Meter::FOUR_FOUR), ["1", "let", "trip"]);
}

#[test]
fn meters_fill_their_bars() {
    for (count, unit, bar) in [
        (4, 4, (4, 1)),
        (5, 4, (5, 1)),
        (7, 8, (7, 2)),
        (12, 8, (6, 1)),
        (2, 2, (4, 1)),
    ] {
        assert_eq!(
            Meter::new(count, unit).unwrap().bar(),
            Beats::new(bar.0, bar.1)
        );
    }
    let pulse = |count, unit| Meter::new(count, unit).unwrap().pulse();
    assert_eq!(pulse(12, 8), Beats::new(3, 2), "dotted quarter");
    assert_eq!(pulse(4, 4), Beats::ONE);
    assert_eq!(pulse(7, 8), Beats::new(1, 2));
    for bad in [(0, 4), (4, 0), (4, 3), (4, 128), (65, 4)] {
        assert_eq!(Meter::new(bad.0, bad.1), None, "{bad:?}");
    }
}

/// Sixteenth-note triplets are six a beat; two one-beat cells and one two-beat
/// cell fill a bar of 4/4. Common practice, no source.
#[test]
fn facts_of_time() {
    let six = Subdivision::from_name("16th-triplets").unwrap();
    assert_eq!(six.0.spans()[0].slot_length().unwrap(), Beats::new(1, 6));
    let bar = [Beats::ONE, Beats::ONE, Beats::whole(2)]
        .into_iter()
        .try_fold(Beats::ZERO, Beats::checked_add)
        .unwrap();
    assert_eq!(bar, Meter::FOUR_FOUR.bar());
}

#[test]
fn beats_read_what_people_write() {
    for (text, beats) in [
        ("2", (2, 1)),
        ("3/2", (3, 2)),
        ("0.5", (1, 2)),
        ("-1.25", (-5, 4)),
        ("92.5", (185, 2)),
    ] {
        assert_eq!(
            text.parse::<Beats>().unwrap(),
            Beats::new(beats.0, beats.1),
            "{text}"
        );
    }
    for bad in [
        "",
        "x",
        "1/0",
        "1/-2",
        "1e3",
        "1.",
        ".",
        "--1",
        "1/2/3",
        "99999999",
        "0.1234567",
    ] {
        assert!(bad.parse::<Beats>().is_err(), "{bad:?}");
    }
}

#[test]
fn letters_read_what_people_write() {
    assert_eq!(Letter::new("A″").unwrap().as_str(), "A''");
    assert_eq!(Letter::new("B12'").unwrap().primes(), 1);
    for bad in ["", "a", "AB", "A123", "A'b", "A'''''''''", "Ä"] {
        assert_eq!(Letter::new(bad), None, "{bad:?}");
    }
}

fn any_grid() -> impl Strategy<Value = Grid> {
    let length = prop_oneof![
        3 => Just(Beats::ONE),
        1 => (1i64..5, 1i64..5).prop_map(|(n, d)| Beats::new(n, d)),
    ];
    let span = (1u8..=64, length).prop_map(|(n, length)| Span::new(n, length).unwrap());
    proptest::collection::vec(span, 1..6).prop_map(|spans| Grid::new(spans).unwrap())
}

fn any_cell() -> impl Strategy<Value = Cell> {
    (any_grid(), any::<u64>()).prop_map(|(grid, seed)| {
        let slots = (0..grid.slot_count())
            .map(|i| match (seed >> (i % 60)) & 3 {
                0 => vec![],
                1 => vec![Stroke::plain(Limb::RightHand)],
                2 => vec![Stroke::plain(Limb::LeftHand)],
                _ => vec![
                    Stroke::plain(Limb::KickFoot),
                    Stroke::plain(Limb::RightHand),
                ],
            })
            .collect();
        Cell {
            letter: Letter::new("A").unwrap(),
            grid,
            slots,
        }
    })
}

proptest! {
    #[test]
    fn slot_bounds_cut_the_grid_exactly(grid in any_grid()) {
        let bounds = grid.slot_bounds().unwrap();
        prop_assert_eq!(bounds.len(), grid.slot_count() + 1);
        prop_assert_eq!(bounds[0], Beats::ZERO);
        prop_assert_eq!(*bounds.last().unwrap(), grid.length().unwrap());
        prop_assert!(bounds.windows(2).all(|w| w[0] < w[1]));
    }

    #[test]
    fn refit_and_carry_onto_the_own_grid_are_the_identity(cell in any_cell()) {
        let own = Subdivision(cell.grid.clone());
        prop_assert_eq!(&cell.on(&own, Fit::Refit).unwrap(), &cell);
        prop_assert_eq!(&cell.on(&own, Fit::Carry).unwrap(), &cell);
    }

    #[test]
    fn refit_keeps_the_length_and_the_opening(cell in any_cell(), n in 1u8..13) {
        let to = Subdivision(Grid::per_beat(n).unwrap());
        match cell.on(&to, Fit::Refit) {
            Ok(refit) => {
                prop_assert_eq!(refit.grid.length().unwrap(), cell.grid.length().unwrap());
                let first = &stretches(&cell.grid, &refit.grid).unwrap()[0];
                let opening = opening_figure(&cell, 4).unwrap();
                let kept = opening.min(first.source.len()).min(first.target.len());
                prop_assert!(kept >= 1);
                prop_assert_eq!(&refit.slots[..kept], &cell.slots[..kept]);
                prop_assert_eq!(refit.slots.len(), refit.grid.slot_count());
            }
            Err(RefitError::NoWholeSlots { .. }) => {
                let slots = cell.grid.length().unwrap().checked_mul(Beats::whole(i64::from(n)));
                prop_assert!(!slots.unwrap().is_whole());
            }
            Err(other) => return Err(TestCaseError::fail(other.to_string())),
        }
    }

    #[test]
    fn carry_keeps_the_strokes_and_carries_back(cell in any_cell(), n in 1u8..13) {
        let to = Subdivision(Grid::per_beat(n).unwrap());
        let carried = cell.on(&to, Fit::Carry).unwrap();
        prop_assert_eq!(&carried.slots, &cell.slots);
        let want = Beats::new(cell.slots.len() as i64, i64::from(n));
        prop_assert_eq!(carried.grid.length().unwrap(), want);
        let back = carried.on(&Subdivision(cell.grid.clone()), Fit::Carry).unwrap();
        prop_assert_eq!(back, cell);
    }

    #[test]
    fn sums_are_those_of_fractions(
        a in -1_000i64..1_000, b in 1i64..65, c in -1_000i64..1_000, d in 1i64..65,
    ) {
        let sum = Beats::new(a, b).checked_add(Beats::new(c, d)).unwrap();
        prop_assert_eq!(sum, Beats::new(a * d + c * b, b * d));
        prop_assert_eq!((sum.numer(), sum.denom()), {
            let reduced = num_rational::Ratio::new(a * d + c * b, b * d);
            (*reduced.numer(), *reduced.denom())
        });
    }

    #[test]
    fn remainders_stay_below_the_period(n in -10_000i64..10_000, d in 1i64..64, p in 1i64..64) {
        let (at, period) = (Beats::new(n, d), Beats::new(p, 7));
        let rest = at.checked_rem(period).unwrap();
        prop_assert!(rest >= Beats::ZERO && rest < period);
        let turns = at.checked_sub(rest).unwrap().checked_div(period).unwrap();
        prop_assert!(turns.is_whole());
    }
}
