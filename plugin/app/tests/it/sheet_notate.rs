//! Bars spelt by hand. Values and tuplets: common practice, as taught in
//! Gould, "Behind Bars" (2011), from memory.

use crate::sheet_notate_support;

use barform_app::craft::counting::Counting;
use barform_app::music::*;
use barform_app::score::Score;
use barform_app::sheet::notate::{Fold, NotateError, Options, Whereabouts, cell, written};
use barform_app::sheet::*;
use proptest::prelude::*;
use sheet_notate_support::*;

/// Hands of the first bar of a cell, checked for all that must hold.
fn hands(meter: &str, grid: &str, sticking: &str) -> String {
    voices(meter, grid, sticking).0
}

fn voices(meter: &str, grid: &str, sticking: &str) -> (String, String) {
    let sheet = one(meter, grid, sticking);
    sheet.bars.iter().for_each(check_bar);
    let all = |voice: fn(&WrittenBar) -> &VoiceLine| {
        let bars: Vec<String> = sheet.bars.iter().map(|b| text(voice(b))).collect();
        bars.join(" | ")
    };
    (all(|b| &b.hands), all(|b| &b.feet))
}

#[test]
fn a_beat_is_spelt_as_a_drummer_writes_it() {
    let sixteenths = [
        ("R L R L", "16 16 16 16"),
        ("R - - L", "8. 16"),
        ("R - L -", "8 8"),
        ("R L - R", "16 8 16"),
        ("R - L R", "8 16 16"),
        ("R L R -", "16 16 8"),
        ("R - - -", "4"),
        ("- - R -", "r8 8"),
        ("- R L R", "r16 16 16 16"),
        ("- R - R", "r16 8 16"),
        ("- R - -", "r16 8."),
        ("- - - R", "r8 r16 16"),
    ];
    for (sticking, want) in sixteenths {
        assert_eq!(hands("1/4", "4", sticking), want, "{sticking}");
    }
    assert_eq!(hands("1/4", "8", "R - - - - - - L"), "8. r32 32");
}

#[test]
fn tuplets_are_no_finer_than_what_is_struck() {
    assert_eq!(hands("1/4", "6", "R L R L R L"), "6:4[16 16 16 16 16 16]");
    assert_eq!(hands("1/4", "6", "R - R - R -"), "3:2[8 8 8]");
    assert_eq!(hands("1/4", "6", "R - - L - -"), "8 8");
    assert_eq!(hands("1/4", "3", "R - L"), "3:2[4 8]");
    assert_eq!(hands("1/4", "3", "- R L"), "3:2[r8 8 8]");
    assert_eq!(hands("1/4", "5", "R L R L R"), "5:4[16 16 16 16 16]");
    assert_eq!(
        hands("1/4", "7", "R L R L R L R"),
        "7:4[16 16 16 16 16 16 16]"
    );
    let nine = "9:8[32 32 32 32 32 32 32 32 32]";
    assert_eq!(hands("1/4", "9", "R L R L R L R L R"), nine);
}

#[test]
fn mixed_beats_are_cut_where_the_grid_is() {
    assert_eq!(hands("1/4", "1@1/2 3@1/2", "R L R L"), "8 3:2[16 16 16]");
    assert_eq!(
        hands("2/4", "4 6", "R L R L R L R L R L"),
        "16 16 16 16 6:4[16 16 16 16 16 16]"
    );
}

#[test]
fn a_span_over_beats_is_one_tuplet() {
    assert_eq!(hands("2/4", "3@2", "R L R"), "3:2[4 4 4]");
    assert_eq!(hands("2/4", "3@2", "R L -"), "3:2[4 2]");
    assert_eq!(hands("4/4", "3@4", "R L R"), "3:2[2 2 2]");
    assert_eq!(hands("2/4", "5@2", "R L R L R"), "5:4[8 8 8 8 8]");
    // A slot starts on the second beat: one tuplet for each beat.
    assert_eq!(hands("2/4", "6@2", "R L R L R L"), "3:2[8 8 8] 3:2[8 8 8]");
}

