//! The current cell, large: on the staff, with sticking and counts, the running
//! slot marked.
//!
//! In: the place that plays and the position in it. Out: a picture. The running
//! slot is marked by a band, a wedge and a frame round its sticking, not by
//! colour alone.

mod notes;

use barform_core::music::{Cell, Limb, Slot, Stroke as DrumStroke};
use barform_core::timeline::Place;
use egui::{Align2, CornerRadius, FontId, Painter, Rect, Sense, Shape, Stroke, StrokeKind, Ui};
use egui::{pos2, vec2};

use super::palette::{Palette, print_letter, text_on};
use super::shown::Shown;
use super::staff::Staff;

/// Fewest points per slot: a sticking letter stays readable. A longer cell is
/// shown in part, round the running slot.
const LEAST_SLOT: f32 = 15.0;

/// Most points per slot.
const MOST_SLOT: f32 = 96.0;

/// Fewest points per slot of the cell that is read ahead.
const AHEAD_SLOT: f32 = 24.0;

/// Points between the cell and the one that is read ahead.
const AHEAD_GAP: f32 = 40.0;

/// Points for the clef.
const CLEF: f32 = 34.0;

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
}

/// Where everything lies.
struct Frame {
    rect: Rect,
    staff: Staff,
    /// Left edge of each shown slot, then the right edge of the last.
    edges: Vec<f32>,
    /// First shown slot.
    first: usize,
    text: f32,
}

/// Shows the cell in the space that is left.
pub fn show(ui: &mut Ui, shown: &Shown, input: &Input) {
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
                print_letter(&timeline.letters[place.letter as usize])
            ),
        )
    });
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 0.0, input.palette.panel);
    let head = (rect.height() * 0.24).clamp(46.0, 84.0);
    let counts = timeline.counts(place).unwrap_or_default();
    let running = running_slot(cell, place, input.into_beats);
    let body = Rect::from_min_max(
        pos2(rect.left() + 14.0, rect.top() + head),
        pos2(rect.right() - 14.0, rect.bottom()),
    );
    let next = input.next.and_then(|next| timeline.places.get(next));
    let next_cell = next.map(|next| timeline.cell_of(next));
    let top = notes::top(cell).max(next_cell.map_or(0, notes::top));
    let (staff, text) = staff(body, top);
    let Some((edges, first)) = slots(body.left() + CLEF, body.right(), cell, running) else {
        return;
    };
    let frame = Frame {
        rect: body,
        staff,
        edges,
        first,
        text,
    };

    // What comes next is read ahead where there is room for it.
    let left = frame
        .edges
        .last()
        .map_or(body.right(), |end| end + AHEAD_GAP);
    let ahead = next.zip(next_cell).filter(|(_, next_cell)| {
        let room = body.right() - left;
        frame.edges.len() > cell.slots.len() && room >= next_cell.slots.len() as f32 * AHEAD_SLOT
    });
    let badge_at = ahead.map(|_| left);
    heading(&painter, rect, head, shown, place, cell, badge_at, input);
    mark(&painter, &frame, cell, running, input.palette);
    notes::draw(
        &painter,
        &frame.staff,
        &frame.edges,
        first,
        cell,
        true,
        input.palette,
    );
    rows(&painter, &frame, cell, &counts, running, input.palette);

    if let Some((next, next_cell)) = ahead
        && let Some((edges, first)) = slots(left, body.right(), next_cell, None)
    {
        let dim = Palette {
            ink: input.palette.dim,
            ..*input.palette
        };
        let counts = timeline.counts(next).unwrap_or_default();
        let frame = Frame {
            edges,
            first,
            ..frame
        };
        notes::draw(
            &painter,
            &frame.staff,
            &frame.edges,
            first,
            next_cell,
            false,
            &dim,
        );
        rows(&painter, &frame, next_cell, &counts, None, &dim);
    }
}

/// The slot that sounds `into` beats after the start of the place.
fn running_slot(cell: &Cell, place: &Place, into: Option<f64>) -> Option<usize> {
    let written = into? * place.rate.to_f64();
    let bounds = cell.grid.slot_bounds().ok()?;
    let slot = bounds
        .partition_point(|b| b.to_f64() <= written + 1e-9)
        .checked_sub(1)?;
    (slot < cell.slots.len()).then_some(slot)
}

/// Edges of the slots between two places, and the first slot shown.
fn slots(left: f32, right: f32, cell: &Cell, running: Option<usize>) -> Option<(Vec<f32>, usize)> {
    let bounds = cell.grid.slot_bounds().ok()?;
    let slots = cell.slots.len();
    let most = (((right - left) / LEAST_SLOT) as usize).max(1);
    let count = slots.min(most);
    let first = running
        .unwrap_or(0)
        .saturating_sub(count / 2)
        .min(slots - count);
    let (from, to) = (bounds[first].to_f64(), bounds[first + count].to_f64());
    // A cell of few slots is not stretched over the whole width.
    let width = (right - left).min(MOST_SLOT * count as f32);
    let scale = f64::from(width) / (to - from).max(1e-9);
    let x = |beats: f64| left + ((beats - from) * scale) as f32;
    let edges = bounds[first..=first + count]
        .iter()
        .map(|b| x(b.to_f64()))
        .collect();
    Some((edges, first))
}

