//! A cell as the printed sheet has it: the same engraving, painted as a picture
//! in the window's colours.
//!
//! Laying out and painting a cell takes a few milliseconds and is done once for
//! each cell and size; a frame only shows it.

use std::collections::HashMap;

use barform_app::music::{Beats, Cell, Meter};
use barform_app::sheet::engrave::{Style, strip};
use barform_app::sheet::notate::{self, Options};
use barform_app::sheet::{Drawing, Role, Written, ink};
use egui::{
    Color32, ColorImage, Context, Painter, Rect, TextureHandle, TextureOptions, pos2, vec2,
};

/// Pictures that are kept: the cells of a long form come round again.
const KEPT: usize = 48;

/// Widest picture in dots; beyond it a cell is drawn smaller. Graphics systems
/// take less in one piece, so a wide picture is cut into several.
pub const MOST_DOTS: f32 = 16_384.0;

/// What a picture depends on.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
struct Key {
    variant: u32,
    counts: Vec<String>,
    /// Height of the staff and dots per point, in thousandths.
    size: (u32, u32),
}

/// A cell laid out and painted.
pub struct Picture {
    print: Print,
    /// Size in points.
    pub size: egui::Vec2,
    /// Upper and lower line of the staff in points from the top.
    pub staff: (f32, f32),
    /// Beats from the start of the cell and points from the left, in order.
    spots: Vec<(f64, f32)>,
    used: u64,
}

/// The pictures made so far.
#[derive(Default)]
pub struct Gallery {
    pictures: HashMap<Key, Option<Picture>>,
    /// Counts the requests, to know the oldest picture.
    turn: u64,
}

/// Which cell, and how large.
pub struct Request<'a> {
    /// Number of the cell among the timeline's variants.
    pub variant: u32,
    /// The cell.
    pub cell: &'a Cell,
    /// The meter it is written in.
    pub meter: Meter,
    /// What is counted on each slot.
    pub counts: &'a [String],
    /// Height of the staff in points.
    pub staff_points: f32,
}

impl Gallery {
    /// Forgets all pictures: another score has other cells.
    pub fn clear(&mut self) {
        self.pictures.clear();
    }

    /// The picture of a cell; `None` if it has no sensible note values.
    pub fn picture(&mut self, ctx: &Context, request: &Request) -> Option<&Picture> {
        self.turn += 1;
        let thousandths = |x: f32| (x * 1_000.0).round() as u32;
        let dots = ctx.pixels_per_point();
        let key = Key {
            variant: request.variant,
            counts: request.counts.to_vec(),
            size: (thousandths(request.staff_points), thousandths(dots)),
        };
        if !self.pictures.contains_key(&key) {
            self.make_room();
            let picture = draw(ctx, request, dots, f32::INFINITY);
            self.pictures.insert(key.clone(), picture);
        }
        let picture = self.pictures.get_mut(&key)?.as_mut()?;
        picture.used = self.turn;
        Some(picture)
    }

    fn make_room(&mut self) {
        while self.pictures.len() >= KEPT {
            let age = |p: &Option<Picture>| p.as_ref().map_or(0, |p| p.used);
            let oldest = self.pictures.iter().min_by_key(|(_, p)| age(p));
            let Some(key) = oldest.map(|(key, _)| key.clone()) else {
                return;
            };
            self.pictures.remove(&key);
        }
    }
}

impl Picture {
    /// Paints it with its upper left corner at a place, as far as `clip` shows.
    pub fn paint(&self, painter: &Painter, corner: egui::Pos2, colour: Color32) {
        self.print
            .paint(painter, Rect::from_min_size(corner, self.size), colour);
    }

    /// Height of its staff in points.
    pub fn staff_height(&self) -> f32 {
        self.staff.1 - self.staff.0
    }

    /// Points with a wedge from below, at the height `bottom`, to the moment
    /// `beats` after the start of a cell that is painted at a place.
    pub fn mark(&self, painter: &Painter, left: f32, bottom: f32, beats: f64, colour: Color32) {
        let Some(x) = self.x_at(beats) else { return };
        let x = left + x;
        let tip = vec![
            pos2(x, bottom - 8.0),
            pos2(x + 5.0, bottom - 1.0),
            pos2(x - 5.0, bottom - 1.0),
        ];
        painter.add(egui::Shape::convex_polygon(tip, colour, egui::Stroke::NONE));
    }

