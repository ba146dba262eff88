//! The cell engraved, with the places that a cursor and a click need.
//!
//! Gives a picture as the printed sheet has it, the middle of each slot, the
//! box of each note head, where the counts begin. A cell that has no plain note
//! values gets a staff with heads at their times.

use barform_app::music::{Beats, Cell, Limb, Meter, Voice};
use barform_app::sheet::engrave::{Style, strip};
use barform_app::sheet::notate::{self, Options};
use barform_app::sheet::{Drawing, Head, Role, head, step};
use egui::{Align2, Color32, Context, FontId, Painter, Pos2, Rect, Stroke, Vec2};
use egui::{pos2, vec2};

use super::super::engraved::{MOST_DOTS, Print, without_furniture};

/// Least height of a staff in points: lower, a line and a space are hard to tell
/// apart with the pointer.
pub const LEAST_STAFF: f32 = 30.0;

/// Most points for a staff.
const MOST_STAFF: f32 = 84.0;

/// Share of the room's height that a staff takes: above it are stems, beams and
/// tuplet numbers, beneath it feet, counts and sticking.
const STAFF_SHARE: f32 = 0.28;

/// How much wider than on paper a cell is set where there is room.
const WIDEST: f32 = 2.2;

/// Narrowest slot in a staff of note heads alone, in staff heights.
const PLAIN_SLOT: f32 = 0.45;

/// A note head.
#[derive(Debug, Clone, Copy)]
pub struct HeadAt {
    /// The slot.
    pub slot: usize,
    /// Who plays it.
    pub limb: Limb,
    /// What stands there.
    pub voice: Voice,
    /// Its box in points from the picture's corner.
    pub rect: Rect,
}

/// A cell laid out.
pub struct Plate {
    /// The engraving; a staff with heads alone has none.
    print: Option<Print>,
    /// Size in points.
    pub size: Vec2,
    /// Upper and lower line of the staff in points from the top.
    pub staff: (f32, f32),
    /// Middle of each slot in points from the left.
    pub slots: Vec<f32>,
    /// Note heads, slot by slot.
    pub heads: Vec<HeadAt>,
    /// Where counts and sticking begin, in points from the top.
    pub rows_top: f32,
    /// Where the last slot ends.
    pub end: f32,
}

impl Plate {
    /// Lays a cell out in a room in points.
    pub fn new(ctx: &Context, cell: &Cell, meter: Meter, room: Vec2) -> Option<Plate> {
        let bounds = cell.grid.slot_bounds().ok()?;
        let staff = (room.y * STAFF_SHARE)
            .floor()
            .clamp(LEAST_STAFF, MOST_STAFF);
        engraved(ctx, cell, meter, room, staff, &bounds)
            .or_else(|| plain(cell, room, staff, &bounds))
    }

    /// Height of a voice's line or space, in points from the top.
    pub fn y_of(&self, voice: Voice) -> f32 {
        y_at(self.staff, voice)
    }

    /// The voice of a list that stands nearest to a height in points from the top.
    pub fn voice_at(&self, y: f32, voices: impl Iterator<Item = Voice>) -> Option<Voice> {
        let far = |voice: &Voice| (self.y_of(*voice) - y).abs();
        // The first of several at the same height.
        voices.min_by(|a, b| far(a).total_cmp(&far(b)))
    }

    /// The slot nearest to `x`, in points from the left.
    pub fn slot_at(&self, x: f32) -> usize {
        let next = self.slots.partition_point(|slot| *slot < x);
        let Some(before) = next.checked_sub(1) else {
            return 0;
        };
        match self.slots.get(next) {
            Some(after) if after - x < x - self.slots[before] => next,
            _ => before,
        }
    }

    /// Left and right edge of a slot, half way to its neighbours.
    pub fn edges(&self, slot: usize) -> (f32, f32) {
        let x = |slot: usize| self.slots.get(slot).copied();
        let here = x(slot).unwrap_or(0.0);
        let next = x(slot + 1).unwrap_or(self.end.max(here + 4.0));
        let after = (next - here) / 2.0;
        let before = slot
            .checked_sub(1)
            .and_then(x)
            .map_or(after, |b| (here - b) / 2.0);
        (here - before, here + after)
    }

