//! Where each voice stands, after Weinberg, "Guidelines for Drumset Notation"
//! (Percussive Notes, June 1994), as given in the project's design: positions as
//! if in treble clef. Read from the drawn sheet, not from the table.

use crate::sheet_engrave_support;

use barform_app::sheet::{Drawing, Glyph, Role, Shape};
use sheet_engrave_support::{of, one_bar};

/// Steps from E4, the lowest line in treble clef, to a pitch.
fn steps_from_e4(pitch: &str) -> f32 {
    let letter = "CDEFGAB".find(&pitch[..1]).expect("a letter") as i32;
    let octave: i32 = pitch[1..].parse().expect("an octave");
    (octave * 7 + letter - (4 * 7 + 2)) as f32
}

/// Where a glyph stands, in steps above the lowest line of its staff.
fn steps(drawing: &Drawing, y: f32) -> f32 {
    let (top, bottom) = drawing.systems[0].staff;
    (bottom - y) / ((bottom - top) / 8.0)
}

/// One quarter note, then rests: its head must be `glyph` at `pitch`, its stem
/// must point up or not.
fn stands(sticking: &str, voice: &str, pitch: &str, glyph: Glyph, stem_up: bool) {
    let drawing = one_bar(
        "1 1 1 1",
        &format!("{sticking} - - -"),
        &format!("{voice} . . ."),
    );
    let heads = of(&drawing, Role::Head);
    assert_eq!(heads.len(), 1);
    let Shape::Glyph {
        glyph: drawn, at, ..
    } = heads[0].shape
    else {
        panic!("a head is a glyph");
    };
    assert_eq!(drawn, glyph);
    assert!((steps(&drawing, at.y) - steps_from_e4(pitch)).abs() < 0.01);
    let stems = of(&drawing, Role::Stem);
    assert_eq!(stems.len(), 1);
    let middle = (stems[0].bounds.top + stems[0].bounds.bottom) / 2.0;
    assert_eq!(middle < at.y, stem_up, "stem of {voice}");
}

#[test]
fn hi_hat_foot_stands_below_the_staff_at_d4() {
    stands("H", ".", "D4", Glyph::HeadCross, false);
}

#[test]
fn kick_stands_at_f4() {
    stands("K", ".", "F4", Glyph::HeadFilled, false);
}

#[test]
fn floor_tom_stands_at_a4() {
    // The lowest of the usual kit's four toms.
    stands("R", "tom4", "A4", Glyph::HeadFilled, true);
}

#[test]
fn snare_stands_at_c5() {
    stands("R", "snare", "C5", Glyph::HeadFilled, true);
}

#[test]
fn mid_tom_stands_at_d5() {
    stands("R", "tom2", "D5", Glyph::HeadFilled, true);
}

#[test]
fn high_tom_stands_at_e5() {
    stands("R", "tom1", "E5", Glyph::HeadFilled, true);
}

#[test]
fn ride_stands_at_f5() {
    stands("R", "ride", "F5", Glyph::HeadCross, true);
}

#[test]
fn hi_hat_stands_at_g5() {
    stands("R", "hat", "G5", Glyph::HeadCross, true);
}

#[test]
fn crash_stands_at_a5() {
    stands("R", "crash", "A5", Glyph::HeadCross, true);
}

#[test]
fn crash_has_a_ledger_line_and_the_hi_hat_has_none() {
    // A5 is on the first line above the staff, G5 in the space below it.
    let crash = one_bar("1 1 1 1", "R - - -", "crash . . .");
    let ledgers = of(&crash, Role::Ledger);
    assert_eq!(ledgers.len(), 1);
    let y = (ledgers[0].bounds.top + ledgers[0].bounds.bottom) / 2.0;
    assert!((steps(&crash, y) - 10.0).abs() < 0.01);
    let hat = one_bar("1 1 1 1", "R - - -", "hat . . .");
    assert!(of(&hat, Role::Ledger).is_empty());
}

#[test]
fn rimshot_is_a_circled_x_on_the_snare() {
    stands("R", "snare:rim", "C5", Glyph::HeadCircledCross, true);
}

#[test]
fn cross_stick_is_an_x_on_the_snare() {
    stands("L", "snare:cross", "C5", Glyph::HeadCross, true);
}

#[test]
fn bell_of_the_ride_is_a_diamond() {
    stands("R", "ride:bell", "F5", Glyph::HeadDiamond, true);
}

#[test]
fn cowbell_is_a_triangle() {
    // Its place is common practice: the space above the high tom's line is the ride's.
    stands("R", "cowbell", "E5", Glyph::HeadTriangle, true);
}

#[test]
fn half_notes_have_open_heads() {
    for (voice, glyph) in [
        ("snare", Glyph::HeadHalf),
        ("ride", Glyph::HeadCrossOpen),
        ("ride:bell", Glyph::HeadDiamondOpen),
        ("cowbell", Glyph::HeadTriangleOpen),
    ] {
        // Half notes arise where the pulse is one: in 2/2 a stroke fills it.
        let text = sheet_engrave_support::one_cell("1@2 1@2", "R L", &format!("{voice} ."))
            .replace("meter = \"4/4\"", "meter = \"2/2\"");
        let music = sheet_engrave_support::music(&text, Default::default());
        let drawing = sheet_engrave_support::draw(&music, &Default::default());
        let heads = of(&drawing, Role::Head);
        assert_eq!(heads.len(), 2, "{voice}");
        for head in heads {
            assert!(
                matches!(head.shape, Shape::Glyph { glyph: g, .. } if g == glyph),
                "{voice}"
            );
        }
    }
}
