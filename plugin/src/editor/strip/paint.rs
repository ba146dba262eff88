//! Draws the visible part of the form, and the map of the whole.

use barform_core::music::{Cell, Grid, Subdivision};
use egui::{
    Align2, Color32, CornerRadius, FontId, Painter, Rect, Shape, Stroke, StrokeKind, Ui, pos2, vec2,
};

use super::{Input, View, at};
use crate::editor::palette::{print_letter, text_on};
use crate::editor::shown::Shown;

/// Heights of the rows from the top, in points: sections, bar numbers, blocks,
/// repeats, map.
const SECTIONS: (f32, f32) = (3.0, 20.0);
const BARS: (f32, f32) = (21.0, 36.0);
const BLOCKS: (f32, f32) = (38.0, 84.0);
const REPEATS: (f32, f32) = (86.0, 104.0);
const MAP: (f32, f32) = (110.0, 122.0);

/// Fewest points between two bar numbers.
const BAR_NUMBER_GAP: f32 = 30.0;

/// Most letters looked at for the map; a longer form is sampled.
const MAP_SAMPLES: usize = 1_000;

/// Where the map lies within the strip.
pub fn map_rect(strip: Rect) -> Rect {
    Rect::from_min_max(
        at(strip, 0.0, MAP.0),
        pos2(strip.right(), strip.top() + MAP.1),
    )
}

/// Draws everything.
pub fn strip(ui: &Ui, rect: Rect, view: &View, shown: &Shown, input: &Input) {
    let painter = ui.painter_at(rect.expand2(vec2(super::MARGIN, 0.0)));
    blocks(&painter, rect, view, shown);
    bars(&painter, rect, view, shown, input);
    sections(&painter, rect, view, shown, input);
    repeats(&painter, rect, view, shown, input);
    map(&painter, map_rect(rect), view, shown, input);
    if let Some(beats) = input.position_beats {
        playhead(
            &painter,
            rect,
            view.x(beats),
            input.palette.ink,
            input.palette.panel,
        );
    }
}

fn blocks(painter: &Painter, rect: Rect, view: &View, shown: &Shown) {
    let timeline = &shown.checked.timeline;
    let first = timeline
        .places
        .partition_point(|p| p.start.to_f64() <= view.start_beats());
    for place in &timeline.places[first.saturating_sub(1)..] {
        let start = place.start.to_f64();
        if start >= view.end_beats() {
            break;
        }
        let (left, right) = (view.x(start), view.x(start + place.length.to_f64()));
        let gap = if right - left > 6.0 { 1.0 } else { 0.25 };
        let block = Rect::from_min_max(
            at(rect, left + gap, BLOCKS.0),
            at(rect, right - gap, BLOCKS.1),
        );
        let colour = shown.colours[place.letter as usize];
        painter.rect_filled(block, CornerRadius::same(3), colour);
        let letter = print_letter(&timeline.letters[place.letter as usize]);
        let subdivision = subdivision(timeline.cell_of(place));
        label(painter, block, &letter, subdivision, text_on(colour));
    }
}

/// The subdivision of a cell that has one throughout, by its name.
fn subdivision(cell: &Cell) -> Option<&'static str> {
    let spans = cell.grid.spans();
    let first = spans.first()?;
    let same = spans.iter().all(|span| span == first);
    let grid = Grid::new(vec![*first]).filter(|_| same)?;
    Subdivision(grid).name()
}

/// A letter as large as its block allows, and its subdivision where there is
/// room: the same letter may stand on several.
fn label(painter: &Painter, block: Rect, letter: &str, subdivision: Option<&str>, colour: Color32) {
    let room = block.width() - 2.0;
    let font = FontId::proportional(11.0);
    let small = subdivision.map(|name| painter.layout_no_wrap(name.to_owned(), font, colour));
    let small = small.filter(|galley| galley.size().x + 8.0 <= room);
    let lift = if small.is_some() { 7.0 } else { 0.0 };
    if let Some(galley) = small {
        let corner = pos2(
            block.center().x - galley.size().x / 2.0,
            block.bottom() - 16.0,
        );
        painter.galley(corner, galley, colour);
    }
    for size in [24.0, 17.0, 13.0, 10.0, 8.0] {
        let galley = painter.layout_no_wrap(letter.to_owned(), FontId::proportional(size), colour);
        if galley.size().x <= room {
            let corner = block.center() - galley.size() / 2.0 - vec2(0.0, lift);
            painter.galley(corner, galley, colour);
            return;
        }
    }
}

