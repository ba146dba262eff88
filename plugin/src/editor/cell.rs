//! The current cell, large: engraved as on the printed sheet, with sticking and
//! counts, the running slot marked.
//!
//! The running slot is marked by a framed band and a wedge, not by colour
//! alone.

mod heading;

use barform_app::music::{Cell, Meter};
use barform_app::timeline::{Place, Timeline};
use barform_app::words;
use egui::{Align2, CornerRadius, FontId, Painter, Rect, Sense, Shape, Stroke};
use egui::{StrokeKind, Ui, pos2, vec2};

use super::engraved::{Gallery, Request};
use super::palette::Palette;
use super::shown::Shown;
use heading::heading;

/// Staff height in points below which a cell is not drawn to fit its room: it
/// is shown in part, round the running slot.
const LEAST_STAFF: f32 = 22.0;

/// Most points for a staff.
const MOST_STAFF: f32 = 150.0;

/// Share of the room's height that a staff takes at first.
const STAFF_SHARE: f32 = 0.3;

/// Points between the cell and the one that is read ahead.
const AHEAD_GAP: f32 = 40.0;

/// How much smaller a staff may become so that the next cell can be read ahead.
const LEAST_AHEAD: f32 = 0.7;

/// Points at either side.
const SIDE: f32 = 14.0;

/// Points for the wedge under the picture.
pub const WEDGE: f32 = 14.0;

/// What the picture needs.
pub struct Input<'a> {
    /// Colours.
    pub palette: &'a Palette,
    /// The place, as an index into the timeline's.
    pub place: usize,
    /// Beats from the start of the place; `None` while it does not play.
    pub into_beats: Option<f64>,
    /// The place that comes next.
    pub next: Option<usize>,
    /// Whether a key plays this letter in place of the form.
    pub by_key: bool,
    /// A cell that is too long is turned like a page in place of moving past.
    pub reduced_motion: bool,
}

/// Shows the cell in the space that is left.
pub fn show(ui: &mut Ui, gallery: &mut Gallery, shown: &Shown, input: &Input) {
    let (rect, response) = ui.allocate_exact_size(ui.available_size(), Sense::hover());
    let timeline = &shown.checked.timeline;
    let Some(place) = timeline.places.get(input.place) else {
        return;
    };
    let cell = timeline.cell_of(place);
    response.widget_info(|| {
        egui::WidgetInfo::labeled(
            egui::Role::Canvas,
            true,
            format!(
                "Cell {}",
                words::letter(&timeline.letters[place.letter as usize])
            ),
        )
    });
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 0.0, input.palette.panel);
    let head = (rect.height() * 0.24).clamp(46.0, 84.0);
    let body = Rect::from_min_max(
        pos2(rect.left() + SIDE, rect.top() + head),
        pos2(rect.right() - SIDE, rect.bottom() - WEDGE),
    );
    let ahead = staff(ui, gallery, shown, input, body);
    heading(&painter, rect, head, shown, place, cell, ahead, input);
}

/// Shows the cell alone, as large as it fits `body`; the wedge stands under it.
/// Returns where the cell that is read ahead begins, if there was room for one.
pub fn staff(
    ui: &Ui,
    gallery: &mut Gallery,
    shown: &Shown,
    input: &Input,
    body: Rect,
) -> Option<f32> {
    let timeline = &shown.checked.timeline;
    let place = timeline.places.get(input.place)?;
    let next = input.next.and_then(|next| timeline.places.get(next));
    let painter = ui.painter_at(body.expand2(vec2(SIDE, WEDGE)));
    let staff_points = fitting(ui, gallery, timeline, (place, next), body);
    let asked = Asked::of(timeline, place, staff_points);
    let Some(picture) = gallery.picture(ui.ctx(), &asked.request()) else {
        painter.text(
            body.center(),
            Align2::CENTER_CENTER,
            "These slots have no plain note values; the cell plays all the same.",
            FontId::proportional(14.0),
            input.palette.dim,
        );
        return None;
    };
    let size = picture.size;
    let running = input
        .into_beats
        .and_then(|into| picture.x_at(into * place.rate.to_f64()));
    let hidden = (size.x - body.width()).max(0.0);
    let slid = running.map_or(0.0, |x| slid(x, body.width(), hidden, input.reduced_motion));
    let staff = picture.staff;
    let spare = |height: f32| ((body.height() - height) / 2.0).max(0.0);
    let mut top = body.top() + spare(size.y);

    // What comes next is read ahead where there is room for it: both staves on
    // one line.
    let left = body.left() + size.x + AHEAD_GAP;
    let mut badge_at = None;
    if let Some(next) = next
        && hidden <= 0.0
    {
        let asked = Asked::of(timeline, next, staff_points);
        if let Some(picture) = gallery.picture(ui.ctx(), &asked.request())
            && left + picture.size.x <= body.right()
        {
            let (above, height) = together((staff, size.y), (picture.staff, picture.size.y));
            let line = body.top() + spare(height) + above;
            top = line - staff.0;
            badge_at = Some(left);
            picture.paint(
                &painter,
                pos2(left, line - picture.staff.0),
                input.palette.dim,
            );
        }
    }
    let corner = pos2(body.left() - slid, top);
    let inside = painter.with_clip_rect(Rect::from_x_y_ranges(
        body.x_range(),
        painter.clip_rect().y_range(),
    ));
    if let Some(x) = running {
        let room = Rect::from_min_size(corner, size);
        mark(&inside, room, corner.x + x, staff_points, input.palette);
    }
    let asked = Asked::of(timeline, place, staff_points);
    if let Some(picture) = gallery.picture(ui.ctx(), &asked.request()) {
        picture.paint(&inside, corner, input.palette.ink);
    }
    badge_at
}