    /// Where the moment `beats` after the start of the cell stands: points from
    /// the left to the middle of its note.
    pub fn x_at(&self, beats: f64) -> Option<f32> {
        let next = self.spots.partition_point(|(at, _)| *at <= beats + 1e-9);
        Some(self.spots.get(next.checked_sub(1)?)?.1)
    }
}

/// A picture of its own, made on any thread, at most so many points wide: the
/// staff is lower than asked for where that needs it. `None` if the cell has no
/// sensible note values.
pub fn within(ctx: &Context, request: &Request, most_width: f32) -> Option<Picture> {
    draw(ctx, request, ctx.pixels_per_point(), most_width)
}

fn draw(ctx: &Context, request: &Request, dots: f32, most_width: f32) -> Option<Picture> {
    let written = written(request)?;
    // A millimetre of the drawing is a point of the window, scaled below.
    let style = Style {
        show_title: false,
        show_key: false,
        ..Style::default()
    };
    let mut points = request.staff_points / style.staff_height_mm;
    let drawing = strip(&written, 0..written.bars.len(), &style, None).ok()?;
    let page = drawing.pages.first()?;
    points = points.min(most_width.min(MOST_DOTS / dots) / page.width.max(1.0));
    let drawing = without_furniture(drawing);
    let page = drawing.pages.first()?;
    let print = Print::new(ctx, &drawing, points * dots)?;
    let staff = drawing.systems.first()?.staff;
    let spots = drawing.spots.iter().map(|s| (s.beats, s.x * points));
    Some(Picture {
        print,
        size: vec2(page.width, page.height) * points,
        staff: (staff.0 * points, staff.1 * points),
        spots: spots.collect(),
        used: 0,
    })
}

/// The first page of a drawing, painted: pieces from left to right, each with
/// the share of the width where it ends.
pub struct Print(Vec<(TextureHandle, f32)>);

impl Print {
    /// Paints the page white where there is ink, so many dots to a millimetre.
    /// `None` if it cannot be painted.
    pub fn new(ctx: &Context, drawing: &Drawing, dots_per_mm: f32) -> Option<Print> {
        let mask = ink::mask(drawing, 0, dots_per_mm).ok()?;
        let (width, height) = (mask.width as usize, mask.height as usize);
        let most = ctx.input(|i| i.max_texture_side).max(1);
        let mut pieces = Vec::new();
        let mut left = 0;
        while left < width {
            let right = (left + most).min(width);
            let rows = mask.ink.chunks_exact(width).map(|row| &row[left..right]);
            let pixels = rows.flatten().map(|ink| Color32::from_white_alpha(*ink));
            let image = ColorImage::new([right - left, height], pixels.collect());
            let texture = ctx.load_texture("cell", image, TextureOptions::LINEAR);
            pieces.push((texture, right as f32 / width as f32));
            left = right;
        }
        Some(Print(pieces))
    }

    /// Shows it in a place, in a colour.
    pub fn paint(&self, painter: &Painter, rect: Rect, colour: Color32) {
        let whole = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
        let mut left = rect.left();
        for (texture, end) in &self.0 {
            let right = rect.left() + rect.width() * end;
            let piece = Rect::from_x_y_ranges(left..=right, rect.y_range());
            if piece.intersects(painter.clip_rect()) {
                painter.image(texture.id(), piece, whole, colour);
            }
            left = right;
        }
    }
}

/// The letter stands large above the picture already.
pub fn without_furniture(mut drawing: Drawing) -> Drawing {
    for page in &mut drawing.pages {
        page.items
            .retain(|item| !matches!(item.role, Role::Letter(_) | Role::Section | Role::BarNumber));
    }
    drawing
}

/// The cell, counted where it stands in its bar.
fn written(request: &Request) -> Option<Written> {
    let mut written = notate::cell(request.cell, request.meter, &Options::default()).ok()?;
    let bounds = request.cell.grid.slot_bounds().ok()?;
    for bar in &mut written.bars {
        bar.show_meter = false;
        for under in &mut bar.under {
            let at: Beats = bar.start.checked_add(under.at).ok()?;
            if let Ok(slot) = bounds.binary_search(&at)
                && let Some(count) = request.counts.get(slot)
            {
                under.count.clone_from(count);
            }
        }
    }
    Some(written)
}