#[test]
fn tuplets_nest() {
    let grid = "1@2/3 1@2/3 3@2/3";
    assert_eq!(hands("2/4", grid, "R L R L R"), "3:2[4 4 3:2[8 8 8]]");
    assert_eq!(hands("2/4", grid, "R L R - -"), "3:2[4 4 4]");
    assert_eq!(hands("2/4", grid, "R - - L -"), "3:2[2 3:2[r8 4]]");
    let deep = "1@2/3 1@2/3 1@2/9 1@2/9 3@2/9";
    assert_eq!(
        hands("2/4", deep, "R L R L R L R"),
        "3:2[4 4 3:2[8 8 3:2[16 16 16]]]"
    );
    let sheet = one("2/4", grid, "R L R L R");
    let tuplets = &sheet.bars[0].hands.tuplets;
    assert_eq!((tuplets[0].depth, tuplets[1].depth), (0, 1));
    assert_eq!(
        (tuplets[0].unit, tuplets[1].unit),
        (Value::QUARTER, Value::EIGHTH)
    );
    assert_eq!((tuplets[0].bracket, tuplets[1].bracket), (true, false));
}

#[test]
fn a_bar_line_cuts_a_span() {
    // Slots at 3, 3 2/3 and 4 1/3: the third is on the second triplet eighth.
    assert_eq!(
        hands("4/4", "1@3 3@2 3", "R R L R L R L"),
        "2 r4 3:2[4 8] | 3:2[r8 4] 3:2[8 8 8]"
    );
}

#[test]
fn long_spans_have_long_notes_where_the_meter_allows() {
    assert_eq!(hands("4/4", "1@4", "R"), "1");
    assert_eq!(hands("4/4", "1@2 1@2", "R L"), "2 2");
    assert_eq!(hands("4/4", "1 1@2 1", "R L R"), "4 4 r4 4");
    assert_eq!(hands("3/4", "1@3", "R"), "2.");
    assert_eq!(hands("3/4", "1 1@2", "R L"), "4 2");
    assert_eq!(hands("12/8", "1@3 1@3", "R L"), "2. 2.");
    assert_eq!(hands("12/8", "1@6", "R"), "1.");
    // A short slot stays short, however long the silence.
    assert_eq!(hands("4/4", "1 1 1 1", "R - - -"), "4 r4 r2");
}

#[test]
fn rests_keep_to_the_beats() {
    assert_eq!(hands("4/4", "1 1 1 1", "- - R -"), "r2 4 r4");
    assert_eq!(hands("4/4", "1 1 1 1", "- R - -"), "r4 4 r2");
    assert_eq!(hands("3/4", "1 1 1", "- - R"), "r4 r4 4");
    assert_eq!(
        hands("12/8", "1@3/2 1@3/2 1@3/2 1@3/2", "- - - R"),
        "r2. r4. 4."
    );
    assert_eq!(hands("4/4", "1@4", "-"), "rw");
    assert_eq!(voices("4/4", "1@4", "K"), ("rw".into(), "1".into()));
    assert_eq!(
        voices("4/4", "1@4", "R").1,
        "hrw",
        "empty feet are not printed"
    );
}

