//! What holds for every sheet, on invented scores: bars are full, onsets are
//! those of the form and the ostinatos, folded sheets expand to the whole.

use crate::common;
use crate::sheet_notate_support;

use barform_app::music::*;
use barform_app::score::Score;
use barform_app::sheet::notate::{Fold, NotateError, Options, written};
use barform_app::sheet::*;
use barform_app::timeline::Timeline;
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::select;
use sheet_notate_support::*;
use std::collections::BTreeSet;

/// Time, limb, voice, articulation.
type Struck = BTreeSet<(Beats, Limb, Voice, Articulation)>;

fn add(a: Beats, b: Beats) -> Beats {
    a.checked_add(b).unwrap()
}

fn key(at: Beats, s: &Stroke) -> (Beats, Limb, Voice, Articulation) {
    (at, s.limb, s.voice, s.articulation)
}

/// What is struck, from the form written out and the ostinatos' cycles.
fn struck(score: &Score) -> Struck {
    let plan = score.placements().unwrap();
    let mut all = Struck::new();
    for place in &plan.places {
        let cell = &plan.variants[place.variant as usize];
        let bounds = cell.grid.slot_bounds().unwrap();
        for (at, slot) in bounds.iter().zip(&cell.slots) {
            let at = add(place.start, at.checked_div(place.rate).unwrap());
            all.extend(slot.iter().map(|s| key(at, s)));
        }
    }
    for ostinato in &score.ostinatos {
        let cycle = ostinato.grid.length().unwrap();
        let bounds = ostinato.grid.slot_bounds().unwrap();
        let mut start = Beats::ZERO;
        while start < plan.length {
            for (at, slot) in bounds.iter().zip(ostinato.slots()) {
                let at = add(start, *at);
                if at < plan.length {
                    all.extend(slot.iter().map(|s| key(at, s)));
                }
            }
            start = add(start, cycle);
        }
    }
    all
}

fn on_paper(sheet: &Written, timeline: &Timeline) -> Struck {
    let mut all = Struck::new();
    for bar in &sheet.bars {
        for (line, feet) in [(&bar.hands, false), (&bar.feet, true)] {
            for e in &line.elements {
                let Kind::Notes(strokes) = &e.kind else {
                    continue;
                };
                for s in strokes {
                    assert_eq!(s.stroke.limb.is_foot(), feet);
                    all.insert(key(add(bar.start, e.at), &s.stroke));
                    let Some(source) = s.source else { continue };
                    // The slot it names holds it.
                    let place = &timeline.places[source.place as usize];
                    let cell = timeline.cell_of(place);
                    assert!(cell.slots[usize::from(source.slot)].contains(&s.stroke));
                    let at = cell.grid.slot_bounds().unwrap()[usize::from(source.slot)];
                    let at = add(place.start, at.checked_div(place.rate).unwrap());
                    assert_eq!(at, add(bar.start, e.at));
                }
            }
        }
    }
    all
}

/// Whether all strokes of each bar and voice fall on at most `most` parts of a
/// beat: then there is a way to write it.
fn easy(all: &Struck, timeline: &Timeline, most: i64) -> bool {
    let ends = timeline.bars.iter().skip(1).map(|b| b.start);
    let mut bars = timeline.bars.iter().zip(ends.chain([timeline.length]));
    bars.all(|(bar, end)| {
        [false, true].iter().all(|feet| {
            let here = all.iter().filter(|s| bar.start <= s.0 && s.0 < end);
            let mut times: Vec<Beats> = here
                .filter(|s| s.1.is_foot() == *feet)
                .map(|s| s.0)
                .collect();
            times.push(end);
            let mut parts = 1;
            for at in times {
                parts = num_integer::lcm(parts, at.checked_sub(bar.start).unwrap().denom());
            }
            parts <= most
        })
    })
}

/// Bars without what may differ between the times of a repeat.
fn bare(bar: &WrittenBar) -> WrittenBar {
    let mut bar = WrittenBar {
        start: Beats::ZERO,
        number: None,
        show_meter: false,
        repeat_from: false,
        repeat_to: None,
        double_after: false,
        ..bar.clone()
    };
    for mark in &mut bar.marks {
        // A section and what holds for all of it are said at its start only.
        mark.section = None;
        mark.note.clear();
    }
    for e in bar.hands.elements.iter_mut().chain(&mut bar.feet.elements) {
        if let Kind::Notes(strokes) = &mut e.kind {
            strokes.iter_mut().for_each(|s| s.source = None);
        }
    }
    bar
}

