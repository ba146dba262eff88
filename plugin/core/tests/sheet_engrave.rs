//! The rules of a page of music, read from what is drawn. Lengths of stems and
//! thickness of beams after Gould, *Behind Bars* (Faber 2011), from memory; the
//! rest common practice unless named.

mod sheet_engrave_support;

use barform_core::sheet::engrave::{EngraveError, Paper, Style, engrave, is_customary, strip};
use barform_core::sheet::notate::Fold;
use barform_core::sheet::{Drawing, Glyph, Item, Ratio, Role, Shape};
use sheet_engrave_support::{draw, music, of, one_bar, one_cell, words};

/// Staff space of the normal size: 7 mm over four spaces.
const SPACE: f32 = 7.0 / 4.0;

fn glyphs(drawing: &Drawing, wanted: Glyph) -> Vec<&Item> {
    let items = drawing.pages.iter().flat_map(|p| &p.items);
    items
        .filter(|i| matches!(i.shape, Shape::Glyph { glyph, .. } if glyph == wanted))
        .collect()
}

fn height(item: &Item) -> f32 {
    item.bounds.bottom - item.bounds.top
}

fn width(item: &Item) -> f32 {
    item.bounds.right - item.bounds.left
}

fn at_y(item: &Item) -> f32 {
    match item.shape {
        Shape::Glyph { at, .. } | Shape::Text { at, .. } => at.y,
        _ => panic!("a glyph or words"),
    }
}

#[test]
fn a_stem_is_three_and_a_half_spaces_long() {
    let drawing = one_bar("1 1 1 1", "R - - -", "snare . . .");
    let head = at_y(of(&drawing, Role::Head)[0]);
    let tip = of(&drawing, Role::Stem)[0].bounds.top;
    assert!((head - tip - 3.5 * SPACE).abs() < 0.01);
}

#[test]
fn a_beam_is_half_a_space_thick_and_a_level_one_lies_flat() {
    let drawing = one_bar("2 2 2 2", "R L R L R L R L", "snare . . . . . . .");
    let beams = of(&drawing, Role::Beam);
    assert!(!beams.is_empty());
    for beam in beams {
        assert!((height(beam) - 0.5 * SPACE).abs() < 0.01);
    }
}

#[test]
fn sixteenths_have_two_beams_a_quarter_space_apart() {
    let drawing = one_bar(
        "4 4 4 4",
        &"R L ".repeat(8),
        &format!("snare{}", " .".repeat(15)),
    );
    let mut tops: Vec<f32> = of(&drawing, Role::Beam)
        .iter()
        .map(|b| b.bounds.top)
        .collect();
    assert_eq!(tops.len(), 8, "two beams on each of four beats");
    tops.sort_by(f32::total_cmp);
    assert!((tops[4] - tops[3] - 0.75 * SPACE).abs() < 0.01);
}

#[test]
fn a_dotted_eighth_and_a_sixteenth_share_a_beam_and_a_hook() {
    let drawing = one_bar("4 1 1 1", "R - - L - - -", "snare . . . . . .");
    let beams = of(&drawing, Role::Beam);
    assert_eq!(beams.len(), 2);
    let (long, hook) = if width(beams[0]) > width(beams[1]) {
        (beams[0], beams[1])
    } else {
        (beams[1], beams[0])
    };
    // The hook points back from the sixteenth.
    assert!((hook.bounds.right - long.bounds.right).abs() < 0.01);
    assert!(width(hook) < width(long) / 2.0);
    assert_eq!(of(&drawing, Role::Dot).len(), 1);
}

#[test]
fn a_rising_line_has_a_rising_beam_of_at_most_a_space() {
    let drawing = one_bar("2 1 1 1", "R L - - -", "tom4 crash . . .");
    let beam = of(&drawing, Role::Beam)[0];
    let rise = height(beam) / SPACE - 0.5;
    assert!(rise > 0.1 && rise <= 1.01, "rises {rise} spaces");
    let stems = of(&drawing, Role::Stem);
    assert!(stems[1].bounds.top < stems[0].bounds.top);
}

