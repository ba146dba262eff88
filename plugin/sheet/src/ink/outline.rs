//! The outline and the box of each sign of music, made once and kept.

use super::super::{Bounds, Glyph, Path, PathStep, Point};
use super::pen::at;
use super::{digits, flags, heads, marks, rests};
use std::sync::LazyLock;

const SIMPLE: [Glyph; 21] = [
    Glyph::PercussionClef,
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
    Glyph::ParenLeft,
    Glyph::ParenRight,
    Glyph::Dot,
    Glyph::Accent,
    Glyph::Open,
    Glyph::HalfOpen,
    Glyph::Closed,
    Glyph::Choke,
    Glyph::Buzz,
    Glyph::TupletColon,
];

/// Every sign there is, in a fixed order.
pub fn all() -> impl Iterator<Item = Glyph> {
    SIMPLE
        .into_iter()
        .chain([Glyph::GraceSlash])
        .chain((1..=8).map(Glyph::FlagsUp))
        .chain((1..=8).map(Glyph::FlagsDown))
        .chain((0..=10).map(Glyph::Rest))
        .chain((0..=9).map(Glyph::MeterDigit))
        .chain((0..=9).map(Glyph::TupletDigit))
}

/// Place in the order of [`all`]. Numbers out of range become the nearest one.
fn index(glyph: Glyph) -> usize {
    let simple = SIMPLE.len();
    let within = |n: u8, low: u8, high: u8| usize::from(n.clamp(low, high) - low);
    match glyph {
        Glyph::GraceSlash => simple,
        Glyph::FlagsUp(n) => simple + 1 + within(n, 1, 8),
        Glyph::FlagsDown(n) => simple + 9 + within(n, 1, 8),
        Glyph::Rest(n) => simple + 17 + within(n, 0, 10),
        Glyph::MeterDigit(n) => simple + 28 + within(n, 0, 9),
        Glyph::TupletDigit(n) => simple + 38 + within(n, 0, 9),
        other => SIMPLE.iter().position(|g| *g == other).unwrap_or(0),
    }
}

static TABLE: LazyLock<Vec<(Path, Bounds)>> = LazyLock::new(|| {
    all()
        .map(|glyph| {
            let path = draw(glyph);
            let bounds = path_bounds(&path);
            (path, bounds)
        })
        .collect()
});

fn draw(glyph: Glyph) -> Path {
    match glyph {
        Glyph::HeadFilled => heads::filled(),
        Glyph::HeadHalf => heads::half(),
        Glyph::HeadWhole => heads::whole(),
        Glyph::HeadCross => heads::cross(),
        Glyph::HeadCrossOpen => heads::cross_open(),
        Glyph::HeadCircledCross => heads::circled_cross(),
        Glyph::HeadDiamond => heads::diamond(),
        Glyph::HeadDiamondOpen => heads::diamond_open(),
        Glyph::HeadTriangle => heads::triangle(),
        Glyph::HeadTriangleOpen => heads::triangle_open(),
        Glyph::ParenLeft => heads::paren(-1.0),
        Glyph::ParenRight => heads::paren(1.0),
        Glyph::FlagsUp(count) => flags::flags(count, 1.0),
        Glyph::FlagsDown(count) => flags::flags(count, -1.0),
        Glyph::Rest(halvings) => rests::rest(halvings),
        Glyph::PercussionClef => marks::clef(),
        Glyph::Dot => marks::dot(),
        Glyph::Accent => marks::accent(),
        Glyph::Open => marks::open(),
        Glyph::HalfOpen => marks::half_open(),
        Glyph::Closed => marks::closed(),
        Glyph::Choke => marks::choke(),
        Glyph::Buzz => marks::buzz(),
        Glyph::GraceSlash => marks::grace_slash(),
        Glyph::MeterDigit(digit) => digits::meter(digit),
        Glyph::TupletDigit(digit) => digits::tuplet(digit),
        Glyph::TupletColon => digits::colon(),
    }
}

/// The outline of a sign: closed contours, unit one staff space, y downward,
/// filled by the non-zero rule (parts may overlap). A number out of range draws
/// as the nearest one that there is.
pub fn outline(glyph: Glyph) -> &'static Path {
    &TABLE[index(glyph)].0
}

/// The box of a sign's ink in staff spaces, relative to its origin.
pub fn glyph_bounds(glyph: Glyph) -> Bounds {
    TABLE[index(glyph)].1
}

/// The box of a path, exact for curves; the width of a stroke is not counted. A
/// path without a point has an empty box at the origin.
pub fn path_bounds(path: &Path) -> Bounds {
    let mut bounds: Option<Bounds> = None;
    let mut add = |p: Point| {
        let point = Bounds {
            left: p.x,
            top: p.y,
            right: p.x,
            bottom: p.y,
        };
        bounds = Some(bounds.map_or(point, |b| b.with(point)));
    };
    let mut last = Point::default();
    for step in &path.0 {
        match *step {
            PathStep::Move(p) | PathStep::Line(p) => {
                add(p);
                last = p;
            }
            PathStep::Curve(a, b, p) => {
                add(p);
                let across = turning(last.x, a.x, b.x, p.x);
                let along = turning(last.y, a.y, b.y, p.y);
                for t in across.into_iter().chain(along).flatten() {
                    add(curve_point(last, a, b, p, t));
                }
                last = p;
            }
            PathStep::Close => {}
        }
    }
    bounds.unwrap_or_default()
}

/// Where a coordinate of a cubic curve turns back, inside it.
fn turning(start: f32, first: f32, second: f32, end: f32) -> [Option<f32>; 2] {
    let (start, first) = (f64::from(start), f64::from(first));
    let (second, end) = (f64::from(second), f64::from(end));
    // A third of the derivative, as a·t² + b·t + c.
    let a = end - start + 3.0 * (first - second);
    let b = 2.0 * (start - 2.0 * first + second);
    let c = first - start;
    let inside = |t: f64| (t > 0.0 && t < 1.0).then_some(t as f32);
    let root = (b * b - 4.0 * a * c).sqrt();
    if root.is_nan() {
        return [None, None];
    }
    // Both roots without the difference of near equals.
    let q = -0.5 * (b + root.copysign(b));
    [inside(q / a), inside(c / q)]
}

/// A point of a cubic curve, `t` from 0 to 1.
pub(super) fn curve_point(start: Point, first: Point, second: Point, end: Point, t: f32) -> Point {
    let s = 1.0 - t;
    let (w0, w1, w2, w3) = (s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t);
    at(
        w0 * start.x + w1 * first.x + w2 * second.x + w3 * end.x,
        w0 * start.y + w1 * first.y + w2 * second.y + w3 * end.y,
    )
}