    /// Paints it with its upper left corner at a place.
    pub fn paint(&self, painter: &Painter, corner: Pos2, colour: Color32, cell: &Cell) {
        match &self.print {
            Some(print) => print.paint(painter, Rect::from_min_size(corner, self.size), colour),
            None => self.paint_plain(painter, corner, colour, cell),
        }
    }

    fn paint_plain(&self, painter: &Painter, corner: Pos2, colour: Color32, cell: &Cell) {
        let space = (self.staff.1 - self.staff.0) / 4.0;
        let thin = Stroke::new(1.0, colour);
        for line in 0..5 {
            let y = corner.y + self.staff.0 + space * line as f32;
            painter.hline(corner.x..=corner.x + self.size.x, y, thin);
        }
        painter.text(
            corner,
            Align2::LEFT_TOP,
            "These slots have no plain note values: heads stand at their times.",
            FontId::proportional(13.0),
            colour,
        );
        for at in &self.heads {
            let rect = at.rect.translate(corner.to_vec2());
            let stroke = cell.slots.get(at.slot).into_iter().flatten();
            let articulation = stroke
                .filter(|s| s.limb == at.limb)
                .map(|s| s.articulation)
                .next()
                .unwrap_or_default();
            if head(at.voice, articulation) == Head::Oval {
                painter.circle_filled(rect.center(), rect.height() * 0.48, colour);
            } else {
                let thick = Stroke::new(2.0, colour);
                painter.line_segment([rect.left_top(), rect.right_bottom()], thick);
                painter.line_segment([rect.left_bottom(), rect.right_top()], thick);
            }
        }
        for (slot, x) in cell.slots.iter().zip(&self.slots) {
            let sticks: String = slot.iter().map(|s| s.limb.letter()).collect();
            painter.text(
                corner + vec2(*x, self.rows_top + space),
                Align2::CENTER_TOP,
                sticks,
                FontId::proportional(space * 1.6),
                colour,
            );
        }
    }
}

/// Height of a voice on a staff: half a space for each step above the lowest
/// line.
fn y_at((top, lowest): (f32, f32), voice: Voice) -> f32 {
    lowest - f32::from(step(voice).0) * (lowest - top) / 8.0
}

/// The sheet's own engraving.
fn engraved(
    ctx: &Context,
    cell: &Cell,
    meter: Meter,
    room: Vec2,
    staff: f32,
    bounds: &[Beats],
) -> Option<Plate> {
    let mut written = notate::cell(cell, meter, &Options::default()).ok()?;
    for bar in &mut written.bars {
        bar.show_meter = false;
    }
    let style = Style {
        show_title: false,
        show_key: false,
        ..Style::default()
    };
    let lay = |width: Option<f32>| strip(&written, 0..written.bars.len(), &style, width).ok();
    let natural = lay(None)?;
    let page = natural.pages.first()?;
    let dots = ctx.pixels_per_point();
    // Points for a millimetre of the drawing.
    let mut points = staff / style.staff_height_mm;
    points = points.min(room.y / page.height.max(1.0));
    let least = LEAST_STAFF / style.staff_height_mm;
    // The whole cell in view, if it can then still be clicked on.
    let whole = room.x / page.width.max(1.0);
    if whole >= least {
        points = points.min(whole);
    }
    points = points.max(least);
    points = points.min(MOST_DOTS / dots / page.width.max(1.0));
    let wide = (room.x / points).min(page.width * WIDEST);
    let drawing = match wide > page.width {
        true => lay(Some(wide))?,
        false => natural,
    };
    let drawing = without_furniture(drawing);
    let print = Print::new(ctx, &drawing, points * dots)?;
    measured(&drawing, cell, points, bounds, print)
}