#[test]
fn a_lone_eighth_has_a_flag() {
    let drawing = one_bar("2 1 1 1", "- R - - -", ". snare . . .");
    let flags = of(&drawing, Role::Flag);
    assert_eq!(flags.len(), 1);
    assert!(matches!(
        flags[0].shape,
        Shape::Glyph {
            glyph: Glyph::FlagsUp(1),
            ..
        }
    ));
    assert!(of(&drawing, Role::Beam).is_empty());
}

#[test]
fn hands_alone_have_rests_in_the_middle_and_feet_push_them_up() {
    let alone = one_bar("1 1 1 1", "R - R -", "snare . . .");
    let (top, bottom) = alone.systems[0].staff;
    for rest in of(&alone, Role::Rest) {
        assert!((at_y(rest) - (top + bottom) / 2.0).abs() < 0.01);
    }
    let both = one_bar("1 1 1 1", "R K R K", "snare . . .");
    let (top, bottom) = both.systems[0].staff;
    let middle = (top + bottom) / 2.0;
    let rests = of(&both, Role::Rest);
    assert!(rests.iter().any(|r| at_y(r) < middle));
    assert!(rests.iter().all(|r| (at_y(r) - middle).abs() > 0.5 * SPACE));
}

#[test]
fn a_ghost_note_stands_in_parentheses() {
    let drawing = one_bar("1 1 1 1", "(R) R R R", "snare . . .");
    let head = of(&drawing, Role::Head)[0];
    let parens = of(&drawing, Role::Paren);
    assert_eq!(parens.len(), 2);
    assert!(
        parens[0].bounds.right <= head.bounds.left && parens[1].bounds.left >= head.bounds.right
    );
    assert_eq!(at_y(parens[0]), at_y(head));
}

#[test]
fn accents_stand_above_the_hands_and_below_the_feet() {
    let hands = one_bar("1 1 1 1", "R> R R R", "snare . . .");
    let accent = of(&hands, Role::Accent)[0];
    assert_eq!(of(&hands, Role::Accent).len(), 1);
    assert!(accent.bounds.bottom < of(&hands, Role::Stem)[0].bounds.top);
    let feet = one_bar("1 1 1 1", "K> K K K", ". . . .");
    let accent = of(&feet, Role::Accent)[0];
    assert!(accent.bounds.top > of(&feet, Role::Stem)[0].bounds.bottom);
}

#[test]
fn hats_are_marked_open_half_open_and_closed_again() {
    let drawing = one_bar("1 1 1 1", "R R R R", "hat hat:open hat hat:half");
    assert_eq!(glyphs(&drawing, Glyph::Open).len(), 1);
    assert_eq!(glyphs(&drawing, Glyph::HalfOpen).len(), 1);
    // Only the one after an open hat says that it is closed.
    let closed = glyphs(&drawing, Glyph::Closed);
    assert_eq!(closed.len(), 1);
    let open = glyphs(&drawing, Glyph::Open)[0];
    assert!(closed[0].bounds.left > open.bounds.right);
}

#[test]
fn a_choked_cymbal_has_its_comma() {
    let drawing = one_bar("1 1 1 1", "R - - -", "crash:choke . . .");
    assert_eq!(glyphs(&drawing, Glyph::Choke).len(), 1);
}

#[test]
fn a_buzz_has_its_z_on_the_stem() {
    let drawing = one_bar("1 1 1 1", "Rz - - -", "snare . . .");
    let (z, stem) = (of(&drawing, Role::Buzz)[0], of(&drawing, Role::Stem)[0]);
    assert!(stem.bounds.top < z.bounds.top && z.bounds.bottom < stem.bounds.bottom);
    assert!(z.bounds.left < stem.bounds.left && stem.bounds.right < z.bounds.right);
}

