//! What is missing or over, marked at its bar: a sign and words, to be clicked.

use egui::{Color32, Painter, Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};

use super::paint::Picture;
use super::rows::{self, BARS, BLOCKS, at};
use super::{Act, Input, Strip, fit::Fit, id};

/// Width of the sign, in points.
const SIGN: f32 = 14.0;

/// Marks in view that are words; of more, only the sign is shown.
const MOST: usize = 200;

impl Strip {
    /// The marks in view.
    pub(super) fn marks(&mut self, ui: &Ui, rect: Rect, input: &Input) -> Vec<Act> {
        let mut acts = Vec::new();
        let mut marks = Vec::new();
        let faults = self.fit.faults();
        let first = faults.partition_point(|fault| fault.end < self.view.start_beats());
        let mut free_from = f32::NEG_INFINITY;
        for (number, fault) in faults.iter().enumerate().skip(first).take(MOST) {
            if fault.start > self.view.end_beats() {
                break;
            }
            let galley = galley(ui.painter(), &fault.words(), input.palette.error);
            let wide = galley.size().x + SIGN + 4.0;
            let end = self.view.x(fault.end).clamp(0.0, self.view.width());
            // Before the place where the bar line should fall, if there is room.
            let left = (end - wide).max(self.view.x(fault.start).max(0.0) + 3.0);
            let left = left.min(self.view.width() - wide);
            let words = left >= free_from;
            let left = if words { left } else { end - SIGN };
            if left < free_from {
                continue;
            }
            let right = left + if words { wide } else { SIGN };
            free_from = right + 2.0;
            let mark = rows::stretch(rect, BARS, left, right);
            let response = ui.interact(mark, id().with(("mark", number)), Sense::CLICK);
            let label = format!("Bar {}: {}", fault.bar, fault.words());
            response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &label));
            if response.clicked() {
                acts.push(Act::Look(number));
            }
            if response.hovered() {
                let text = format!("{} Click to see how to fix it.", fault.sentence());
                response.on_hover_text(text);
            }
            marks.push((number, mark, words));
        }
        self.fit
            .take_rects(marks.iter().map(|(_, rect, _)| *rect).collect());
        self.fit.marks = marks;
        acts
    }
}

fn galley(painter: &Painter, words: &str, colour: Color32) -> std::sync::Arc<egui::Galley> {
    super::paint::fitted(painter, words, 11.0, colour, f32::INFINITY)
}

impl Fit {
    /// Draws the marks, and what is missing behind the end of the form.
    pub(super) fn draw(&self, picture: &Picture) {
        let colour = picture.input.palette.error;
        for (number, rect, words) in &self.marks {
            let Some(fault) = self.faults().get(*number) else {
                continue;
            };
            sign(
                picture.painter,
                pos2(rect.left() + SIGN / 2.0, rect.center().y),
                colour,
                picture.input.palette.panel,
            );
            if *words {
                let galley = galley(picture.painter, &fault.words(), colour);
                let corner = pos2(rect.left() + SIGN + 1.0, rect.top());
                picture.painter.galley(corner, galley, colour);
            }
            let x = at(picture.rect, picture.view.x(fault.end), 0.0).x;
            let y = picture.rect.top() + BARS.1..=picture.rect.top() + BLOCKS.1 + 2.0;
            picture.painter.vline(x, y, Stroke::new(2.0, colour));
            // What is missing at the end of the form has room behind it.
            if fault.short > fault.over || fault.end < picture.view.length_beats() {
                continue;
            }
            let right = picture
                .view
                .x(fault.end + fault.short.to_f64())
                .min(picture.view.width());
            let left = picture.view.x(fault.end) + 9.0;
            if right > left + 4.0 {
                let gap = rows::stretch(picture.rect, BLOCKS, left, right).shrink(1.0);
                let corners = [
                    gap.left_top(),
                    gap.right_top(),
                    gap.right_bottom(),
                    gap.left_bottom(),
                    gap.left_top(),
                ];
                let dashes = Shape::dashed_line(&corners, Stroke::new(1.5, colour), 4.0, 3.0);
                picture.painter.extend(dashes);
            }
        }
    }
}

/// A warning sign: a triangle with a stroke and a dot in it.
fn sign(painter: &Painter, centre: egui::Pos2, colour: Color32, ground: Color32) {
    let corners = [(0.0, -5.5), (6.0, 5.0), (-6.0, 5.0)];
    let corners = corners.iter().map(|(x, y)| centre + vec2(*x, *y));
    painter.add(Shape::convex_polygon(
        corners.collect(),
        colour,
        Stroke::NONE,
    ));
    let stroke = Stroke::new(1.5, ground);
    painter.vline(centre.x, centre.y - 2.0..=centre.y + 1.5, stroke);
    painter.circle_filled(centre + vec2(0.0, 3.4), 0.9, ground);
}
