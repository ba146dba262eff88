//! What a compiled score holds, against times worked out by hand.

use barform_app::music::*;
use barform_app::score::Score;
use barform_app::timeline::*;
use proptest::prelude::*;

fn timeline(text: &str) -> Timeline {
    let score = Score::parse(&format!("barform = 1\n{text}"), "test.barform").unwrap();
    Timeline::compile(&score).unwrap()
}

/// `(time in beats as text, key)` of a lane's main strokes.
fn strokes(lane: &Lane) -> Vec<(f64, u8)> {
    lane.main
        .at
        .iter()
        .zip(&lane.main.notes)
        .map(|(at, n)| (*at, n.key.number()))
        .collect()
}

fn at(lane: &Lane) -> Vec<f64> {
    lane.main.at.clone()
}

const CELLS: &str = r#"
[cell.A]
grid = "4"
sticking = "R> L (R) K"
[cell.B]
grid = "3@2"
sticking = "R L R"
voices = "tom1 tom2 hat:open"
[cell."A'"]
like = "A"
voices = "tom1 . snare:cross kick"
"#;

#[test]
fn strokes_stand_at_their_exact_times_on_their_keys() {
    let t = timeline(&format!("form = \"A B A'\"\n{CELLS}"));
    assert_eq!(t.length, Beats::whole(4));
    // General MIDI keys: snare 38, kick 36, toms 50 and 48, open hat 46, side
    // stick 37.
    let want = [
        (0.0, 38),
        (0.25, 38),
        (0.5, 38),
        (0.75, 36),
        (1.0, 50),
        (5.0 / 3.0, 48),
        (7.0 / 3.0, 46),
        (3.0, 50),
        (3.25, 50),
        (3.5, 37),
        (3.75, 36),
    ];
    assert_eq!(strokes(t.form()), want);
    let velocities: Vec<u8> = t.form().main.notes[..4]
        .iter()
        .map(|n| n.velocity.value())
        .collect();
    let curve = VelocityCurve::default();
    let want = [curve.accent, curve.normal, curve.ghost, curve.normal].map(Velocity::value);
    assert_eq!(velocities, want);
}

#[test]
fn overrides_change_time_loudness_and_voice() {
    let t = timeline(&format!("form = \"A[rate 2] A[8ths carry] B[6]\"\n{CELLS}"));
    let mut want: Vec<f64> = (0..4).map(|i| f64::from(i) / 8.0).collect();
    want.extend((0..4).map(|i| 0.5 + f64::from(i) / 2.0));
    want.extend((0..12).map(|i| (Beats::new(5, 2).to_f64() * 6.0 + f64::from(i)) / 6.0));
    assert_eq!(at(t.form()).len(), want.len());
    for (got, want) in at(t.form()).iter().zip(&want) {
        assert!((got - want).abs() <= f64::EPSILON * 4.0, "{got} {want}");
    }
    assert_eq!(t.length, Beats::new(9, 2));

    let t = timeline(&format!(
        "form = \"A A[level 50%] A[voicing low]\"\n{CELLS}\n[voicing.low]\nsnare = \"tom6\"\n"
    ));
    let notes = &t.form().main.notes;
    assert_eq!(
        notes[4].velocity.value(),
        (f64::from(notes[0].velocity.value()) / 2.0).round() as u8
    );
    assert_eq!(notes[8].key.number(), 41, "low floor tom");
    assert_eq!(notes[11].key.number(), 36, "the kick stays");
}

#[test]
fn a_change_in_a_reaches_its_variations() {
    let before = timeline(&format!("form = \"A'\"\n{CELLS}"));
    let after = timeline(&format!(
        "form = \"A'\"\n{}",
        CELLS.replace("R> L (R) K", "L R> L K")
    ));
    let limbs = |t: &Timeline| -> Vec<Option<Limb>> {
        t.form().main.notes.iter().map(|n| n.limb).collect()
    };
    assert_eq!(limbs(&before)[0], Some(Limb::RightHand));
    assert_eq!(limbs(&after)[0], Some(Limb::LeftHand));
    assert_eq!(
        strokes(before.form()),
        strokes(after.form()),
        "voices stay its own"
    );
}