#[test]
fn flam_drag_and_ruff_have_one_two_and_three_small_notes_and_a_slur() {
    for (sticking, count, slashes) in [("lR", 1, 1), ("llR", 2, 0), ("rlrL", 3, 0)] {
        let drawing = one_bar("1 1 1 1", &format!("{sticking} - - -"), "snare . . .");
        let small: Vec<_> = of(&drawing, Role::Grace)
            .into_iter()
            .filter(|i| {
                matches!(
                    i.shape,
                    Shape::Glyph {
                        glyph: Glyph::HeadFilled,
                        ..
                    }
                )
            })
            .collect();
        assert_eq!(small.len(), count, "{sticking}");
        let head = of(&drawing, Role::Head)[0];
        for grace in &small {
            assert!(grace.bounds.right < head.bounds.left);
            assert!(height(grace) < 0.75 * height(head));
            assert_eq!(at_y(grace), at_y(head));
        }
        assert_eq!(
            glyphs(&drawing, Glyph::GraceSlash).len(),
            slashes,
            "{sticking}"
        );
        assert_eq!(of(&drawing, Role::Slur).len(), 1);
    }
}

#[test]
fn two_hands_on_one_drum_are_two_heads_side_by_side() {
    let drawing = one_bar("1 1 1 1", "R+L - - -", "snare . . .");
    let heads = of(&drawing, Role::Head);
    assert_eq!(heads.len(), 2);
    assert_eq!(at_y(heads[0]), at_y(heads[1]));
    assert!((heads[0].bounds.left - heads[1].bounds.left).abs() > 0.8 * width(heads[0]));
}

#[test]
fn a_triplet_of_quarters_has_a_bracket_and_one_of_beamed_eighths_only_its_number() {
    let broad = one_bar("3@2 1 1", "R L R - -", "snare . . . .");
    assert!(of(&broad, Role::TupletBracket).len() >= 3);
    let number = of(&broad, Role::TupletNumber);
    assert_eq!(number.len(), 1);
    assert!(matches!(
        number[0].shape,
        Shape::Glyph {
            glyph: Glyph::TupletDigit(3),
            ..
        }
    ));
    let beamed = one_bar("3 1 1 1", "R L R - - -", "snare . . . . .");
    assert!(of(&beamed, Role::TupletBracket).is_empty());
    assert_eq!(of(&beamed, Role::TupletNumber).len(), 1);
    let beam = of(&beamed, Role::Beam)[0].bounds;
    let number = of(&beamed, Role::TupletNumber)[0].bounds;
    let middle = |b: barform_core::sheet::Bounds| (b.left + b.right) / 2.0;
    assert!(number.bottom < beam.top);
    assert!((middle(number) - middle(beam)).abs() < 0.3 * SPACE);
}

#[test]
fn the_ratio_is_spelt_out_only_where_the_number_does_not_say_it() {
    for (actual, normal, customary) in [
        (3, 2, true),
        (5, 4, true),
        (6, 4, true),
        (7, 4, true),
        (9, 8, true),
        (2, 3, true),
        (4, 3, true),
        (7, 8, false),
        (5, 3, false),
        (9, 4, false),
        (6, 5, false),
    ] {
        assert_eq!(
            is_customary(Ratio { actual, normal }),
            customary,
            "{actual}:{normal}"
        );
    }
}

#[test]
fn a_letter_is_printed_in_a_box_with_the_typographic_prime() {
    let text = one_cell("1 1 1 1", "R L R L", "snare . . .")
        .replace("form = \"A\"", "form = \"A A'\"")
        + "[cell.\"A'\"]\nlike = \"A\"\n";
    let drawing = draw(&music(&text, Fold::Full), &Style::default());
    let items: Vec<&Item> = drawing.pages[0]
        .items
        .iter()
        .filter(|i| matches!(i.role, Role::Letter(_)))
        .collect();
    let letters: Vec<&str> = items.iter().filter_map(|i| words(i)).collect();
    assert_eq!(letters, ["A", "A′"]);
    let boxes: Vec<_> = items
        .iter()
        .filter(|i| words(i).is_none())
        .map(|i| i.bounds)
        .collect();
    assert_eq!(boxes.len(), 2);
    assert_eq!(
        (boxes[0].top, boxes[0].bottom),
        (boxes[1].top, boxes[1].bottom)
    );
    for (letter, frame) in items.iter().filter(|i| words(i).is_some()).zip(&boxes) {
        assert!(frame.holds(letter.bounds));
    }
    assert!(boxes[0].bottom < drawing.systems[0].staff.0);
}

