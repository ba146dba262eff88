//! Draws the visible part of the form, and the map of the whole.

mod above;
mod groups;

pub use above::{section_room, section_text};

use std::ops::Range;
use std::sync::Arc;

use barform_app::music::{Cell, Grid, Subdivision};
use barform_app::timeline::Place;
use barform_app::words;
use egui::text::{LayoutJob, TextWrapping};
use egui::{
    Color32, CornerRadius, FontId, Galley, Painter, Rect, Shape, Stroke, StrokeKind, pos2, vec2,
};

use super::rows::{self, BLOCKS, GROUPS, at};
use super::{Input, View};
use crate::editor::palette::text_on;
use crate::editor::shown::Shown;

/// Most letters looked at for the map; a longer form is sampled.
const MAP_SAMPLES: usize = 1_000;

/// A block of fewer points has its frame around it, not within.
const NARROW: f32 = 30.0;

/// What is drawn, and with what.
pub struct Picture<'a> {
    /// Draws.
    pub painter: &'a Painter,
    /// The strip without its margins.
    pub rect: Rect,
    /// What is in view.
    pub view: &'a View,
    /// The form.
    pub shown: &'a Shown,
    /// Colours and position.
    pub input: &'a Input<'a>,
    /// Section and item numbers of what is chosen.
    pub chosen: Option<&'a (usize, Range<usize>)>,
    /// Whether the keyboard works here.
    pub focus: bool,
    /// Whether what is chosen is being dragged away.
    pub lifted: bool,
    /// Rectangles that bar numbers keep clear of.
    pub taken: &'a [Rect],
}

