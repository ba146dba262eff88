//! Signs of music: outlines, boxes and proportions.

use barform_app::sheet::{Bounds, Glyph, Path, PathStep, Point, ink};

const TOLERANCE: f32 = 1e-3;

fn width(glyph: Glyph) -> f32 {
    let bounds = ink::glyph_bounds(glyph);
    bounds.right - bounds.left
}

fn height(glyph: Glyph) -> f32 {
    let bounds = ink::glyph_bounds(glyph);
    bounds.bottom - bounds.top
}

fn close(found: f32, wanted: f32) -> bool {
    (found - wanted).abs() <= TOLERANCE
}

/// The box of a path by walking along its curves in small steps.
fn walked(path: &Path) -> Bounds {
    const STEPS: u16 = 2_000;
    let mut points: Vec<Point> = Vec::new();
    for step in &path.0 {
        match *step {
            PathStep::Move(p) | PathStep::Line(p) => points.push(p),
            PathStep::Curve(a, b, end) => {
                let start = *points.last().expect("a curve goes on from somewhere");
                points.extend((1..=STEPS).map(|i| {
                    // De Casteljau's construction.
                    let t = f32::from(i) / f32::from(STEPS);
                    let between = |p: Point, q: Point| Point {
                        x: p.x + (q.x - p.x) * t,
                        y: p.y + (q.y - p.y) * t,
                    };
                    let (ab, bc, cd) = (between(start, a), between(a, b), between(b, end));
                    between(between(ab, bc), between(bc, cd))
                }));
            }
            PathStep::Close => {}
        }
    }
    assert_eq!(path.0.last(), Some(&PathStep::Close));
    points
        .iter()
        .map(|p| Bounds {
            left: p.x,
            top: p.y,
            right: p.x,
            bottom: p.y,
        })
        .reduce(Bounds::with)
        .expect("an outline has points")
}

#[test]
fn every_sign_has_an_outline_and_its_box_is_that_of_the_outline() {
    let mut signs = 0;
    for glyph in ink::all() {
        signs += 1;
        let stated = ink::glyph_bounds(glyph);
        let found = walked(ink::outline(glyph));
        assert!(width(glyph) > 0.05 && height(glyph) > 0.05, "{glyph:?}");
        for (stated, found) in [
            (stated.left, found.left),
            (stated.top, found.top),
            (stated.right, found.right),
            (stated.bottom, found.bottom),
        ] {
            assert!(close(stated, found), "{glyph:?}: {stated} and {found}");
        }
    }
    // 22 that stand alone, 2 × 8 flags, 11 rests, 2 × 10 digits.
    assert_eq!(signs, 22 + 16 + 11 + 20);
}

#[test]
fn numbers_out_of_range_draw_as_the_nearest() {
    assert_eq!(
        ink::outline(Glyph::Rest(200)),
        ink::outline(Glyph::Rest(10))
    );
    assert_eq!(
        ink::outline(Glyph::FlagsUp(0)),
        ink::outline(Glyph::FlagsUp(1))
    );
    assert_eq!(
        ink::outline(Glyph::FlagsDown(9)),
        ink::outline(Glyph::FlagsDown(8))
    );
    assert_eq!(
        ink::outline(Glyph::MeterDigit(10)),
        ink::outline(Glyph::MeterDigit(9))
    );
}

/// Common practice in engraving: an oval head fills one space and is 1.1 to 1.4
/// times as wide as high; a whole note is wider, 1.5 to 1.9; other heads fill a
/// space, open ones may stand out a little.
#[test]
fn heads_have_the_proportions_of_the_trade() {
    for head in [Glyph::HeadFilled, Glyph::HeadHalf] {
        assert!(close(height(head), 1.0), "{head:?}: {}", height(head));
        assert!((1.1..1.4).contains(&width(head)), "{head:?}");
    }
    assert_eq!(width(Glyph::HeadFilled), width(Glyph::HeadHalf));
    assert!((1.5..1.9).contains(&width(Glyph::HeadWhole)));
    assert!(close(height(Glyph::HeadWhole), 1.0));
    for head in [
        Glyph::HeadCross,
        Glyph::HeadCrossOpen,
        Glyph::HeadCircledCross,
        Glyph::HeadDiamond,
        Glyph::HeadDiamondOpen,
        Glyph::HeadTriangle,
        Glyph::HeadTriangleOpen,
    ] {
        assert!((1.0..1.3).contains(&width(head)), "{head:?}");
        assert!((0.99..1.2).contains(&height(head)), "{head:?}");
    }
}