#[test]
fn three_times_is_said_at_the_repeat_sign_and_twice_is_not() {
    let sheet = |times: u32| {
        let text = one_cell("1 1 1 1", "R L R L", "snare . . .")
            .replace("form = \"A\"", &format!("form = \"(A)x{times} A\""));
        draw(&music(&text, Fold::Repeats), &Style::default())
    };
    let three = sheet(3);
    assert_eq!(
        of(&three, Role::RepeatText)
            .iter()
            .filter_map(|i| words(i))
            .collect::<Vec<_>>(),
        ["×3"]
    );
    // Two dots before and two after.
    let dots = |d: &Drawing| {
        glyphs(d, Glyph::Dot)
            .iter()
            .filter(|i| i.role == Role::BarLine)
            .count()
    };
    assert_eq!(dots(&three), 4);
    let two = sheet(2);
    assert!(of(&two, Role::RepeatText).is_empty());
    assert_eq!(dots(&two), 4);
}

#[test]
fn counts_stand_over_sticking_and_both_can_be_left_out() {
    let written = music(
        &one_cell(
            "4 4 4 4",
            &"R L ".repeat(8),
            &format!("snare{}", " .".repeat(15)),
        ),
        Fold::Full,
    );
    let drawing = draw(&written, &Style::default());
    let counts: Vec<&str> = of(&drawing, Role::Count)
        .iter()
        .filter_map(|i| words(i))
        .collect();
    // "1 e & a": common practice.
    assert_eq!(counts[..5], ["1", "e", "&", "a", "2"]);
    let sticking = of(&drawing, Role::Sticking);
    assert_eq!(sticking.len(), 16);
    let count = of(&drawing, Role::Count)[0].bounds;
    assert!(count.top > drawing.systems[0].staff.1);
    assert!(sticking.iter().all(|s| s.bounds.top > count.bottom));
    let bare = Style {
        show_counts: false,
        show_sticking: false,
        ..Style::default()
    };
    let bare = draw(&written, &bare);
    assert!(of(&bare, Role::Count).is_empty() && of(&bare, Role::Sticking).is_empty());
}

#[test]
fn a_bar_number_stands_at_the_start_of_each_system() {
    let text = one_cell(
        "4 4 4 4",
        &"R L ".repeat(8),
        &format!("snare{}", " .".repeat(15)),
    )
    .replace("form = \"A\"", "form = \"(A)x12\"");
    let drawing = draw(&music(&text, Fold::Full), &Style::default());
    assert!(drawing.systems.len() > 2);
    let numbers: Vec<String> = of(&drawing, Role::BarNumber)
        .iter()
        .filter_map(|i| words(i))
        .map(str::to_owned)
        .collect();
    let starts: Vec<String> = drawing
        .systems
        .iter()
        .map(|s| (s.bars.start + 1).to_string())
        .collect();
    assert_eq!(numbers, starts);
}

#[test]
fn the_key_names_only_the_voices_that_occur() {
    let drawing = one_bar("1 1 1 1", "R L K H", "ride snare . .");
    let mut names: Vec<&str> = of(&drawing, Role::Key)
        .iter()
        .filter_map(|i| words(i))
        .collect();
    names.sort_unstable();
    assert_eq!(names, ["hi-hat, foot", "kick", "ride", "snare"]);
}

#[test]
fn pages_after_the_first_carry_the_title_and_all_their_number() {
    let text = one_cell(
        "4 4 4 4",
        &"R L ".repeat(8),
        &format!("snare{}", " .".repeat(15)),
    )
    .replace("form = \"A\"", "form = \"(A)x60\"");
    let drawing = draw(&music(&text, Fold::Full), &Style::default());
    let pages = drawing.pages.len();
    assert!(pages > 1);
    for (i, page) in drawing.pages.iter().enumerate() {
        let folio: Vec<&str> = page
            .items
            .iter()
            .filter(|i| i.role == Role::Folio)
            .filter_map(words)
            .collect();
        assert!(folio.contains(&format!("{} / {pages}", i + 1).as_str()));
        assert_eq!(folio.contains(&"Test"), i > 0);
    }
}