/// The staff that fits, if music reaches up to step `top`, and the size of text.
fn staff(body: Rect, top: i32) -> (Staff, f32) {
    // In spaces of the staff, from its lowest line.
    let above = top as f32 / 2.0;
    const BELOW: f32 = 3.0;
    const TEXT_ROWS: f32 = 4.2;
    let text = (body.height() * 0.085).clamp(13.0, 34.0);
    let spaces = above + BELOW;
    let space = ((body.height() - text * TEXT_ROWS) / spaces).clamp(5.5, 24.0);
    let used = space * spaces + text * TEXT_ROWS;
    let top = body.top() + ((body.height() - used) / 2.0).max(0.0);
    (
        Staff {
            bottom: top + space * above,
            space,
        },
        text,
    )
}

/// The letter, what it is, and the one that follows.
#[expect(clippy::too_many_arguments)]
fn heading(
    painter: &Painter,
    rect: Rect,
    height: f32,
    shown: &Shown,
    place: &Place,
    cell: &Cell,
    next_at: Option<f32>,
    input: &Input,
) {
    let (timeline, palette) = (&shown.checked.timeline, input.palette);
    let side = height - 12.0;
    let corner = rect.min + vec2(14.0, 10.0);
    let right = badge(painter, corner, side, shown, place.letter);
    let text = right + 14.0;
    let section = &timeline.sections[place.section as usize].name;
    let beats = if place.length == barform_core::music::Beats::ONE {
        "beat"
    } else {
        "beats"
    };
    let mut first_line = if input.by_key {
        "Played by key".to_owned()
    } else {
        section.clone()
    };
    if first_line.is_empty() {
        first_line = format!(
            "Cell {}",
            print_letter(&timeline.letters[place.letter as usize])
        );
    }
    let second_line = format!("{} {beats}   grid {}", place.length, grid_text(cell));
    let line = (side * 0.33).clamp(13.0, 20.0);
    let top = corner.y + side / 2.0 - line * 1.25;
    painter.text(
        pos2(text, top),
        Align2::LEFT_TOP,
        first_line,
        FontId::proportional(line),
        palette.ink,
    );
    painter.text(
        pos2(text, top + line * 1.3),
        Align2::LEFT_TOP,
        second_line,
        FontId::proportional(line * 0.85),
        palette.dim,
    );
    if let Some(next) = input.next.and_then(|next| timeline.places.get(next)) {
        let small = side * 0.68;
        let width = badge_width(
            small,
            &print_letter(&timeline.letters[next.letter as usize]),
        );
        let left = next_at.map_or(rect.right() - 14.0 - width, |left| left.max(text + 300.0));
        let corner = pos2(left, corner.y + (side - small) / 2.0);
        badge(painter, corner, small, shown, next.letter);
        painter.text(
            pos2(corner.x - 10.0, corner.y + small / 2.0),
            Align2::RIGHT_CENTER,
            "next",
            FontId::proportional(line * 0.85),
            palette.dim,
        );
    }
}

/// The grid, with the name of its subdivision where it has one.
fn grid_text(cell: &Cell) -> String {
    let spans = cell.grid.spans();
    let same = spans.windows(2).all(|pair| pair[0] == pair[1]);
    let name = barform_core::music::Grid::new(vec![spans[0]])
        .map(barform_core::music::Subdivision)
        .and_then(|subdivision| subdivision.name());
    let mut grid = cell.grid.to_string();
    if grid.chars().count() > 40 {
        grid = grid.chars().take(39).chain(['…']).collect();
    }
    match name {
        Some(name) if same => format!("{grid}  ({name})"),
        _ => grid,
    }
}

fn badge_width(side: f32, letter: &str) -> f32 {
    side * (0.65 + 0.35 * letter.chars().count() as f32)
}

/// A letter on its colour; returns the right edge.
fn badge(painter: &Painter, corner: egui::Pos2, side: f32, shown: &Shown, letter: u32) -> f32 {
    let colour = shown.colours[letter as usize];
    let text = print_letter(&shown.checked.timeline.letters[letter as usize]);
    let rect = Rect::from_min_size(corner, vec2(badge_width(side, &text), side));
    painter.rect_filled(rect, CornerRadius::same(4), colour);
    let font = FontId::proportional(side * 0.72);
    painter.text(
        rect.center(),
        Align2::CENTER_CENTER,
        text,
        font,
        text_on(colour),
    );
    rect.right()
}