fn bars(painter: &Painter, rect: Rect, view: &View, shown: &Shown, input: &Input) {
    let timeline = &shown.checked.timeline;
    let palette = input.palette;
    let first = timeline
        .bars
        .partition_point(|b| b.start.to_f64() < view.start_beats());
    let mut free_from = f32::NEG_INFINITY;
    let mut meter = first
        .checked_sub(1)
        .map(|before| timeline.bars[before].meter);
    for bar in &timeline.bars[first..] {
        let start = bar.start.to_f64();
        if start > view.end_beats() {
            break;
        }
        let x = view.x(start);
        let line = at(rect, x, 0.0).x;
        painter.vline(
            line,
            (rect.top() + BARS.1 - 5.0)..=(rect.top() + BLOCKS.1 + 1.0),
            Stroke::new(1.0, palette.ink),
        );
        let new_meter = meter != Some(bar.meter);
        meter = Some(bar.meter);
        if x >= free_from || new_meter {
            let number = bar.number.to_string();
            let text = if new_meter {
                format!("{number}  {}", bar.meter)
            } else {
                number
            };
            let corner = at(rect, x + 5.0, BARS.0);
            let drawn = painter.text(
                corner,
                Align2::LEFT_TOP,
                text,
                FontId::proportional(11.0),
                palette.dim,
            );
            free_from = x + (drawn.width() + 8.0).max(BAR_NUMBER_GAP);
        }
    }
    // The end of the form: thin and thick, as on paper.
    let end = view.x(view.length_beats());
    if end <= view.width() {
        let y = (rect.top() + BLOCKS.0)..=(rect.top() + BLOCKS.1);
        painter.vline(
            at(rect, end + 2.0, 0.0).x,
            y.clone(),
            Stroke::new(1.0, palette.ink),
        );
        painter.vline(at(rect, end + 5.5, 0.0).x, y, Stroke::new(3.0, palette.ink));
    }
}

fn sections(painter: &Painter, rect: Rect, view: &View, shown: &Shown, input: &Input) {
    let timeline = &shown.checked.timeline;
    let palette = input.palette;
    let next = timeline
        .sections
        .partition_point(|s| s.start.to_f64() <= view.start_beats());
    let mut free_from = f32::NEG_INFINITY;
    for section in &timeline.sections[next.saturating_sub(1)..] {
        let start = section.start.to_f64();
        if start > view.end_beats() {
            break;
        }
        // The name of a section that began earlier stays at the edge.
        let x = view.x(start).max(0.0);
        let name = if section.name.is_empty() {
            "Form"
        } else {
            &section.name
        };
        if x < free_from {
            continue;
        }
        painter.vline(
            at(rect, x, 0.0).x,
            (rect.top() + SECTIONS.0)..=(rect.top() + BARS.0),
            Stroke::new(2.0, palette.accent),
        );
        let drawn = painter.text(
            at(rect, x + 6.0, SECTIONS.0),
            Align2::LEFT_TOP,
            name,
            FontId::proportional(13.0),
            palette.ink,
        );
        free_from = x + drawn.width() + 14.0;
    }
}