#[test]
fn the_tempo_is_a_quarter_note_and_its_number() {
    let drawing = one_bar("1 1 1 1", "R - - -", "snare . . .");
    let tempo = of(&drawing, Role::Tempo);
    assert!(tempo.iter().any(|i| words(i) == Some("= 90")));
    assert!(tempo.iter().any(|i| matches!(
        i.shape,
        Shape::Glyph {
            glyph: Glyph::HeadFilled,
            ..
        }
    )));
}

#[test]
fn a_last_line_of_one_bar_is_not_pulled_to_the_margin() {
    let drawing = one_bar("1 1 1 1", "R - - -", "snare . . .");
    let right = of(&drawing, Role::StaffLine)[0].bounds.right;
    assert!(right < 210.0 - 15.0 - 20.0, "ends at {right}");
}

#[test]
fn equal_notes_stand_at_equal_distances() {
    let drawing = one_bar(
        "4 4 4 4",
        &"R L ".repeat(8),
        &format!("tom1{}", " .".repeat(15)),
    );
    let x: Vec<f32> = of(&drawing, Role::Head)
        .iter()
        .map(|h| h.bounds.left)
        .collect();
    let first = x[1] - x[0];
    for pair in x.windows(2) {
        assert!((pair[1] - pair[0] - first).abs() < 0.02, "{x:?}");
    }
}

#[test]
fn a_longer_note_has_more_room_but_not_in_proportion() {
    let drawing = one_bar("1 2 1 1", "R L R L R", "snare . . . .");
    let x: Vec<f32> = of(&drawing, Role::Head)
        .iter()
        .map(|h| h.bounds.left)
        .collect();
    let (quarter, eighth) = (x[1] - x[0], x[2] - x[1]);
    assert!(
        quarter > 1.3 * eighth && quarter < 1.9 * eighth,
        "{quarter} and {eighth}"
    );
}

#[test]
fn a_strip_is_one_system_without_a_page_about_it() {
    let written = music(barform_core::DEMO_SCORE, Fold::Full);
    let drawing = strip(&written, 2..5, &Style::default(), None).expect("draws");
    assert_eq!(drawing.systems.len(), 1);
    assert_eq!(drawing.systems[0].bars, 2..5);
    for role in [
        Role::Title,
        Role::Tempo,
        Role::Key,
        Role::Folio,
        Role::BarNumber,
    ] {
        assert!(of(&drawing, role).is_empty(), "{role:?}");
    }
    let page = &drawing.pages[0];
    for item in &page.items {
        let b = item.bounds;
        assert!(
            b.left > -0.01
                && b.top > -0.01
                && b.right < page.width + 0.01
                && b.bottom < page.height + 0.01
        );
    }
    let wide = strip(&written, 2..5, &Style::default(), Some(900.0)).expect("draws");
    let right = of(&wide, Role::StaffLine)[0].bounds.right;
    assert!((right - 900.0).abs() < 0.05);
}

#[test]
fn a_bar_no_line_can_hold_is_cut_at_a_beat_and_keeps_every_note() {
    // 24 beats of thirty-seconds: more than any paper is wide.
    let text = one_cell("8", "R L R L R L R L", "snare . . . . . . .")
        .replace("meter = \"4/4\"", "meter = \"24/4\"")
        .replace("form = \"A\"", "form = \"(A)x24\"");
    let written = music(&text, Fold::Full);
    assert_eq!(written.bars.len(), 1);
    let drawing = draw(&written, &Style::default());
    assert!(drawing.systems.len() > 2);
    assert_eq!(of(&drawing, Role::Head).len(), 24 * 8);
    // Only the end of the bar has a bar line: a thin and a thick one.
    assert_eq!(of(&drawing, Role::BarLine).len(), 2);
    // No part is drawn smaller.
    assert!(
        drawing
            .systems
            .iter()
            .all(|s| (s.staff.1 - s.staff.0 - 7.0).abs() < 0.01)
    );
    // Each part begins on a beat.
    for system in 1..drawing.systems.len() {
        let first = drawing
            .spots
            .iter()
            .find(|s| s.system == system)
            .expect("has moments");
        assert!(first.beats.fract() == 0.0, "begins at {}", first.beats);
    }
}