#[test]
fn compound_and_odd_meters_keep_their_beats() {
    let twelve = [("1@1/2 ", 12)].map(|(s, n)| s.repeat(n)).concat();
    let sticking = "R L R L R L R L R L R L";
    assert_eq!(hands("12/8", twelve.trim(), sticking), ["8"; 12].join(" "));
    let sheet = one("12/8", twelve.trim(), sticking);
    assert_eq!(beams(&sheet.bars[0].hands, 1), "0-2 3-5 6-8 9-11");
    assert_eq!(
        hands("6/8", "4@3/2 2@3/2", "R L R L R L"),
        "8. 8. 8. 8. 8. 8.".replace("8. 8. 8. 8.", "16. 16. 16. 16.")
    );
    assert_eq!(
        hands("6/8", "5@3/2 1@3/2", "R L R L R L"),
        "5:3[8 8 8 8 8] 4."
    );
    let sheet = one("7/8", "7@7/2", "R L R L R L R");
    assert_eq!(text(&sheet.bars[0].hands), ["8"; 7].join(" "));
    assert_eq!(beams(&sheet.bars[0].hands, 1), "0-1 2-3 4-6");
    assert_eq!(hands("5/4", "1 1 1 1 1", "R L R L R"), "4 4 4 4 4");
}

#[test]
fn beams_and_hooks_show_the_beat() {
    let line = |grid, sticking| one("1/4", grid, sticking).bars.remove(0).hands;
    let dotted = line("4", "R - - L");
    assert_eq!(
        (beams(&dotted, 1), beams(&dotted, 2)),
        ("0-1".into(), "<1".into())
    );
    let syncopated = line("4", "R L - R");
    assert_eq!(beams(&syncopated, 2), "0> <2");
    let eighth_first = line("4", "R - L R");
    assert_eq!(beams(&eighth_first, 2), "1-2");
    // A rest between notes is bridged, one at the edge is not.
    assert_eq!(beams(&line("4", "- R - R"), 1), "1-2");
    // A beam that is the tuplet needs no bracket; any other tuplet does.
    assert!(!line("3", "R L R").tuplets[0].bracket);
    assert!(line("3", "R - L").tuplets[0].bracket);
    assert!(line("3", "- R L").tuplets[0].bracket);
}

#[test]
fn limbs_stand_in_their_voice_and_ostinatos_in_theirs() {
    let text_of = "form = \"A A\"\n[cell.A]\ngrid = \"6 3@1\"\nsticking = \"R L K R L K  lR+K - K\"\n\
        [ostinato.foot]\ngrid = \"1 1\"\nsticking = \"- H\"";
    let sheet = full(text_of);
    let bar = &sheet.bars[0];
    check_bar(bar);
    assert_eq!(
        text(&bar.hands),
        "6:4[16 8 16 8] 4 6:4[16 8 16 8] 4",
        "hands rest where feet play"
    );
    // Kick on the third and sixth slot, then kick and hi-hat on the beat.
    assert_eq!(
        text(&bar.feet),
        "3:2[r8 8 8] 3:2[4 8] 3:2[r8 8 8] 3:2[4 8]".replace("3:2[r8 8 8]", "6:4[r8 8. 16]")
    );
    let sticking: Vec<&str> = bar.under.iter().map(|u| u.sticking.as_str()).collect();
    assert_eq!(
        sticking[..9],
        ["R", "L", "K", "R", "L", "K", "lR+K", "", "K"]
    );
    let counts: Vec<&str> = bar.under.iter().map(|u| u.count.as_str()).collect();
    assert_eq!(
        counts[..9],
        ["1", "ta", "la", "&", "ta", "la", "2", "trip", "let"]
    );
    assert!(bar.under[7].light && !bar.under[6].light);
    // On two, hi-hat below kick: foot cymbal D4, kick F4 (Weinberg 1994).
    let Kind::Notes(together) = &bar.feet.elements[3].kind else {
        panic!("no note");
    };
    let pitches: Vec<_> = together.iter().map(|s| s.step.pitch()).collect();
    assert_eq!(pitches, [('D', 4), ('F', 4)]);
    assert_eq!(together[0].source, None, "an ostinato has no place");
    assert_eq!(together[1].source, Some(Source { place: 0, slot: 6 }));
}

