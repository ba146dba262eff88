//! What every output needs of a shape: its ink's box, whether it can be painted,
//! where words begin.

use super::super::{Anchor, Bounds, Path, PathStep, Point, Shape};
use super::face::{letters, text_bounds};
use super::outline::{glyph_bounds, path_bounds};
use resvg::tiny_skia::{self, PathBuilder};

/// Corners of strokes are pointed up to this many times the width.
pub(super) const MITER_LIMIT: f32 = 4.0;

/// The box of a shape's ink in millimetres: what
/// [`Item::bounds`](super::super::Item::bounds) holds. A shape without ink has an
/// empty box.
pub fn shape_bounds(shape: &Shape) -> Bounds {
    match shape {
        Shape::Line { from, to, width } => {
            let (dx, dy) = (to.x - from.x, to.y - from.y);
            let length = dx.hypot(dy);
            let half = if length > 0.0 {
                width / 2.0 / length
            } else {
                0.0
            };
            let (across, along) = ((dy * half).abs(), (dx * half).abs());
            Bounds {
                left: from.x.min(to.x) - across,
                top: from.y.min(to.y) - along,
                right: from.x.max(to.x) + across,
                bottom: from.y.max(to.y) + along,
            }
        }
        Shape::Fill(path) => path_bounds(path),
        Shape::Stroke { path, width } => stroke_bounds(path, *width),
        Shape::Glyph { glyph, at, space } => shifted(glyph_bounds(*glyph), *space, *at),
        Shape::Text {
            text,
            at,
            size,
            face,
            anchor,
        } => {
            let width = letters(*face).set(text).width * size;
            let start = text_start(*at, *anchor, width);
            shifted(text_bounds(text, *face, *size), 1.0, start)
        }
    }
}

fn shifted(bounds: Bounds, scale: f32, to: Point) -> Bounds {
    Bounds {
        left: bounds.left * scale + to.x,
        top: bounds.top * scale + to.y,
        right: bounds.right * scale + to.x,
        bottom: bounds.bottom * scale + to.y,
    }
}

fn stroke_bounds(path: &Path, width: f32) -> Bounds {
    let stroke = tiny_skia::Stroke {
        width,
        miter_limit: MITER_LIMIT,
        ..tiny_skia::Stroke::default()
    };
    // Round edges of the stroke are followed to a hundredth of a millimetre.
    let precision = 100.0;
    let inked = skia_path(path).and_then(|path| path.stroke(&stroke, precision));
    match inked.and_then(|inked| inked.compute_tight_bounds()) {
        Some(rect) => Bounds {
            left: rect.left(),
            top: rect.top(),
            right: rect.right(),
            bottom: rect.bottom(),
        },
        None => path_bounds(path),
    }
}

fn skia_path(path: &Path) -> Option<tiny_skia::Path> {
    let mut builder = PathBuilder::new();
    for step in &path.0 {
        match *step {
            PathStep::Move(p) => builder.move_to(p.x, p.y),
            PathStep::Line(p) => builder.line_to(p.x, p.y),
            PathStep::Curve(a, b, p) => builder.cubic_to(a.x, a.y, b.x, b.y, p.x, p.y),
            PathStep::Close => builder.close(),
        }
    }
    builder.finish()
}

/// Where words of a width begin.
pub(super) fn text_start(at: Point, anchor: Anchor, width: f32) -> Point {
    let x = match anchor {
        Anchor::Start => at.x,
        Anchor::Middle => at.x - width / 2.0,
        Anchor::End => at.x - width,
    };
    Point { x, y: at.y }
}

/// Whether every number of a shape is one, and it has a size.
pub(super) fn can_be_painted(shape: &Shape) -> bool {
    let finite = |p: &Point| p.x.is_finite() && p.y.is_finite();
    let size = |length: f32| length.is_finite() && length > 0.0;
    let path_finite = |path: &Path| {
        path.0.iter().all(|step| match step {
            PathStep::Move(p) | PathStep::Line(p) => finite(p),
            PathStep::Curve(a, b, p) => finite(a) && finite(b) && finite(p),
            PathStep::Close => true,
        })
    };
    match shape {
        Shape::Line { from, to, width } => finite(from) && finite(to) && size(*width),
        Shape::Fill(path) => path_finite(path),
        Shape::Stroke { path, width } => path_finite(path) && size(*width),
        Shape::Glyph { at, space, .. } => finite(at) && size(*space),
        Shape::Text { at, size: em, .. } => finite(at) && size(*em),
    }
}