#[test]
fn heads_and_marks_stand_round_their_origin() {
    for sign in [
        Glyph::HeadFilled,
        Glyph::HeadHalf,
        Glyph::HeadWhole,
        Glyph::HeadCross,
        Glyph::HeadCrossOpen,
        Glyph::HeadCircledCross,
        Glyph::HeadDiamond,
        Glyph::HeadDiamondOpen,
        Glyph::HeadTriangle,
        Glyph::HeadTriangleOpen,
        Glyph::Dot,
        Glyph::Accent,
        Glyph::Open,
        Glyph::HalfOpen,
        Glyph::Closed,
        Glyph::Buzz,
        Glyph::GraceSlash,
    ] {
        let bounds = ink::glyph_bounds(sign);
        assert!(close(bounds.left, -bounds.right), "{sign:?}: {bounds:?}");
        assert!(close(bounds.top, -bounds.bottom), "{sign:?}: {bounds:?}");
    }
}

#[test]
fn parentheses_mirror_each_other_and_clear_every_short_head() {
    let left = ink::glyph_bounds(Glyph::ParenLeft);
    let right = ink::glyph_bounds(Glyph::ParenRight);
    assert!(close(left.left, -right.right) && close(left.right, -right.left));
    for head in [
        Glyph::HeadFilled,
        Glyph::HeadCross,
        Glyph::HeadCircledCross,
        Glyph::HeadDiamond,
        Glyph::HeadTriangle,
    ] {
        let head = ink::glyph_bounds(head);
        assert!(!left.overlaps(head) && !right.overlaps(head));
    }
}

/// Where rests stand is common practice: the whole rest hangs from the second
/// line from above, the half rest lies on the middle line, the quarter rest
/// spans about three spaces; each hook of a shorter one sits in its own space.
#[test]
fn rests_stand_where_they_are_read() {
    let whole = ink::glyph_bounds(Glyph::Rest(0));
    assert!(close(whole.top, -1.0) && close(whole.bottom, -0.5));
    let half = ink::glyph_bounds(Glyph::Rest(1));
    assert!(close(half.bottom, 0.0) && close(half.top, -0.5));
    assert!((2.7..3.2).contains(&height(Glyph::Rest(2))));
    for halvings in 0..=10 {
        let bounds = ink::glyph_bounds(Glyph::Rest(halvings));
        assert!(bounds.left.abs() < 0.06, "{halvings}: {}", bounds.left);
    }
    for halvings in 4..=10 {
        let (shorter, longer) = (Glyph::Rest(halvings), Glyph::Rest(halvings - 1));
        assert!(close(height(shorter) - height(longer), 1.0), "{halvings}");
    }
}

#[test]
fn flags_hang_on_the_end_of_the_stem() {
    for count in 1..=8 {
        let up = ink::glyph_bounds(Glyph::FlagsUp(count));
        let down = ink::glyph_bounds(Glyph::FlagsDown(count));
        assert!(close(up.left, 0.0) && close(up.top, 0.0), "{up:?}");
        assert!(close(down.left, 0.0) && close(down.bottom, 0.0), "{down:?}");
        assert!(close(up.bottom, -down.top) && close(up.right, down.right));
        // Narrower than a head, so that a flag does not reach the next note.
        assert!(up.right < width(Glyph::HeadFilled));
    }
    for count in 3..=8 {
        let step = height(Glyph::FlagsUp(count)) - height(Glyph::FlagsUp(count - 1));
        // Common practice: three quarters of a space from flag to flag.
        assert!(close(step, 0.75), "{count}: {step}");
    }
}

#[test]
fn digits_are_equally_high_and_begin_at_their_origin() {
    for digit in 0..=9 {
        for (glyph, high) in [
            (Glyph::MeterDigit(digit), 2.0),
            (Glyph::TupletDigit(digit), height(Glyph::TupletDigit(0))),
        ] {
            let bounds = ink::glyph_bounds(glyph);
            assert!(close(height(glyph), high), "{glyph:?}");
            assert!(close(bounds.top, -bounds.bottom), "{glyph:?}");
            assert!(close(bounds.left, 0.0), "{glyph:?}");
        }
    }
    assert!((0.8..1.2).contains(&height(Glyph::TupletDigit(0))));
    let colon = ink::glyph_bounds(Glyph::TupletColon);
    let digit = ink::glyph_bounds(Glyph::TupletDigit(0));
    assert!(colon.top > digit.top && colon.bottom < digit.bottom);
}

#[test]
fn clef_covers_the_two_inner_spaces() {
    let clef = ink::glyph_bounds(Glyph::PercussionClef);
    assert!(close(clef.top, -1.0) && close(clef.bottom, 1.0));
    assert!(close(clef.left, 0.0));
}