#[test]
fn marks_name_sections_letters_and_what_is_special() {
    let sheet = full(
        "[[section]]\nname = \"Call\"\nform = \"A[16ths] A[rate 2] A[level 70%] A\"\n\
         [[section]]\nname = \"Out\"\nlevel = 110\nform = \"A A\"\n\
         [cell.A]\ngrid = \"2\"\nsticking = \"R L\"",
    );
    let marks: Vec<_> = sheet.bars.iter().flat_map(|b| &b.marks).collect();
    let notes: Vec<&str> = marks.iter().map(|m| m.note.as_str()).collect();
    // What holds for a whole section is said once.
    assert_eq!(notes, ["16ths", "×2", "70%", "", "110%", ""]);
    let sections: Vec<_> = marks.iter().map(|m| m.section.as_deref()).collect();
    assert_eq!(
        sections,
        [Some("Call"), None, None, None, Some("Out"), None]
    );
    assert!(marks.iter().all(|m| m.letter == Letter::new("A")));
}

#[test]
fn pickups_and_cut_bars_are_as_long_as_they_are() {
    let sheet = full(
        "meter = \"3/4\"\npickup = \"2/3\"\nform = \"B A A\"\n[cell.A]\ngrid = \"1 1\"\n\
         sticking = \"R L\"\n[cell.B]\ngrid = \"2@2/3\"\nsticking = \"R L\"",
    );
    sheet.bars.iter().for_each(check_bar);
    let bars: Vec<_> = sheet
        .bars
        .iter()
        .map(|b| (b.number, text(&b.hands)))
        .collect();
    // The last two of a triplet, then the first of two bars of three.
    assert_eq!(bars[0], (None, "3:2[8 8]".to_owned()));
    assert_eq!(bars[1], (Some(1), "4 4 4".to_owned()));
    assert_eq!(bars[2], (Some(2), "4".to_owned()));
    assert_eq!(sheet.bars[2].length, Beats::ONE);
    let shown: Vec<bool> = sheet.bars.iter().map(|b| b.show_meter).collect();
    assert_eq!(shown, [true, false, false]);
    assert!(sheet.bars[2].double_after);
}

#[test]
fn meters_change_with_the_section() {
    let sheet = full(
        "meter = \"4/4\"\n[[section]]\nname = \"a\"\nform = \"A A A A\"\n[[section]]\nname = \"b\"\n\
         meter = \"7/8\"\nform = \"B\"\n[cell.A]\ngrid = \"1\"\nsticking = \"R\"\n\
         [cell.B]\ngrid = \"7@7/2\"\nsticking = \"R L R L R L R\"",
    );
    sheet.bars.iter().for_each(check_bar);
    let bars: Vec<_> = sheet
        .bars
        .iter()
        .map(|b| (b.meter.to_string(), b.show_meter))
        .collect();
    assert_eq!(bars, [("4/4".to_owned(), true), ("7/8".to_owned(), true)]);
    assert!(sheet.bars[0].double_after);
}

#[test]
fn counts_follow_the_tradition_asked_for() {
    let (score, timeline) = parse(
        "meter = \"12/8\"\nform = \"A A A A\"\n[cell.A]\ngrid = \"3@3/2\"\nsticking = \"R L R\"",
    );
    let counts = |options: &Options| -> Vec<String> {
        let sheet = written(&score, &timeline, options).unwrap();
        sheet.bars[0]
            .under
            .iter()
            .map(|u| u.count.clone())
            .collect()
    };
    let plain: Vec<String> = (1..=12).map(|n| n.to_string()).collect();
    assert_eq!(counts(&Options::default()), plain);
    // The same words as the tradition itself says for each cell in its place.
    let counting = Counting::builtin();
    for tradition in counting.traditions() {
        let options = Options {
            tradition: Some(tradition.clone()),
            count_by: CountBy::Pulses,
            ..Options::default()
        };
        let grid = barform_app::score::read_grid("3@3/2").unwrap();
        let from = |i: i64| Beats::new(3 * i, 2);
        let one = |i: i64| {
            tradition
                .count(&grid, from(i), score.meter, CountBy::Pulses)
                .unwrap()
        };
        let want: Vec<String> = (0..4).flat_map(one).map(|c| c.text).collect();
        let said: Vec<String> = want.into_iter().filter(|w| !w.is_empty()).collect();
        let got: Vec<String> = counts(&options)
            .into_iter()
            .filter(|w| !w.is_empty())
            .collect();
        assert_eq!(got, said, "{}", tradition.name());
    }
}

