//! Onsets of 1,000 random plans, and what each part of a plan does.

use crate::random::{Q, case, q, worked};
use barform_practice::plan::Plan;
use barform_practice::schedule::{Ornaments, Schedule, Sounding};
use barform_practice::track;
use barform_score::score::Score;
use num_bigint::BigInt;
use num_traits::ToPrimitive;
use proptest::prelude::*;

const RATE_HZ: u32 = 48_000;

fn frame(seconds: &Q) -> u64 {
    let exact = seconds * BigInt::from(RATE_HZ) + q(1, 2);
    exact.floor().to_integer().to_u64().unwrap()
}

pub fn schedule(score: &str, plan: &str) -> Schedule {
    let score = Score::parse(score, "score").unwrap();
    let plan = Plan::parse(plan, "plan").unwrap();
    Schedule::new(&plan, &score, &[]).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1_000))]

    /// Every note on the sample of the exact calculation, and none besides: what
    /// is to be silent is silent.
    #[test]
    fn onsets_are_those_worked_out_from_the_descriptions((music, asked) in case()) {
        let (score, plan) = (music.text(), asked.text(&music));
        let parsed = Score::parse(&score, "score");
        // A pickup may leave no room for the form.
        prop_assume!(parsed.is_ok());
        let plan = Plan::parse(&plan, "plan").unwrap();
        let schedule = Schedule::new(&plan, &parsed.unwrap(), &[]).unwrap();
        let worked = worked(&music, &asked);

        let (frames, end) = track::frames(&schedule, Ornaments::default(), RATE_HZ).unwrap();
        let mut got: Vec<_> = frames
            .iter()
            .map(|(at, n)| (*at, n.key.number(), n.velocity.value()))
            .collect();
        let wanted = worked.notes.iter();
        let mut wanted: Vec<_> = wanted.map(|n| (frame(&n.at), n.key, n.velocity)).collect();
        got.sort_unstable();
        wanted.sort_unstable();
        prop_assert_eq!(got, wanted);
        prop_assert_eq!(schedule.ends.exact(), &worked.ends);
        prop_assert_eq!(end, frame(&worked.ends));

        // A step begins on a bar line, exactly; the first also with a pickup.
        let mut steps: Vec<Q> = Vec::new();
        let mut step = None;
        let count_in = asked.count_in > 0;
        for segment in &schedule.segments {
            if segment.source.is_some() && step != Some(segment.step) {
                let first = step.is_none() || asked.every_step;
                prop_assert!(segment.bar_line || first);
                steps.push(segment.begins.exact().clone());
                step = Some(segment.step);
            }
        }
        prop_assert_eq!(steps, worked.steps);
        let lines = schedule.segments.iter().filter(|s| s.bar_line);
        let lines: Vec<Q> = lines.map(|s| s.begins.exact().clone()).collect();
        prop_assert_eq!(lines, worked.lines);
        prop_assert_eq!(schedule.segments[0].source.is_none(), count_in);

        // Segments tile.
        let mut now = q(0, 1);
        for segment in &schedule.segments {
            prop_assert!(segment.length.is_positive());
            prop_assert_eq!(segment.begins.exact(), &now);
            let length = q(segment.length.numer(), segment.length.denom());
            let tempo = q(segment.tempo.numer(), segment.tempo.denom());
            now += length * BigInt::from(60) / tempo;
        }
        prop_assert_eq!(schedule.ends.exact(), &now);
    }
}

/// One bar: four quarter notes, each on its own drum.
pub const FOUR: &str = r#"
barform = 1
tempo = 120
form = "A B |"
[cell.A]
grid = "2@2"
sticking = "R L"
voices = "snare tom1"
[cell.B]
grid = "2@2"
sticking = "R L"
voices = "tom2 tom3"
"#;

/// Seconds and keys of all notes but the click's.
fn keys(schedule: &Schedule) -> Vec<(f64, u8)> {
    let onsets = schedule.onsets(Ornaments::default()).unwrap();
    let played = onsets.iter().filter(|o| o.part != Sounding::Click);
    played
        .map(|o| (o.seconds.to_f64(), o.note.key.number()))
        .collect()
}

#[test]
fn an_echo_leaves_the_same_bars_open_once_more() {
    let plan = "barform = 1\n[practice]\neach = \"2 passes\"\n[practice.count-in]\nbars = 0\n\
                [practice.trading]\nturns = \"barform 1 bars, echo\"\n";
    let schedule = schedule(FOUR, plan);
    // Two bars, each with its echo.
    assert_eq!(schedule.ends.to_f64(), 8.0);
    let one = [(0.0, 38), (0.5, 50), (1.0, 48), (1.5, 47)];
    let two = one.map(|(at, key)| (at + 4.0, key));
    assert_eq!(keys(&schedule), [one, two].concat());
    let sources: Vec<_> = schedule
        .segments
        .iter()
        .map(|s| s.source.unwrap())
        .collect();
    assert_eq!(sources[1].from, sources[0].from);
    assert_eq!(sources[1].pass, 0);
    assert_eq!(sources[2].pass, 1);
}