/// Plays the repeat signs; panics where signs are not in pairs.
fn expanded(sheet: &Written) -> Vec<WrittenBar> {
    let mut all = Vec::new();
    let mut open = None;
    for (i, bar) in sheet.bars.iter().enumerate() {
        if bar.repeat_from {
            assert_eq!(open.replace(i), None, "repeats are not nested");
        }
        all.push(bare(bar));
        if let Some(Repeat { times }) = bar.repeat_to {
            assert!(times >= 2);
            let from = open.take().expect("a repeat that begins");
            for _ in 1..times {
                all.extend(sheet.bars[from..=i].iter().map(bare));
            }
        }
    }
    assert_eq!(open, None, "every repeat is closed");
    all
}

fn check(score: &Score) -> Result<(), NotateError> {
    let timeline = Timeline::compile(score).unwrap();
    let fold = |fold| {
        let options = Options {
            fold,
            ..Options::default()
        };
        written(score, &timeline, &options)
    };
    let all = struck(score);
    let sheet = match fold(Fold::Full) {
        Ok(sheet) => sheet,
        Err(error) => {
            assert!(!easy(&all, &timeline, 21), "{error}");
            return Err(error);
        }
    };
    sheet.bars.iter().for_each(check_bar);
    assert_eq!(on_paper(&sheet, &timeline), all);
    let starts: Vec<Beats> = sheet.bars.iter().map(|b| b.start).collect();
    let want: Vec<Beats> = timeline.bars.iter().map(|b| b.start).collect();
    assert_eq!(starts, want);
    let letters: Vec<_> = sheet
        .bars
        .iter()
        .flat_map(|b| b.marks.iter().map(|m| m.letter_index))
        .collect();
    let want: Vec<u32> = timeline.places.iter().map(|p| p.letter).collect();
    assert_eq!(letters, want, "each place has its letter");
    let whole: Vec<WrittenBar> = sheet.bars.iter().map(bare).collect();
    assert_eq!(expanded(&fold(Fold::Repeats)?), whole);
    if let Ok(once) = fold(Fold::Letters) {
        let marks = once.bars.iter().flat_map(|b| &b.marks);
        let letters: Vec<_> = marks.filter_map(|m| m.letter.clone()).collect();
        assert_eq!(letters, timeline.letters);
    }
    Ok(())
}

/// Spans that begin and end on a plain part of a beat.
fn spans() -> impl Strategy<Value = String> {
    let even = (1_u8..=12, select(vec!["1", "1", "1", "2", "1/2", "3/2"]))
        .prop_map(|(n, length)| format!("{n}@{length}"));
    let nested =
        (1_u8..=6, 1_u8..=6, 1_u8..=6).prop_map(|(a, b, c)| format!("{a}@2/3 {b}@2/3 {c}@2/3"));
    let fifths = (1_u8..=4, 1_u8..=4).prop_map(|(a, b)| format!("{a}@2/5 {b}@3/5"));
    prop_oneof![6 => even, 2 => nested, 1 => fifths]
}

fn lines(spans: impl Strategy<Value = String>) -> impl Strategy<Value = (String, String)> {
    let stroke = select(vec!["R", "L", "R>", "(L)", "lR", "K", "R+K", "H", "-", "-"]);
    vec(spans, 1..3).prop_flat_map(move |spans| {
        let grid = spans.join(" ");
        let slots = barform_app::score::read_grid(&grid).unwrap().slot_count();
        (
            Just(grid),
            vec(stroke.clone(), slots).prop_map(|s| s.join(" ")),
        )
    })
}