/// A band behind the running slot and a wedge under it.
fn mark(painter: &Painter, frame: &Frame, cell: &Cell, running: Option<usize>, palette: &Palette) {
    let Some(at) = running.and_then(|slot| slot.checked_sub(frame.first)) else {
        return;
    };
    let (Some(left), Some(right)) = (frame.edges.get(at), frame.edges.get(at + 1)) else {
        return;
    };
    let top = frame.staff.y(notes::beam_up(cell)) - 3.0;
    let bottom = rows_top(&frame.staff) + frame.text * 3.5;
    let width = (right - left).min(64.0);
    let middle = slot_x(*left, *right);
    let band = Rect::from_x_y_ranges(middle - width / 2.0..=middle + width / 2.0, top..=bottom);
    painter.rect_filled(band, CornerRadius::same(3), palette.raised);
    painter.rect_stroke(
        band,
        CornerRadius::same(3),
        Stroke::new(1.5, palette.accent),
        StrokeKind::Inside,
    );
    let y = bottom + 3.0;
    let tip = vec![
        pos2(middle, y),
        pos2(middle + 7.0, y + 9.0),
        pos2(middle - 7.0, y + 9.0),
    ];
    painter.add(Shape::convex_polygon(tip, palette.accent, Stroke::NONE));
}

/// Where the sticking begins: under the beams of the feet.
fn rows_top(staff: &Staff) -> f32 {
    staff.y(-6)
}

/// Where a slot's notes stand between its edges.
fn slot_x(left: f32, right: f32) -> f32 {
    left + (right - left).min(64.0) / 2.0
}

/// Sticking of hands, of feet, and counts, under the staff.
fn rows(
    painter: &Painter,
    frame: &Frame,
    cell: &Cell,
    counts: &[String],
    running: Option<usize>,
    palette: &Palette,
) {
    let text = frame.text;
    let top = rows_top(&frame.staff);
    for (n, pair) in frame.edges.windows(2).enumerate() {
        let slot = frame.first + n;
        let x = slot_x(pair[0], pair[1]);
        let room = pair[1] - pair[0] - 1.0;
        let now = running == Some(slot);
        let hands = sticking(&cell.slots[slot], |limb| !limb.is_foot());
        let feet = sticking(&cell.slots[slot], Limb::is_foot);
        let count = counts.get(slot).map_or("", String::as_str);
        let rest = hands.is_empty() && feet.is_empty();
        let hands = if rest { "-".to_owned() } else { hands };
        let strong = if now { palette.accent } else { palette.ink };
        for (row, string, colour) in [
            (0.0, hands.as_str(), if rest { palette.dim } else { strong }),
            (1.1, feet.as_str(), strong),
            (2.3, count, if now { palette.accent } else { palette.dim }),
        ] {
            let y = top + row * text;
            fitted(painter, pos2(x, y), string, text, room, colour);
        }
    }
    if frame.first > 0 {
        let at = pos2(frame.rect.left(), top);
        painter.text(
            at,
            Align2::LEFT_TOP,
            "…",
            FontId::proportional(text),
            palette.dim,
        );
    }
    if frame.first + frame.edges.len() - 1 < cell.slots.len() {
        let at = pos2(frame.rect.right(), top);
        painter.text(
            at,
            Align2::RIGHT_TOP,
            "…",
            FontId::proportional(text),
            palette.dim,
        );
    }
}

/// Text centred at the top, smaller if it would run into its neighbour.
fn fitted(
    painter: &Painter,
    top: egui::Pos2,
    text: &str,
    size: f32,
    room: f32,
    colour: egui::Color32,
) {
    if text.is_empty() {
        return;
    }
    let mut size = size;
    loop {
        let font = FontId::proportional(size);
        let galley = painter.layout_no_wrap(text.to_owned(), font, colour);
        if galley.size().x <= room || size <= 8.0 {
            painter.galley(top - vec2(galley.size().x / 2.0, 0.0), galley, colour);
            return;
        }
        size = (size * 0.85).max(8.0);
    }
}

/// The sticking of those strokes of a slot whose limb passes `which`.
fn sticking(slot: &Slot, which: impl Fn(Limb) -> bool) -> String {
    let tokens = slot.iter().filter(|s| which(s.limb)).map(token);
    tokens.collect::<Vec<_>>().join("+")
}

/// One stroke as a sticking line writes it.
fn token(stroke: &DrumStroke) -> String {
    use barform_core::music::Level;
    let mut text: String = stroke
        .graces
        .iter()
        .map(|hand| hand.grace_letter())
        .collect();
    text.push(stroke.limb.letter());
    if stroke.buzz {
        text.push('z');
    }
    match stroke.level {
        Level::Ghost => format!("({text})"),
        Level::Normal => text,
        Level::Accent => text + ">",
    }
}
