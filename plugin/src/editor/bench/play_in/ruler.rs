//! The round as a line: slots as ticks, each stroke where it fell beside the
//! slot it was meant for.

use barform_app::music::{Beats, Level};
use barform_app::played::Take;
use egui::{Color32, Sense, Stroke, Ui, pos2, vec2};

use super::super::super::palette::Palette;

/// Height in points.
const HEIGHT: f32 = 40.0;

/// Points at either side.
const SIDE: f32 = 8.0;

/// Draws it; `label` says the same in words.
pub fn show(ui: &mut Ui, palette: &Palette, take: &Take, position: Option<f64>, label: &str) {
    let size = vec2(ui.available_width(), HEIGHT);
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Canvas, true, label));
    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 3.0, palette.panel);
    let round = take.round();
    let length = round.length().to_f64().max(f64::MIN_POSITIVE);
    let x = |beats: f64| rect.left() + SIDE + (rect.width() - 2.0 * SIDE) * (beats / length) as f32;
    let middle = rect.center().y + 4.0;
    let line = |colour: Color32, width: f32| Stroke::new(width, colour);
    painter.hline(x(0.0)..=x(length), middle, line(palette.line, 1.0));
    for slot in 0..round.slots() {
        let start = round.start(slot).unwrap_or(Beats::ZERO);
        // Beats stand out by their length.
        let reach = if start.is_whole() { 11.0 } else { 6.0 };
        let at = x(start.to_f64());
        painter.vline(at, middle - reach..=middle + reach, line(palette.dim, 1.0));
    }
    if let Some(position) = position {
        painter.vline(x(position), rect.y_range(), line(palette.accent, 2.0));
    }
    for hit in take.hits() {
        let start = round.start(hit.landed.slot).unwrap_or(Beats::ZERO).to_f64();
        let off = hit.landed.off.to_f64();
        // Early for the first slot is late in the round.
        let from = if start + off < 0.0 { length } else { start };
        let (to, height) = (x(from + off), middle - 13.0);
        painter.line_segment(
            [pos2(x(from), middle), pos2(to, height)],
            line(palette.ink, 1.0),
        );
        let radius = match hit.struck.level {
            Level::Ghost => 2.0,
            Level::Normal => 3.0,
            Level::Accent => 4.5,
        };
        painter.circle_filled(pos2(to, height), radius, palette.ink);
    }
}