prop_compose! {
    /// A score in one of the usual meters.
    fn usual()(
        meter in select(vec!["2/4", "3/4", "4/4", "5/4", "6/8", "7/8", "9/8", "12/8"]),
        pickup in select(vec!["0", "0", "1", "1/2", "2/3"]),
        a in lines(spans()),
        b in lines(spans()),
        ostinato in lines((1_u8..=4, select(vec!["1", "2", "3/2"])).prop_map(|(n, l)| format!("{n}@{l}"))),
        form in select(vec![
            "A B", "A B[rate 2] A[rate 1/2]", "(A B)x4", "((A)x3 B)x3", "(A)x7 B A",
            "A[16ths carry] B", "A B[quintuplets carry] A", "A B[level 70%] (B A)x8",
        ]),
    ) -> Score {
        let text = format!(
            "barform = 1\nmeter = \"{meter}\"\npickup = \"{pickup}\"\nform = \"{form}\"\n\
             [cell.A]\ngrid = \"{}\"\nsticking = \"{}\"\n[cell.B]\ngrid = \"{}\"\nsticking = \"{}\"\n\
             [ostinato.foot]\ngrid = \"{}\"\nsticking = \"{}\"\n",
            a.0, a.1, b.0, b.1, ostinato.0, ostinato.1.replace(['R', 'L', 'l'], "H").replace("H+K", "H").replace("HH", "H"),
        );
        Score::parse(&text, "test.barform").unwrap()
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn usual_scores_are_written_to_the_stroke(score in usual()) {
        let _ = check(&score);
    }

    #[test]
    fn any_score_is_written_or_says_where_it_cannot_be(score in common::score()) {
        if let Err(error) = check(&score) {
            let said = error.to_string();
            prop_assert!(said.contains("bar ") && said.contains("; "), "{said}");
        }
    }
}

#[test]
fn every_grid_and_tuplet_of_a_beat_is_written() {
    for n in 1..=64 {
        let sticking = vec!["R"; n].join(" ");
        let sheet = one("1/4", &n.to_string(), &sticking);
        check_bar(&sheet.bars[0]);
        assert_eq!(sheet.bars[0].hands.elements.len(), n);
        // Powers of two are plain; any other is one tuplet in the time of the
        // greatest power of two below it.
        let tuplets: Vec<Ratio> = sheet.bars[0]
            .hands
            .tuplets
            .iter()
            .map(|t| t.ratio)
            .collect();
        let below = 1 << n.ilog2();
        let want = Ratio {
            actual: n as u32,
            normal: below,
        };
        assert_eq!(
            tuplets,
            if n == below as usize {
                vec![]
            } else {
                vec![want]
            }
        );
    }
}

#[test]
fn the_demo_is_written_and_its_answer_repeats() {
    let score = Score::parse(barform_app::DEMO_SCORE, "demo.barform").unwrap();
    check(&score).unwrap();
    let timeline = Timeline::compile(&score).unwrap();
    let options = Options {
        fold: Fold::Repeats,
        ..Options::default()
    };
    let sheet = written(&score, &timeline, &options).unwrap();
    // Bars 5 and 6 are played twice: (A B A' B | D C |)x2.
    let numbers: Vec<Option<u32>> = sheet.bars.iter().map(|b| b.number).collect();
    assert_eq!(
        numbers[3..8],
        [Some(4), Some(5), Some(6), Some(9), Some(10)]
    );
    assert!(sheet.bars[4].repeat_from && sheet.bars[5].repeat_to == Some(Repeat { times: 2 }));
    assert!(
        sheet.bars[5].double_after,
        "a section ends after the last time"
    );
}

#[test]
fn an_ostinato_across_the_repeat_keeps_the_bars_apart() {
    let form = "form = \"(A)x12\"\n[cell.A]\ngrid = \"1 1 1 1\"\nsticking = \"R L R L\"\n";
    let plain = folded(form, Fold::Repeats).unwrap();
    assert_eq!(plain.bars.len(), 1);
    assert_eq!(plain.bars[0].repeat_to, Some(Repeat { times: 12 }));
    // Three beats under bars of four: the same only every third bar.
    let foot = "[ostinato.foot]\ngrid = \"1 1 1\"\nsticking = \"H - -\"";
    let sheet = folded(&format!("{form}{foot}"), Fold::Repeats).unwrap();
    assert_eq!(sheet.bars.len(), 3);
    assert_eq!(sheet.bars[2].repeat_to, Some(Repeat { times: 4 }));
    // Sections that come again as a whole.
    let section = "[[section]]\nname = \"x\"\nform = \"A\"\n";
    let cell = "[cell.A]\ngrid = \"1 1 1 1\"\nsticking = \"R L R L\"";
    let sheet = folded(&format!("{section}{section}{section}{cell}"), Fold::Repeats).unwrap();
    assert_eq!(sheet.bars.len(), 1);
    assert_eq!(sheet.bars[0].repeat_to, Some(Repeat { times: 3 }));
}
