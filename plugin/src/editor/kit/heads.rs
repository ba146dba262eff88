//! A voice's place on the drum-set staff, as a small picture.
//!
//! Gives a texture, painted once for each size with the same shapes as the
//! printed sheet.

use std::collections::HashMap;

use barform_app::music::{Articulation, Voice};
use barform_app::sheet::{
    self, Bounds, Drawing, Glyph, Head, Item, Page, Point, Role, Shape, StaffStep, ink,
};
use egui::{Color32, ColorImage, Painter, Pos2, Rect, TextureHandle, TextureOptions, Vec2};
use egui::{pos2, vec2};

/// Width in staff spaces.
const WIDTH: f32 = 5.0;

/// The upper line from the top, in staff spaces: a china cymbal still fits.
const TOP: f32 = 3.4;

/// Height in staff spaces: the hi-hat foot still fits below.
const HEIGHT: f32 = TOP + 4.0 + 1.4;

/// Thickness of staff and ledger lines in staff spaces.
const LINE: f32 = 0.13;

/// The pictures made so far.
#[derive(Default)]
pub struct Heads {
    /// By voice, way, and dots to a staff space in hundredths.
    made: HashMap<(Voice, Articulation, u32), Option<TextureHandle>>,
}

/// Size of a picture in points, at so many points to a staff space.
pub fn size(space: f32) -> Vec2 {
    vec2(WIDTH, HEIGHT) * space
}

impl Heads {
    /// Paints a head on its staff with the upper left corner at a place.
    pub fn paint(
        &mut self,
        painter: &Painter,
        corner: Pos2,
        space: f32,
        (voice, way): (Voice, Articulation),
        ink: Color32,
    ) {
        let ctx = painter.ctx();
        let dots = space * ctx.pixels_per_point();
        let key = (voice, way, (dots * 100.0).round() as u32);
        let texture = self.made.entry(key).or_insert_with(|| {
            let mask = ink::mask(&drawing(voice, way), 0, dots).ok()?;
            let size = [mask.width as usize, mask.height as usize];
            let pixels = mask.ink.iter().map(|ink| Color32::from_white_alpha(*ink));
            let image = ColorImage::new(size, pixels.collect());
            Some(ctx.load_texture("head", image, TextureOptions::LINEAR))
        });
        if let Some(texture) = texture {
            let whole = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
            let rect = Rect::from_min_size(corner, size(space));
            painter.image(texture.id(), rect, whole, ink);
        }
    }
}

/// A staff with one head; a staff space is a millimetre.
fn drawing(voice: Voice, way: Articulation) -> Drawing {
    let StaffStep(step) = sheet::step(voice);
    let y = |step: i8| TOP + 4.0 - f32::from(step) / 2.0;
    let middle = WIDTH / 2.0;
    let mut shapes: Vec<(Shape, Role)> = Vec::new();
    let mut line = |step: i8, from: f32, to: f32, role: Role| {
        let (from, to) = (point(from, y(step)), point(to, y(step)));
        let width = LINE;
        shapes.push((Shape::Line { from, to, width }, role));
    };
    for step in [0, 2, 4, 6, 8] {
        line(step, 0.0, WIDTH, Role::StaffLine);
    }
    for step in (10..=step).step_by(2) {
        line(step, middle - 1.0, middle + 1.0, Role::Ledger);
    }
    let head = match sheet::head(voice, way) {
        Head::Oval => Glyph::HeadFilled,
        Head::Cross => Glyph::HeadCross,
        Head::CircledCross => Glyph::HeadCircledCross,
        Head::Diamond => Glyph::HeadDiamond,
        Head::Triangle => Glyph::HeadTriangle,
    };
    let above = match way {
        Articulation::Open => Some(Glyph::Open),
        Articulation::Half => Some(Glyph::HalfOpen),
        Articulation::Choke => Some(Glyph::Choke),
        _ => None,
    };
    let mut sign = |glyph, at, role| {
        let space = 1.0;
        shapes.push((Shape::Glyph { glyph, at, space }, role));
    };
    sign(head, point(middle, y(step)), Role::Head);
    if let Some(glyph) = above {
        sign(glyph, point(middle, y(step) - 1.3), Role::Articulation);
    }
    let item = |(shape, role)| Item {
        bounds: bounds(&shape),
        shape,
        role,
        source: None,
    };
    Drawing {
        pages: vec![Page {
            width: WIDTH,
            height: HEIGHT,
            items: shapes.into_iter().map(item).collect(),
        }],
        ..Drawing::default()
    }
}

fn point(x: f32, y: f32) -> Point {
    Point { x, y }
}

fn bounds(shape: &Shape) -> Bounds {
    ink::shape_bounds(shape)
}