#[test]
fn what_has_no_value_is_named_with_its_bar() {
    // 64 in a sixteenth are 4096th notes.
    let short = "form = \"A B\"\n[cell.A]\ngrid = \"1@4\"\nsticking = \"R\"\n[cell.B]\ngrid = \"64@1/16\"\n";
    let sticking = format!("sticking = \"{}\"", ["R"; 64].join(" "));
    let error = folded(&format!("{short}{sticking}"), Fold::Full).unwrap_err();
    let bar_2 = Whereabouts::Bar(2);
    assert!(
        matches!(&error, NotateError::TooShort { place, .. } if *place == bar_2),
        "{error}"
    );
    // A septuplet and an undecuplet that share a beat, and no plain time after.
    let odd = "form = \"A A A\"\n[cell.A]\ngrid = \"1@1/3 7 11 1@1/5\"\n";
    let sticking = format!("sticking = \"{}\"", ["R"; 20].join(" "));
    let error = folded(&format!("{odd}{sticking}"), Fold::Full).unwrap_err();
    assert!(matches!(&error, NotateError::NoTuplet { .. }), "{error}");
    let said = error.to_string();
    assert!(
        said.starts_with("bar 1, ") && said.contains("simpler grid"),
        "{said}"
    );
}

fn alone(grid: &str, sticking: &str, meter: &str) -> Written {
    let text = format!(
        "barform = 1\nform = \"A\"\n[cell.A]\ngrid = \"{grid}\"\nsticking = \"{sticking}\""
    );
    let score = Score::parse(&text, "test.barform").unwrap();
    let own = score.cell(&Letter::new("A").unwrap()).unwrap();
    cell(&own, meter.parse().unwrap(), &Options::default()).unwrap()
}

#[test]
fn a_cell_alone_is_as_long_as_it_lasts() {
    let sheet = alone("4 6", "R L R L R L R L R K", "4/4");
    assert_eq!(sheet.bars.len(), 1);
    let bar = &sheet.bars[0];
    assert_eq!(
        (bar.number, bar.length, bar.show_meter),
        (None, Beats::whole(2), false)
    );
    assert_eq!(text(&bar.hands), "16 16 16 16 6:4[16 16 16 16 8]");
    assert_eq!(bar.under.len(), 10);
    let long = alone("1 1 1 1 1", "R L R L R", "4/4");
    let lengths: Vec<Beats> = long.bars.iter().map(|b| b.length).collect();
    assert_eq!(lengths, [Beats::whole(4), Beats::ONE]);
}

proptest! {
    #[test]
    fn four_slots_tell_every_pattern_apart(struck in 1_usize..16) {
        let at = |i: &usize| struck >> i & 1 == 1;
        let sticking: Vec<&str> = (0..4).map(|i| if at(&i) { "R" } else { "-" }).collect();
        let sheet = one("1/4", "4", &sticking.join(" "));
        let bar = &sheet.bars[0];
        check_bar(bar);
        let notes = bar.hands.elements.iter().filter(|e| matches!(e.kind, Kind::Notes(_)));
        let got: Vec<Beats> = notes.map(|e| e.at).collect();
        let want: Vec<Beats> = (0..4).filter(at).map(|i| Beats::new(i as i64, 4)).collect();
        prop_assert_eq!(got, want);
        prop_assert!(bar.hands.tuplets.is_empty());
    }
}