impl Picture<'_> {
    /// Draws everything but marks and what is dragged.
    pub fn draw(&self) {
        self.bars();
        self.sections();
        self.otherwise();
        self.groups();
        self.blocks();
        self.map(rows::map(self.rect));
        if let Some(beats) = self.input.position_beats {
            self.playhead(self.view.x(beats));
        }
    }

    fn is_chosen(&self, place: &Place) -> bool {
        self.chosen.is_some_and(|(section, items)| {
            place.section as usize == *section && items.contains(&(place.item as usize))
        })
    }

    fn blocks(&self) {
        let timeline = &self.shown.checked.timeline;
        let mut framed = Vec::new();
        for place in &timeline.places[rows::visible(self.view, &timeline.places)] {
            let block = rows::block(self.rect, self.view, place);
            let mut colour = self.shown.colours[place.letter as usize];
            let chosen = self.is_chosen(place);
            if chosen && self.lifted {
                colour = colour.lerp_to_gamma(self.input.palette.panel, 0.6);
            }
            self.painter
                .rect_filled(block, CornerRadius::same(3), colour);
            let letter = words::letter(&timeline.letters[place.letter as usize]);
            let subdivision = subdivision(timeline.cell_of(place));
            label(self.painter, block, &letter, subdivision, text_on(colour));
            self.notches(block, place, text_on(colour));
            if chosen {
                framed.push(block);
            }
        }
        self.checks();
        for block in framed {
            self.frame(block);
        }
    }

    /// Where a bar line falls into a block, it shows at the block's edges: the
    /// cell plays across it.
    fn notches(&self, block: Rect, place: &Place, colour: Color32) {
        let bars = &self.shown.checked.timeline.bars;
        let (start, end) = (place.start, place.start.to_f64() + place.length.to_f64());
        let first = bars.partition_point(|bar| bar.start <= start);
        for bar in &bars[first..] {
            let beats = bar.start.to_f64();
            // A hair less than the end: sums of fractions as floating point.
            if beats >= end - 1e-9 {
                break;
            }
            let x = at(self.rect, self.view.x(beats), 0.0).x;
            let stroke = Stroke::new(1.5, colour);
            let (top, bottom) = (block.top(), block.bottom());
            self.painter.vline(x, top..=top + 5.0, stroke);
            self.painter.vline(x, bottom - 5.0..=bottom, stroke);
        }
    }

    /// A frame in two tones, to be seen on every letter's colour.
    fn frame(&self, block: Rect) {
        let palette = self.input.palette;
        let radius = CornerRadius::same(3);
        let outer = if self.focus { 3.0 } else { 2.0 };
        let edge = Stroke::new(outer, palette.ink);
        if block.width() < NARROW {
            // Around it, so that the letter stays whole.
            self.painter
                .rect_stroke(block, radius, edge, StrokeKind::Outside);
            return;
        }
        self.painter
            .rect_stroke(block, radius, edge, StrokeKind::Inside);
        let inner = Stroke::new(1.5, palette.panel);
        self.painter
            .rect_stroke(block.shrink(outer), radius, inner, StrokeKind::Inside);
    }

    fn playhead(&self, x: f32) {
        let (ink, ground) = (self.input.palette.ink, self.input.palette.panel);
        let x = at(self.rect, x, 0.0).x;
        let (top, bottom) = (
            self.rect.top() + BLOCKS.0 - 2.0,
            self.rect.top() + GROUPS.1 - 6.0,
        );
        // An edge keeps the line visible on every letter's colour.
        self.painter
            .vline(x, top..=bottom, Stroke::new(5.0, ground));
        self.painter.vline(x, top..=bottom, Stroke::new(2.5, ink));
        let tip = vec![
            pos2(x - 6.0, bottom + 4.0),
            pos2(x, bottom - 6.0),
            pos2(x + 6.0, bottom + 4.0),
        ];
        self.painter
            .add(Shape::convex_polygon(tip, ink, Stroke::new(1.0, ground)));
    }

    /// The whole form in small, the visible part framed.
    fn map(&self, rect: Rect) {
        let (timeline, view) = (&self.shown.checked.timeline, self.view);
        let palette = self.input.palette;
        let x = |beats: f64| rect.left() + (beats / view.length_beats()) as f32 * rect.width();
        let body = rect.shrink2(vec2(0.0, 2.0));
        let columns = timeline.places.len().min(MAP_SAMPLES);
        if timeline.places.len() <= MAP_SAMPLES {
            for place in &timeline.places {
                let start = place.start.to_f64();
                let right = x(start + place.length.to_f64());
                let cell = Rect::from_x_y_ranges(x(start)..=right, body.y_range());
                let colour = self.shown.colours[place.letter as usize];
                self.painter.rect_filled(cell, 0.0, colour);
            }
        } else {
            for column in 0..columns {
                let share = |n: usize| n as f64 / columns as f64 * view.length_beats();
                let Some(place) = timeline.place_at(share(column)) else {
                    continue;
                };
                let letter = timeline.places[place].letter as usize;
                let across = x(share(column))..=x(share(column + 1));
                let cell = Rect::from_x_y_ranges(across, body.y_range());
                self.painter
                    .rect_filled(cell, 0.0, self.shown.colours[letter]);
            }
        }
        if view.visible_beats() < view.length_beats() {
            let across = x(view.start_beats())..=x(view.end_beats());
            let frame = Rect::from_x_y_ranges(across, rect.y_range());
            let stroke = Stroke::new(2.0, palette.ink);
            self.painter
                .rect_stroke(frame, CornerRadius::same(2), stroke, StrokeKind::Inside);
        }
        if let Some(beats) = self.input.position_beats {
            let stroke = Stroke::new(2.0, palette.ink);
            self.painter.vline(x(beats), rect.y_range(), stroke);
        }
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
pub fn label(
    painter: &Painter,
    block: Rect,
    letter: &str,
    subdivision: Option<&str>,
    colour: Color32,
) {
    let room = block.width() - 2.0;
    let font = FontId::proportional(10.5);
    let small = subdivision.map(|name| painter.layout_no_wrap(name.to_owned(), font, colour));
    let small = small.filter(|galley| galley.size().x + 8.0 <= room);
    let lift = if small.is_some() { 6.0 } else { 0.0 };
    if let Some(galley) = small {
        let corner = pos2(
            block.center().x - galley.size().x / 2.0,
            block.bottom() - 15.0,
        );
        painter.galley(corner, galley, colour);
    }
    for size in [22.0, 16.0, 12.0, 10.0, 8.0, 6.5] {
        let galley = painter.layout_no_wrap(letter.to_owned(), FontId::proportional(size), colour);
        if galley.size().x <= room {
            let corner = block.center() - galley.size() / 2.0 - vec2(0.0, lift);
            painter.galley(corner, galley, colour);
            return;
        }
    }
}

/// Text on one line, shortened to a width in points.
pub fn fitted(
    painter: &Painter,
    text: &str,
    size: f32,
    colour: Color32,
    width: f32,
) -> Arc<Galley> {
    let font = FontId::proportional(size);
    let mut job = LayoutJob::simple_singleline(text.to_owned(), font, colour);
    job.wrap = TextWrapping {
        max_width: width,
        max_rows: 1,
        break_anywhere: true,
        overflow_character: Some('…'),
    };
    painter.layout_job(job)
}