#[test]
fn held_steps_stay_at_the_top() {
    let plan = "barform = 1\n[practice]\ntempo = \"100 to 120 by 15\"\nthen = \"hold 2\"\n\
                [practice.count-in]\nbars = 0\n";
    let tempos = schedule(FOUR, plan).segments;
    let tempos: Vec<f64> = tempos.iter().map(|s| s.tempo.to_f64()).collect();
    assert_eq!(tempos, [100.0, 115.0, 120.0, 120.0, 120.0]);
}

#[test]
fn per_cent_are_of_the_goal_or_of_the_score() {
    let tempos = |tempo: &str| {
        let plan = format!("barform = 1\n[practice]\ntempo = \"{tempo}\"\n");
        let mut tempos: Vec<f64> = schedule(FOUR, &plan)
            .segments
            .iter()
            .map(|s| s.tempo.to_f64())
            .collect();
        tempos.dedup();
        tempos
    };
    assert_eq!(tempos("50% to 100% by 25%"), [60.0, 90.0, 120.0]);
    assert_eq!(tempos("50% 75% of 200"), [100.0, 150.0]);
    assert_eq!(tempos("120 to 90 by 15"), [120.0, 105.0, 90.0]);
}

#[test]
fn every_join_is_a_drill() {
    let plan = "barform = 1\n[practice]\nplay = \"joins\"\n[practice.join]\nrate = \"50%\"\n\
                [practice.count-in]\nbars = 0\n";
    let score = Score::parse(FOUR, "score").unwrap();
    let plan = Plan::parse(plan, "plan").unwrap();
    let schedule = Schedule::new(&plan, &score, &[]).unwrap();
    let names: Vec<&str> = schedule.passages.iter().map(|p| p.name.as_str()).collect();
    assert_eq!(names, ["join A B", "join B A"]);
    // The last beat of A, the first of B, then the last of B, the first of A: at 60.
    assert_eq!(
        keys(&schedule),
        [(0.0, 50), (1.0, 48), (2.0, 47), (3.0, 38)]
    );
    // The worst first.
    let worst = schedule.passages[1].letters.iter().map(|(_, l)| l.clone());
    let worst: Vec<_> = worst.collect();
    let pair = (worst[0].clone(), worst[1].clone());
    let again = Schedule::new(&plan, &score, &[pair]).unwrap();
    assert_eq!(again.passages[0].name, "join B A");
}

#[test]
fn drawn_forms_keep_their_rules_and_come_again_with_the_seed() {
    let plan = |seed: u32| {
        format!(
            "barform = 1\n[practice]\nplay = \"drawn\"\neach = \"6 passes\"\n[practice.drawn]\n\
             bars = 4\nforms = 6\nin-a-row = 2\ncontain = [\"B\"]\nend = \"A\"\nseed = {seed}\n"
        )
    };
    let letters = |seed| {
        let passage = schedule(FOUR, &plan(seed)).passages.remove(0);
        let letters: Vec<String> = passage.letters.iter().map(|(_, l)| l.to_string()).collect();
        letters
            .chunks(8)
            .map(|form| form.concat())
            .collect::<Vec<_>>()
    };
    let mut all = Vec::new();
    for seed in 1..40 {
        let forms = letters(seed);
        assert_eq!(forms.len(), 6);
        for form in &forms {
            assert_eq!(form.len(), 8);
            assert!(form.ends_with('A') && form.contains('B'), "{form}");
            assert!(!form.contains("AAA") && !form.contains("BBB"), "{form}");
        }
        assert_eq!(forms, letters(seed));
        all.extend(forms);
    }
    all.sort();
    all.dedup();
    // Eight letters, A or B, with no three alike in a row, the last an A: half
    // of twice the 9th Fibonacci number, 34.
    assert_eq!(all.len(), 34);
}

#[test]
fn the_click_has_its_own_sounds_keys_and_levels() {
    let plan = "barform = 1\n[practice]\n[practice.click]\non = \"8ths\"\nchannel = 3\n\
                bar = { level = 120, sound = \"cowbell\" }\nbeat = { key = 60, level = 90 }\n\
                between = { level = 0 }\n";
    let schedule = schedule(FOUR, plan);
    let click = |n: usize| schedule.segments[1].clicks[n].note;
    assert_eq!(schedule.segments[1].clicks.len(), 4);
    assert_eq!(
        (click(0).key.number(), click(0).velocity.value()),
        (56, 120)
    );
    assert_eq!((click(1).key.number(), click(1).velocity.value()), (60, 90));
    assert!(
        schedule
            .segments
            .iter()
            .flat_map(|s| &s.clicks)
            .all(|c| c.note.channel.number() == 3)
    );
}
