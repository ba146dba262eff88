//! The rules of a page of music, rows and pages: read from what is drawn.
//! Common practice unless named.

use crate::sheet_engrave_support;

use barform_app::sheet::engrave::{EngraveError, Paper, Style, engrave, strip};
use barform_app::sheet::notate::Fold;
use barform_app::sheet::{Drawing, Glyph, Item, Role, Shape};
use sheet_engrave_support::{draw, glyphs, music, of, one_bar, one_cell, words};

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
fn letters_of_grace_notes_are_small_raised_capitals() {
    // A small l is read as I or 1; a capital is not.
    let drawing = one_bar("1 1 1 1", "lR rL llR lrlR", "snare . . .");
    let (main, graces) = (
        of(&drawing, Role::Sticking),
        of(&drawing, Role::GraceSticking),
    );
    let said = |items: &[&Item]| -> Vec<String> {
        items
            .iter()
            .filter_map(|i| words(i))
            .map(str::to_owned)
            .collect()
    };
    assert_eq!(said(&main), ["R", "L", "R", "R"]);
    assert_eq!(said(&graces), ["L", "R", "LL", "LRL"]);
    let heads = of(&drawing, Role::Head);
    for ((main, grace), head) in main.iter().zip(&graces).zip(heads) {
        let (m, g, h) = (main.bounds, grace.bounds, head.bounds);
        assert!(g.bottom - g.top < 0.75 * (m.bottom - m.top));
        assert!(g.bottom < m.bottom - 0.2 * (m.bottom - m.top));
        assert!(g.right < m.left);
        // The letter of the stroke itself stands under its head.
        assert!((m.left + m.right - h.left - h.right).abs() < 0.1);
    }
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
    assert_eq!(names, ["hi-hat foot", "kick", "ride", "snare"]);
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
    let written = music(barform_app::DEMO_SCORE, Fold::Full);
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
    let kit = barform_app::music::Kit::general_midi();
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
    broken.bars[0].hands.beams.push(barform_app::sheet::Beam {
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

#[test]
fn a_long_title_goes_on_in_a_second_line() {
    let title =
        "A title of many words that no page holds in one line, not even one turned on its side";
    let text = one_cell("1 1 1 1", "R - - -", "snare . . .").replace("Test", title);
    let drawing = draw(&music(&text, Fold::Full), &Style::default());
    let lines: Vec<&str> = of(&drawing, Role::Title)
        .iter()
        .filter_map(|i| words(i))
        .collect();
    assert!(lines.len() > 1);
    assert_eq!(lines.join(" "), title);
}

#[test]
fn every_letter_fits_its_box() {
    // J and Q have tails, primes stand high, digits are wide.
    for letter in ["J", "Q", "W99", "A''''''''"] {
        let text = one_cell("1 1 1 1", "R - - -", "snare . . .")
            .replace("form = \"A\"", &format!("form = \"{letter}\""))
            .replace("[cell.A]", &format!("[cell.\"{letter}\"]"));
        let drawing = draw(&music(&text, Fold::Full), &Style::default());
        let items: Vec<&Item> = drawing.pages[0]
            .items
            .iter()
            .filter(|i| matches!(i.role, Role::Letter(_)))
            .collect();
        let (inner, outer): (Vec<&Item>, Vec<&Item>) =
            items.into_iter().partition(|i| words(i).is_some());
        assert!(outer[0].bounds.holds(inner[0].bounds), "{letter}");
    }
}

#[test]
fn the_form_under_the_title_is_whole_and_has_typographic_primes() {
    let written = music(barform_app::DEMO_SCORE, Fold::Letters);
    let drawing = draw(&written, &Style::default());
    let title = of(&drawing, Role::Title);
    let lines: Vec<&str> = title.iter().filter_map(|i| words(i)).collect();
    let words_of = |text: &str| {
        text.split_whitespace()
            .map(str::to_owned)
            .collect::<Vec<_>>()
    };
    assert!(!written.subtitle.is_empty());
    assert_eq!(
        words_of(&lines[1..].join(" ")),
        words_of(&written.subtitle.replace('\'', "′"))
    );
}

#[test]
fn a_title_without_end_leaves_room_for_the_music() {
    let mut written = music(&one_cell("1 1 1 1", "R - K H", "snare . . ."), Fold::Full);
    written.title = "without end ".repeat(500);
    written.subtitle = "A B ".repeat(5000);
    for style in sheet_engrave_support::styles() {
        let drawing = draw(&written, &style);
        for page in &drawing.pages {
            for item in &page.items {
                let (b, m) = (item.bounds, style.margins_mm - 0.01);
                assert!(b.left >= m && b.right <= page.width - m, "{item:?}");
                assert!(b.top >= m && b.bottom <= page.height - m, "{item:?}");
            }
        }
        assert_eq!(of(&drawing, Role::Head).len(), 3);
    }
}
