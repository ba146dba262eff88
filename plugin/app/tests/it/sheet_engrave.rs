//! The rules of a page of music, the notes: read from what is drawn. Lengths of stems and
//! thickness of beams after Gould, *Behind Bars* (Faber 2011), from memory; the
//! rest common practice unless named.

use crate::sheet_engrave_support;

use barform_app::sheet::engrave::is_customary;
use barform_app::sheet::{Glyph, Item, Ratio, Role, Shape};
use sheet_engrave_support::{at_y, glyphs, of, one_bar};

/// Staff space of the normal size: 7 mm over four spaces.
const SPACE: f32 = 7.0 / 4.0;

fn height(item: &Item) -> f32 {
    item.bounds.bottom - item.bounds.top
}

fn width(item: &Item) -> f32 {
    item.bounds.right - item.bounds.left
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
    let choke = glyphs(&drawing, Glyph::Choke);
    assert_eq!(choke.len(), 1);
    assert!(choke[0].bounds.bottom < of(&drawing, Role::Stem)[0].bounds.top);
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
    let middle = |b: barform_app::sheet::Bounds| (b.left + b.right) / 2.0;
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
