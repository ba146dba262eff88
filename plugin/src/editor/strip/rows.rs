//! Where the rows of the strip lie, and what lies at a point of it.

use barform_app::timeline::Place;
use egui::{Rect, pos2, vec2};

use super::View;

/// Height of the strip with its map, in points; the buttons below it not counted.
pub const HEIGHT: f32 = 116.0;

/// Points left free on either side, so that the playhead is whole at both ends.
pub const MARGIN: f32 = 10.0;

/// Heights of the rows from the top, in points.
pub const SECTIONS: (f32, f32) = (2.0, 17.0);
/// Bar numbers: the ruler.
pub const BARS: (f32, f32) = (17.0, 32.0);
/// What blocks and groups do otherwise.
pub const OTHERWISE: (f32, f32) = (32.0, 46.0);
/// Blocks.
pub const BLOCKS: (f32, f32) = (47.0, 86.0);
/// Brackets of groups.
pub const GROUPS: (f32, f32) = (87.0, 104.0);
/// The map of the whole.
pub const MAP: (f32, f32) = (106.0, 114.0);

/// Points between one row of brackets and the next.
pub const BRACKET: f32 = 9.0;

/// Least width of something that is to be clicked, in points.
const LEAST: f32 = 3.0;

/// Where something lies across the strip, from its left edge.
pub fn at(strip: Rect, x: f32, y: f32) -> egui::Pos2 {
    pos2(strip.left() + x, strip.top() + y)
}

/// A stretch of a row, from `left` to `right` in points from the strip's left
/// edge.
pub fn stretch(strip: Rect, row: (f32, f32), left: f32, right: f32) -> Rect {
    Rect::from_min_max(at(strip, left, row.0), at(strip, right, row.1))
}

/// Where the map lies within the strip.
pub fn map(strip: Rect) -> Rect {
    Rect::from_min_max(
        at(strip, 0.0, MAP.0),
        pos2(strip.right(), strip.top() + MAP.1),
    )
}

/// Where a block lies.
pub fn block(strip: Rect, view: &View, place: &Place) -> Rect {
    let start = place.start.to_f64();
    let (left, right) = (view.x(start), view.x(start + place.length.to_f64()));
    let gap = if right - left > 6.0 { 1.0 } else { 0.25 };
    stretch(strip, BLOCKS, left + gap, right - gap)
}

/// Where the bracket of a group lies, from beat to beat.
pub fn bracket(strip: Rect, view: &View, depth: usize, beats: (f64, f64)) -> Rect {
    let top = GROUPS.0 + BRACKET * depth as f32;
    let (left, right) = (view.x(beats.0) + 2.0, view.x(beats.1) - 2.0);
    stretch(strip, (top, top + BRACKET), left, right.max(left + LEAST))
}

/// The part of something that is in view; `None` if it is not.
pub fn in_view(strip: Rect, rect: Rect) -> Option<Rect> {
    let whole = strip.expand2(vec2(MARGIN, 0.0));
    let seen = rect.intersect(whole);
    seen.is_positive().then_some(seen)
}

/// The places of a form that are in view.
pub fn visible(view: &View, places: &[Place]) -> std::ops::Range<usize> {
    let first = places.partition_point(|p| p.start.to_f64() <= view.start_beats());
    let first = first.saturating_sub(1);
    let seen = |p: &Place| p.start.to_f64() < view.end_beats();
    first..first + places[first..].partition_point(seen)
}