#[test]
fn one_beat_too_wide_for_the_paper_is_drawn_smaller() {
    let sticking = "R L ".repeat(32);
    let text = one_cell("64", sticking.trim(), &format!("snare{}", " .".repeat(63)));
    let style = Style {
        paper: Paper {
            width_mm: 105.0,
            height_mm: 148.0,
        },
        margins_mm: 10.0,
        ..Style::default()
    };
    let drawing = draw(&music(&text, Fold::Full), &style);
    let staff = drawing.systems[0].staff;
    assert!(staff.1 - staff.0 < 6.9);
    assert_eq!(of(&drawing, Role::Head).len(), 64);
    assert!(
        drawing.pages[0]
            .items
            .iter()
            .all(|i| i.bounds.right <= 95.01)
    );
}

#[test]
fn what_cannot_be_printed_is_refused() {
    let written = music(&one_cell("1 1 1 1", "R - - -", "snare . . ."), Fold::Full);
    let kit = barform_core::music::Kit::general_midi();
    let with = |style: Style| engrave(&written, &kit, &style);
    for staff_height_mm in [0.0, -7.0, 1000.0, f32::NAN] {
        let e = with(Style {
            staff_height_mm,
            ..Style::default()
        })
        .expect_err("no such staff");
        assert!(matches!(e, EngraveError::StaffHeight(_)));
    }
    for (width_mm, height_mm, margins_mm) in [
        (20.0, 297.0, 5.0),
        (210.0, 30.0, 5.0),
        (210.0, 297.0, 100.0),
        (210.0, 297.0, -1.0),
        (f32::NAN, 297.0, 10.0),
        (1e9, 297.0, 10.0),
    ] {
        let e = with(Style {
            paper: Paper {
                width_mm,
                height_mm,
            },
            margins_mm,
            ..Style::default()
        });
        assert!(
            matches!(e, Err(EngraveError::Paper { .. })),
            "{width_mm} {height_mm} {margins_mm}"
        );
    }
    let e = strip(&written, 0..2, &Style::default(), None).expect_err("one bar only");
    assert_eq!(
        e,
        EngraveError::NoSuchBars {
            from: 0,
            to: 2,
            count: 1
        }
    );
    let mut broken = written.clone();
    broken.bars[0].hands.beams.push(barform_core::sheet::Beam {
        level: 1,
        first: 0,
        last: 99,
        backward: false,
    });
    let e = engrave(&broken, &kit, &Style::default()).expect_err("no such note");
    assert_eq!(
        e,
        EngraveError::NoSuchElement {
            bar: 0,
            element: 99
        }
    );
}

#[test]
fn a_new_meter_is_announced_at_the_end_of_the_line_before() {
    let bar = "R L R L R L R L R L R L R L R L";
    let text = format!(
        "barform = 1\ntitle = \"Test\"\ntempo = 90\nmeter = \"4/4\"\n\
         [[section]]\nname = \"One\"\nform = \"(A)x8\"\n\
         [[section]]\nname = \"Two\"\nmeter = \"3/4\"\nform = \"(B)x7\"\n\
         [cell.A]\ngrid = \"4 4 4 4\"\nsticking = \"{bar}\"\n\
         [cell.B]\ngrid = \"3 3 3\"\nsticking = \"R L R L R L R L R\"\n"
    );
    let drawing = draw(&music(&text, Fold::Full), &Style::default());
    let threes = glyphs(&drawing, Glyph::MeterDigit(3));
    // Bar 9 is the first in three; a section begins a line where it can.
    let turn = drawing
        .systems
        .iter()
        .position(|s| s.bars.start == 8)
        .expect("begins a line");
    assert_eq!(threes.len(), 2, "one that warns, one at the bar");
    let before = &drawing.systems[turn - 1];
    assert!(threes.iter().any(|t| before.bounds.holds(t.bounds)));
    let last_line = of(&drawing, Role::BarLine)
        .into_iter()
        .filter(|b| before.bounds.holds(b.bounds))
        .map(|b| b.bounds.right)
        .fold(0.0, f32::max);
    let warning = threes
        .iter()
        .find(|t| before.bounds.holds(t.bounds))
        .expect("warns");
    assert!(warning.bounds.left > last_line);
}