#[test]
fn bars_follow_meters_sections_and_pickup() {
    let t = timeline(&format!(
        "meter = \"7/8\"\npickup = \"1/2\"\n{CELLS}\n\
         [cell.C]\ngrid = \"1@1/2\"\nsticking = \"R\"\n\
         [cell.D]\ngrid = \"7@7/2\"\nsticking = \"R L R L R L K\"\n\
         [[section]]\nname = \"Intro\"\nform = \"C D D |\"\n\
         [[section]]\nname = \"Out\"\nmeter = \"4/4\"\nform = \"A B A | A\"\n"
    ));
    let bars: Vec<(u32, Beats, String)> = t
        .bars
        .iter()
        .map(|b| (b.number, b.start, b.meter.to_string()))
        .collect();
    let want = [
        (0, (0, 1), "7/8"),
        (1, (1, 2), "7/8"),
        (2, (4, 1), "7/8"),
        (3, (15, 2), "4/4"),
        (4, (23, 2), "4/4"),
    ]
    .map(|(n, (a, b), m)| (n, Beats::new(a, b), m.to_owned()));
    assert_eq!(bars, want);
    let names: Vec<(&str, Beats)> = t
        .sections
        .iter()
        .map(|s| (s.name.as_str(), s.start))
        .collect();
    assert_eq!(names, [("Intro", Beats::ZERO), ("Out", Beats::new(15, 2))]);
    // The pickup is counted as the end of a bar of seven.
    assert_eq!(t.counts(&t.places[0]).unwrap(), ["7"]);
    assert_eq!(
        t.counts(&t.places[1]).unwrap(),
        ["1", "2", "3", "4", "5", "6", "7"]
    );
}

#[test]
fn the_click_marks_pulses_and_bar_lines() {
    let click = |t: &Timeline| {
        let lane = t.lanes.iter().find(|l| l.role == LaneRole::Click).unwrap();
        strokes(lane)
    };
    let t = timeline(&format!("form = \"A A A A A\"\n{CELLS}"));
    let want = [(0.0, 34), (1.0, 33), (2.0, 33), (3.0, 33), (4.0, 34)];
    assert_eq!(
        click(&t),
        want,
        "bell on the bar line, click on the other beats"
    );
    let t = timeline(
        "meter = \"12/8\"\nform = \"A\"\n[cell.A]\ngrid = \"12@6\"\nsticking = \"R L R L R L R L R L R L\"\n",
    );
    let want = [(0.0, 34), (1.5, 33), (3.0, 33), (4.5, 33)];
    assert_eq!(click(&t), want, "dotted quarters in 12/8");
}

#[test]
fn ostinatos_and_letters_have_lanes_of_their_own() {
    let t = timeline(&format!(
        "form = \"A B A\"\n{CELLS}\n[ostinato.feet]\ngrid = \"2 1\"\nsticking = \"- H K\"\n"
    ));
    let lane = t
        .lanes
        .iter()
        .find(|l| l.role == LaneRole::Ostinato(0))
        .unwrap();
    assert_eq!(lane.cycle, Beats::whole(2));
    assert_eq!(strokes(lane), [(0.5, 44), (1.0, 36)]);
    assert_eq!(t.letters.len(), 3);
    let b = &t.lanes[t.letter_lane(1).unwrap()];
    assert_eq!(b.cycle, Beats::whole(2));
    assert_eq!(at(b), [0.0, 2.0 / 3.0, 4.0 / 3.0]);
}

#[test]
fn ornaments_become_tracks() {
    let t = timeline("form = \"A\"\n[cell.A]\ngrid = \"4\"\nsticking = \"lR llR rlrL Rz\"\n");
    let lane = t.form();
    assert_eq!(lane.graces.each_ref().map(|track| track.len()), [3, 2, 1]);
    assert_eq!(lane.graces[0].at, [0.0, 0.25, 0.5]);
    assert_eq!(lane.graces[2].at, [0.5]);
    for track in &lane.bounces {
        assert_eq!(track.at, [0.75]);
        // Rounded down, so that no bounce falls on the next slot.
        assert!(track.room[0] < 0.25 && track.room[0] > 0.2499);
    }
    let ghost = VelocityCurve::default().ghost;
    assert!(
        lane.graces[0].notes.iter().all(|n| n.velocity == ghost),
        "taps"
    );
}