/// The places on a drawing, in points.
fn measured(
    drawing: &Drawing,
    cell: &Cell,
    points: f32,
    bounds: &[Beats],
    print: Print,
) -> Option<Plate> {
    let page = drawing.pages.first()?;
    let size = vec2(page.width, page.height) * points;
    let staff = drawing.systems.first()?.staff;
    let staff = (staff.0 * points, staff.1 * points);
    let spots: Vec<(f64, f32)> = drawing
        .spots
        .iter()
        .map(|s| (s.beats, s.x * points))
        .collect();
    let line = page.items.iter().filter(|i| i.role == Role::StaffLine);
    let end = line.map(|i| i.bounds.right * points).fold(0.0, f32::max);
    let starts = &bounds[..bounds.len().saturating_sub(1)];
    let length = bounds.last().map_or(0.0, |b| b.to_f64());
    let slots: Vec<f32> = starts
        .iter()
        .map(|at| between(&spots, at.to_f64(), (length, end)))
        .collect();
    let under = |role: Role| matches!(role, Role::Count | Role::LightCount | Role::Sticking);
    let rows = page.items.iter().filter(|i| under(i.role));
    let rows_top = rows
        .map(|i| i.bounds.top * points)
        .fold(f32::INFINITY, f32::min);
    let space = (staff.1 - staff.0) / 4.0;
    let rows_top = if rows_top.is_finite() {
        rows_top
    } else {
        staff.1 + 2.0 * space
    };
    let mut boxes: Vec<(usize, Rect)> = page
        .items
        .iter()
        .filter(|item| item.role == Role::Head)
        .filter_map(|item| {
            let b = item.bounds;
            let rect = Rect::from_min_max(pos2(b.left, b.top), pos2(b.right, b.bottom));
            Some((usize::from(item.source?.slot), rect * points))
        })
        .collect();
    let mut heads = Vec::new();
    for (slot, strokes) in cell.slots.iter().enumerate() {
        for stroke in strokes {
            let at = pos2(slots.get(slot).copied()?, y_at(staff, stroke.voice));
            let here = |(_, (s, r)): &(usize, &(usize, Rect))| {
                *s == slot && (r.center().y - at.y).abs() < space * 0.4
            };
            let found = boxes.iter().enumerate().find(here).map(|(i, _)| i);
            let rect = match found {
                Some(i) => boxes.swap_remove(i).1,
                None => Rect::from_center_size(at, vec2(space * 1.2, space)),
            };
            heads.push(HeadAt {
                slot,
                limb: stroke.limb,
                voice: stroke.voice,
                rect,
            });
        }
    }
    Some(Plate {
        print: Some(print),
        size,
        staff,
        slots,
        heads,
        rows_top,
        end,
    })
}

/// Where a moment stands between the ones that are known.
fn between(spots: &[(f64, f32)], at: f64, end: (f64, f32)) -> f32 {
    let next = spots.partition_point(|(beats, _)| *beats <= at + 1e-9);
    let before = next.checked_sub(1).and_then(|i| spots.get(i)).copied();
    let (from, x) = before.unwrap_or((0.0, 0.0));
    if (at - from).abs() < 1e-9 {
        return x;
    }
    let (to, to_x) = spots.get(next).copied().unwrap_or(end);
    let part = ((at - from) / (to - from).max(1e-9)) as f32;
    x + (to_x - x) * part
}

/// Heads at their times on five lines.
fn plain(cell: &Cell, room: Vec2, staff: f32, bounds: &[Beats]) -> Option<Plate> {
    let length = bounds.last()?.to_f64().max(1e-9);
    let starts = &bounds[..bounds.len().saturating_sub(1)];
    let width = (cell.slots.len() as f32 * staff * PLAIN_SLOT).max(room.x * 0.6);
    let space = staff / 4.0;
    let left = space * 2.0;
    let x = |beats: f64| left + (beats / length) as f32 * (width - left);
    let top = room.y * 0.32;
    let lines = (top, top + staff);
    let slots: Vec<f32> = starts.iter().map(|at| x(at.to_f64())).collect();
    let mut heads = Vec::new();
    for (slot, strokes) in cell.slots.iter().enumerate() {
        for stroke in strokes {
            let at = pos2(slots.get(slot).copied()?, y_at(lines, stroke.voice));
            heads.push(HeadAt {
                slot,
                limb: stroke.limb,
                voice: stroke.voice,
                rect: Rect::from_center_size(at, vec2(space, space)),
            });
        }
    }
    let rows_top = lines.1 + 2.0 * space;
    Some(Plate {
        print: None,
        size: vec2(width, rows_top + 4.0 * space),
        staff: lines,
        slots,
        heads,
        rows_top,
        end: width,
    })
}
