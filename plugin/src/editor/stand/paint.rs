//! Paints the Stand's words: as large as their place allows, in a bold face.

use std::sync::Arc;

use egui::epaint::text::{FontInsert, FontPriority, InsertFontFamily};
use egui::{
    Align2, Color32, Context, CornerRadius, FontData, FontFamily, FontId, Galley, Painter, Pos2,
    Rect,
};

use super::super::palette::text_on;

/// Name of the face that is read from afar.
const FACE: &str = "stand";

/// Letters are set in steps of so many points, so that a window being sized
/// does not fill the store of shapes with as many sizes.
const STEP: f32 = 4.0;

/// Points at which a text is measured.
const MEASURED: f32 = 64.0;

/// Hands the bold face over; does nothing where that is done.
pub fn prepare(ctx: &Context) {
    if ctx.fonts(|f| f.definitions().font_data.contains_key(FACE)) {
        return;
    }
    ctx.add_font(FontInsert::new(
        FACE,
        FontData::from_static(dejavu::sans_condensed::bold()),
        vec![InsertFontFamily {
            family: FontFamily::Name(FACE.into()),
            priority: FontPriority::Highest,
        }],
    ));
}

/// The bold face, or the plain one in the frame before it is there.
fn face(painter: &Painter) -> FontFamily {
    let family = FontFamily::Name(FACE.into());
    let known = painter.fonts_mut(|f| f.definitions().families.contains_key(&family));
    if known {
        family
    } else {
        FontFamily::Proportional
    }
}

fn set(painter: &Painter, text: &str, size: f32, colour: Color32) -> Arc<Galley> {
    let font = FontId::new(size, face(painter));
    painter.layout_no_wrap(text.to_owned(), font, colour)
}

/// Height of the capitals of a text set in one point.
fn capitals(painter: &Painter) -> f32 {
    let galley = set(painter, "H", MEASURED, Color32::PLACEHOLDER);
    (galley.mesh_bounds.height() / MEASURED).max(0.1)
}

/// Width of a text as a multiple of its capitals' height.
pub fn width(painter: &Painter, text: &str) -> f32 {
    let galley = set(painter, text, MEASURED, Color32::PLACEHOLDER);
    galley.mesh_bounds.width() / MEASURED / capitals(painter)
}

/// A letter in the middle of its ground, its capitals `cap` points high.
pub fn badge(painter: &Painter, rect: Rect, cap: f32, text: &str, ground: Color32) {
    if cap < 4.0 {
        return;
    }
    painter.rect_filled(rect, CornerRadius::same(6), ground);
    let size = (cap / capitals(painter) / STEP).ceil() * STEP;
    let ink = text_on(ground);
    let galley = set(painter, text, size, ink);
    let high = set(painter, "H", size, ink).mesh_bounds;
    let at = Pos2::new(
        rect.center().x - galley.mesh_bounds.center().x,
        rect.center().y - high.center().y,
    );
    painter.galley(at, galley, ink);
}

/// A text in a place, as large as it fits there.
pub fn line(painter: &Painter, rect: Rect, align: Align2, text: &str, colour: Color32) {
    if text.is_empty() || rect.height() < 4.0 || rect.width() < 4.0 {
        return;
    }
    let by_height = rect.height() * 0.8;
    let measured = set(painter, text, MEASURED, colour);
    let by_width = MEASURED * rect.width() / measured.size().x.max(1.0);
    let size = by_height.min(by_width);
    let size = if size >= 2.0 * STEP {
        (size / STEP).floor() * STEP
    } else {
        size
    };
    if size < 4.0 {
        return;
    }
    let galley = set(painter, text, size, colour);
    let at = align.align_size_within_rect(galley.size(), rect);
    painter.galley(at.min, galley, colour);
}