#[test]
fn a_form_with_too_many_bars_is_refused() {
    let text = "barform = 1\nmeter = \"1/64\"\nform = \"((A)x9999)x2\"\n\
                [cell.A]\ngrid = \"1\"\nsticking = \"R\"\n";
    let score = Score::parse(text, "test.barform").unwrap();
    assert_eq!(
        Timeline::compile(&score).unwrap_err(),
        CompileError::TooManyBars
    );
}

#[test]
fn the_embedded_demo_shows_what_it_promises() {
    let t = {
        let score = Score::parse(barform_app::DEMO_SCORE, "demo.barform").unwrap();
        Timeline::compile(&score).unwrap()
    };
    let per_beat = |n: u8| {
        t.places
            .iter()
            .any(|p| t.cell_of(p).grid.spans().iter().any(|s| s.slots == n))
    };
    assert!(per_beat(4), "sixteenths");
    assert!(per_beat(6), "sixteenth-triplets");
    assert!(
        t.places
            .iter()
            .any(|p| t.letters[p.letter as usize].primes() > 0),
        "a variation"
    );
    assert!(
        t.lanes
            .iter()
            .any(|l| matches!(l.role, LaneRole::Ostinato(_))),
        "an ostinato"
    );
    assert!(!t.form().graces[0].is_empty(), "an ornament");
    let last = t.bars.last().unwrap();
    assert_eq!(
        last.start.checked_add(last.meter.bar()).unwrap(),
        t.length,
        "whole bars"
    );
}

proptest! {
    /// Look-ups agree with a plain search through everything.
    #[test]
    fn look_ups_find_what_a_plain_search_finds(
        form in proptest::collection::vec(0usize..3, 1..40),
        positions in proptest::collection::vec(-1.0f64..90.0, 1..30),
    ) {
        let letters = ["A", "B", "A'"];
        let form: Vec<&str> = form.into_iter().map(|i| letters[i]).collect();
        let t = timeline(&format!("form = \"{}\"\n{CELLS}", form.join(" ")));
        for at in positions {
            let inside = at >= 0.0 && at < t.length_beats();
            let place = t.places.iter().rposition(|p| p.start.to_f64() <= at).filter(|_| inside);
            prop_assert_eq!(t.place_at(at), place);
            let bar = t.bars.iter().rposition(|b| b.start.to_f64() <= at).filter(|_| inside);
            prop_assert_eq!(t.bar_at(at), bar);
            prop_assert_eq!(t.section_at(at), inside.then_some(0));
        }
        // Places and strokes are in order and belong together.
        prop_assert!(t.form().main.at.is_sorted());
        for (i, place) in t.form().place.iter().enumerate() {
            let place = &t.places[*place as usize];
            let from = place.start.to_f64();
            let to = place.start.checked_add(place.length).unwrap().to_f64();
            prop_assert!((from..to).contains(&t.form().main.at[i]));
        }
    }
}

/// A host must never be asked to play a million notes in a block.
#[test]
fn slots_too_short_to_play_are_refused() {
    let error = |text: &str| {
        Score::parse(&format!("barform = 1\n{text}"), "test.barform")
            .unwrap_err()
            .to_string()
    };
    let cell = "[cell.A]\ngrid = \"64@1/1000\"\nsticking = \"";
    let text = format!("form = \"A\"\n{cell}{}\"\n", "R ".repeat(64));
    assert!(
        error(&text).contains("1/1024 of a beat"),
        "{}",
        error(&text)
    );
    let text = "form = \"(((((A)x1[rate 2])x1[rate 2])x1[rate 2])x1[rate 2])x1[rate 2]\"\n\
                [cell.A]\ngrid = \"64\"\nsticking = \"";
    let text = format!("{text}{}\"\n", "R ".repeat(64));
    assert!(
        error(&text).contains("1/1024 of a beat"),
        "{}",
        error(&text)
    );
}