/// Points above the upper line of the staff, and the whole height, of two
/// pictures whose staves stand on one line. Each is its staff and its height.
fn together(a: ((f32, f32), f32), b: ((f32, f32), f32)) -> (f32, f32) {
    let above = a.0.0.max(b.0.0);
    let below = (a.1 - a.0.0).max(b.1 - b.0.0);
    (above, above + below)
}

/// How far a cell that is too long has moved past when `x` of it runs: so that
/// it runs under the middle; with reduced motion by whole widths.
fn slid(x: f32, width: f32, hidden: f32, reduced_motion: bool) -> f32 {
    let to = if reduced_motion {
        (x / width).floor() * width
    } else {
        x - width / 2.0
    };
    to.clamp(0.0, hidden)
}

/// All that a request needs to borrow from.
struct Asked<'a> {
    variant: u32,
    cell: &'a Cell,
    meter: Meter,
    counts: Vec<String>,
    staff_points: f32,
}

impl<'a> Asked<'a> {
    fn of(timeline: &'a Timeline, place: &Place, staff_points: f32) -> Asked<'a> {
        let bar = timeline.bars.partition_point(|b| b.start <= place.start);
        let bar = bar.checked_sub(1).and_then(|bar| timeline.bars.get(bar));
        Asked {
            variant: place.variant,
            cell: timeline.cell_of(place),
            meter: bar.map_or(Meter::FOUR_FOUR, |bar| bar.meter),
            counts: timeline.counts(place).unwrap_or_default(),
            staff_points,
        }
    }

    fn request(&self) -> Request<'_> {
        Request {
            variant: self.variant,
            cell: self.cell,
            meter: self.meter,
            counts: &self.counts,
            staff_points: self.staff_points,
        }
    }
}

/// The height of the staff in points with which the cell fits its room, and the
/// next one beside it if that costs little; not below [`LEAST_STAFF`].
fn fitting(
    ui: &Ui,
    gallery: &mut Gallery,
    timeline: &Timeline,
    (place, next): (&Place, Option<&Place>),
    room: Rect,
) -> f32 {
    let whole = |staff: f32| staff.floor().clamp(LEAST_STAFF, MOST_STAFF);
    let full = whole(room.height() * STAFF_SHARE);
    let mut sized = |place: &Place| {
        let asked = Asked::of(timeline, place, full);
        let picture = gallery.picture(ui.ctx(), &asked.request())?;
        Some((picture.staff, picture.size))
    };
    let Some((staff, size)) = sized(place) else {
        return full;
    };
    let share = |width: f32, height: f32| {
        let share = (room.height() / height).min((room.width() - 1.0) / width);
        share.min(1.0)
    };
    let alone = share(size.x, size.y);
    let both = next.and_then(sized).map_or(0.0, |(other, next)| {
        let (_, height) = together((staff, size.y), (other, next.y));
        // The gap between them stays as it is.
        let gap = AHEAD_GAP.min(room.width() / 2.0);
        let beside = (room.width() - gap - 1.0) / (size.x + next.x);
        share(1.0, height).min(beside)
    });
    if both >= LEAST_AHEAD * alone {
        whole(full * both)
    } else {
        whole(full * alone)
    }
}

/// A framed band behind what sounds, and a wedge under it.
fn mark(painter: &Painter, room: Rect, x: f32, staff_points: f32, palette: &Palette) {
    let half = staff_points * 0.32;
    let band = Rect::from_x_y_ranges(x - half..=x + half, room.y_range());
    painter.rect_filled(band, CornerRadius::same(3), palette.raised);
    painter.rect_stroke(
        band,
        CornerRadius::same(3),
        Stroke::new(1.5, palette.accent),
        StrokeKind::Inside,
    );
    let y = room.bottom() + 3.0;
    let tip = vec![pos2(x, y), pos2(x + 7.0, y + 9.0), pos2(x - 7.0, y + 9.0)];
    painter.add(Shape::convex_polygon(tip, palette.accent, Stroke::NONE));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_cell_moves_past_under_the_middle_or_by_whole_widths() {
        let (width, hidden) = (100.0, 150.0);
        let moved =
            |reduced| [0.0, 50.0, 80.0, 120.0, 249.0].map(|x| slid(x, width, hidden, reduced));
        assert_eq!(moved(false), [0.0, 0.0, 30.0, 70.0, 150.0]);
        assert_eq!(moved(true), [0.0, 0.0, 0.0, 100.0, 150.0]);
    }

    #[test]
    fn two_staves_on_one_line_need_the_room_of_both() {
        assert_eq!(
            together(((30.0, 60.0), 100.0), ((10.0, 40.0), 90.0)),
            (30.0, 110.0)
        );
    }
}