/// A bracket under each repeated group, with dots as on a repeat sign and the
/// number of passes; while one plays, which pass it is.
fn repeats(painter: &Painter, rect: Rect, view: &View, shown: &Shown, input: &Input) {
    let timeline = &shown.checked.timeline;
    let palette = input.palette;
    let playing = input
        .position_beats
        .and_then(|beats| timeline.place_at(beats));
    let stroke = Stroke::new(1.5, palette.dim);
    let beats_at = |place: usize| {
        timeline
            .places
            .get(place)
            .map_or(view.length_beats(), |p| p.start.to_f64())
    };
    for repeat in &shown.repeats {
        let (start, end) = (beats_at(repeat.first), beats_at(repeat.end()));
        if start > view.end_beats() {
            break;
        }
        // Deeper groups than two are shown as the two they stand in.
        if end < view.start_beats() || repeat.depth > 1 {
            continue;
        }
        let y = REPEATS.0 + 4.0 + 10.0 * repeat.depth as f32;
        let (left, right) = (view.x(start) + 2.0, view.x(end) - 2.0);
        let (l, r) = (left.max(-4.0), right.min(view.width() + 4.0));
        painter.line_segment([at(rect, l, y), at(rect, r, y)], stroke);
        for x in [left, right] {
            painter.line_segment([at(rect, x, y - 4.0), at(rect, x, y)], stroke);
        }
        let text = match playing.and_then(|place| repeat.pass_of(place)) {
            Some(pass) => format!("{pass} of {}", repeat.times),
            None => format!("×{}", repeat.times),
        };
        let font = FontId::proportional(if repeat.depth == 0 { 11.0 } else { 10.0 });
        let galley = painter.layout_no_wrap(text, font, palette.ink);
        let shown_left = left.max(0.0);
        if galley.size().x + 8.0 <= right.min(view.width()) - shown_left {
            let middle = (shown_left + right.min(view.width())) / 2.0;
            let corner = at(rect, middle, y) - galley.size() / 2.0;
            let ground = Rect::from_min_size(corner, galley.size()).expand2(vec2(4.0, 0.0));
            painter.rect_filled(ground, 0.0, palette.panel);
            painter.galley(corner, galley, palette.ink);
        }
    }
}

/// The whole form in small, the visible part framed.
fn map(painter: &Painter, rect: Rect, view: &View, shown: &Shown, input: &Input) {
    let timeline = &shown.checked.timeline;
    let palette = input.palette;
    let x = |beats: f64| rect.left() + (beats / view.length_beats()) as f32 * rect.width();
    let body = rect.shrink2(vec2(0.0, 3.0));
    let columns = timeline.places.len().min(MAP_SAMPLES);
    if timeline.places.len() <= MAP_SAMPLES {
        for place in &timeline.places {
            let start = place.start.to_f64();
            let right = x(start + place.length.to_f64());
            let cell = Rect::from_x_y_ranges(x(start)..=right, body.y_range());
            painter.rect_filled(cell, 0.0, shown.colours[place.letter as usize]);
        }
    } else {
        for column in 0..columns {
            let share = |n: usize| n as f64 / columns as f64 * view.length_beats();
            let Some(place) = timeline.place_at(share(column)) else {
                continue;
            };
            let letter = timeline.places[place].letter as usize;
            let cell =
                Rect::from_x_y_ranges(x(share(column))..=x(share(column + 1)), body.y_range());
            painter.rect_filled(cell, 0.0, shown.colours[letter]);
        }
    }
    if view.visible_beats() < view.length_beats() {
        let frame =
            Rect::from_x_y_ranges(x(view.start_beats())..=x(view.end_beats()), rect.y_range());
        let stroke = Stroke::new(2.0, palette.ink);
        painter.rect_stroke(frame, CornerRadius::same(2), stroke, StrokeKind::Inside);
    }
    if let Some(beats) = input.position_beats {
        painter.vline(x(beats), rect.y_range(), Stroke::new(2.0, palette.ink));
    }
}

fn playhead(painter: &Painter, rect: Rect, x: f32, ink: Color32, ground: Color32) {
    let x = at(rect, x, 0.0).x;
    let (top, bottom) = (rect.top() + BLOCKS.0 - 2.0, rect.top() + REPEATS.1 - 4.0);
    // A dark edge keeps the line visible on every letter's colour.
    painter.vline(x, top..=bottom, Stroke::new(5.0, ground));
    painter.vline(x, top..=bottom, Stroke::new(2.5, ink));
    let tip = vec![
        pos2(x - 6.0, bottom + 4.0),
        pos2(x, bottom - 6.0),
        pos2(x + 6.0, bottom + 4.0),
    ];
    painter.add(Shape::convex_polygon(tip, ink, Stroke::new(1.0, ground)));
}
