//! The items, as many as are in view.
//!
//! A row is one widget; only the chosen one is reached by Tab, the arrow keys
//! go on from it. Cost depends on what is in view, never on the shelf's size.

use barform_app::shelf::{Item, ItemId, Stamp};
use barform_app::words;
use egui::text::{LayoutJob, TextFormat, TextWrapping};
use egui::{
    Color32, CornerRadius, EventFilter, FontId, Id, Painter, Pos2, Rect, Role, ScrollArea, Sense,
    Shape, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2,
};

use super::previews::Previews;
use crate::editor::palette::Palette;
use barform_app::shelf::ShelfContents;

/// Height of a row in points.
const ROW: f32 = 66.0;

/// Width of a picture in a row, in points, and the least width of its text.
const PICTURE: f32 = 190.0;
const LEAST_TEXT: f32 = 170.0;

/// What the list needs.
pub struct List<'a> {
    /// What was found.
    pub found: &'a ShelfContents,
    /// Pictures.
    pub previews: &'a mut Previews,
    /// The chosen item.
    pub chosen: &'a mut Option<ItemId>,
    /// What is heard, with the moment in beats.
    pub heard: Option<(&'a ItemId, Option<f64>)>,
    /// Whether the chosen row is to be brought into view.
    pub reveal: bool,
    /// The present moment.
    pub now: Stamp,
    /// Colours.
    pub palette: &'a Palette,
}

/// What a frame of the list came to.
#[derive(Default)]
pub struct Outcome {
    /// A row was double-clicked.
    pub opened: bool,
    /// Items in view that are still to be read.
    pub unread: Vec<ItemId>,
    /// A picture is still to be made.
    pub waits: bool,
}

/// The widget of an item's row.
pub fn row_id(id: &ItemId) -> Id {
    Id::unique(("shelf item", id))
}

impl List<'_> {
    /// Shows it.
    pub fn show(mut self, ui: &mut Ui) -> Outcome {
        let mut outcome = Outcome::default();
        let rows = self.found.matching.len();
        ui.spacing_mut().item_spacing.y = 4.0;
        let mut area = ScrollArea::vertical().id_salt("shelf").auto_shrink(false);
        if self.reveal
            && let Some(offset) = self.offset(ui)
        {
            area = area.vertical_scroll_offset(offset);
        }
        let shown = area.show_rows(ui, ROW, rows, |ui, range| {
            for row in range {
                let at = self.found.matching.get(row).copied();
                let Some(item) = at.and_then(|at| self.found.all.get(at)) else {
                    continue;
                };
                self.row(ui, item, &mut outcome);
            }
        });
        ui.data_mut(|d| {
            d.insert_temp(
                view_id(),
                (shown.state.clamped_offset().y, shown.inner_rect.height()),
            )
        });
        outcome
    }

    /// Where to scroll so that the chosen row is in view.
    fn offset(&self, ui: &Ui) -> Option<f32> {
        let chosen = self.chosen.as_ref()?;
        let is = |at: &usize| self.found.all.get(*at).is_some_and(|i| i.id == *chosen);
        let row = self.found.matching.iter().position(is)?;
        let (offset, height): (f32, f32) = ui.data(|d| d.get_temp(view_id()))?;
        let top = row as f32 * (ROW + 4.0);
        let bottom = top + ROW;
        if top < offset {
            Some(top)
        } else if bottom > offset + height {
            Some(bottom - height)
        } else {
            None
        }
    }

    fn row(&mut self, ui: &mut Ui, item: &Item, outcome: &mut Outcome) {
        let size = vec2(ui.available_width(), ROW);
        let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
        let chosen = self.chosen.as_ref() == Some(&item.id);
        let sense = if chosen { Sense::click() } else { Sense::CLICK };
        let id = row_id(&item.id);
        let response = ui.interact(rect, id, sense);
        let facts = words::item(item);
        let label = format!("{}, {facts}", item.name);
        response.widget_info(|| WidgetInfo::selected(Role::ListBoxOption, true, chosen, &label));
        if response.clicked() || response.double_clicked() {
            *self.chosen = Some(item.id.clone());
            ui.memory_mut(|m| m.request_focus(id));
        }
        outcome.opened |= response.double_clicked();
        if response.has_focus() {
            let arrows = EventFilter {
                vertical_arrows: true,
                ..EventFilter::default()
            };
            ui.memory_mut(|m| m.set_focus_lock_filter(id, arrows));
        }
        if ui.is_rect_visible(rect) {
            if self.previews.wants(&item.id) {
                outcome.unread.push(item.id.clone());
            }
            self.paint(ui, rect, item, &facts, response.has_focus(), outcome);
        }
        response.on_hover_text(hint(item));
    }

    fn paint(
        &mut self,
        ui: &Ui,
        rect: Rect,
        item: &Item,
        facts: &str,
        focused: bool,
        outcome: &mut Outcome,
    ) {
        let palette = self.palette;
        let chosen = self.chosen.as_ref() == Some(&item.id);
        let painter = ui.painter_at(rect);
        let fill = if chosen {
            palette.selected()
        } else {
            palette.panel
        };
        let round = CornerRadius::same(3);
        painter.rect_filled(rect, round, fill);
        if focused {
            let line = Stroke::new(2.0, palette.accent);
            painter.rect_stroke(rect, round, line, StrokeKind::Inside);
        }
        let picture = PICTURE.min(rect.width() - LEAST_TEXT - 24.0).max(0.0);
        let room = Rect::from_min_size(rect.min + vec2(8.0, 2.0), vec2(picture, ROW - 4.0));
        let heard = self.heard.filter(|(id, _)| **id == item.id);
        let at = heard.and_then(|(_, at)| at).filter(|_| !item.has_form);
        let ink = palette.ink;
        outcome.waits |= self.previews.paint(&painter, room, (&item.id, 0), ink, at);

        let mut tags = item.tags.join(", ");
        if !tags.is_empty() {
            tags += "  ";
        }
        let last = tags + &words::last_used(item, self.now);
        let facts = format!("{facts}; {}", words::item_voices(item));
        let mut left = room.right() + 12.0;
        if heard.is_some() {
            play_sign(&painter, pos2(left, rect.center().y), palette.accent);
            left += 18.0;
        }
        let width = rect.right() - 8.0 - left;
        let name_colour = if chosen { palette.accent } else { palette.ink };
        let mut y = rect.top() + 7.0;
        for (text, size, colour) in [
            (item.name.as_str(), 15.0, name_colour),
            (facts.as_str(), 12.0, palette.ink),
            (last.as_str(), 12.0, palette.dim),
        ] {
            let galley = painter.layout_job(one_line(text, size, colour, width));
            painter.galley(pos2(left, y), galley, colour);
            y += size + 5.0;
        }
    }
}

/// A triangle to the right: it is heard.
fn play_sign(painter: &Painter, left: Pos2, colour: Color32) {
    let corners = [(0.0, -7.0), (12.0, 0.0), (0.0, 7.0)];
    let corners = corners.map(|(x, y)| left + vec2(x, y)).to_vec();
    painter.add(Shape::convex_polygon(corners, colour, Stroke::NONE));
}

fn view_id() -> Id {
    Id::unique("shelf view")
}

/// All that a row shortens.
fn hint(item: &Item) -> String {
    let mut text = format!("{}\n{}\n", item.name, words::item(item));
    text += &format!("Played on {}\n", words::item_voices(item));
    if !item.tags.is_empty() {
        text += &format!("Tags: {}\n", item.tags.join(", "));
    }
    text + "Enter or double click: into the score. H: loop it."
}

/// Text on one line, cut with a dot-dot-dot.
fn one_line(text: &str, size: f32, colour: Color32, width: f32) -> LayoutJob {
    let mut job = LayoutJob::single_section(
        text.to_owned(),
        TextFormat::simple(FontId::proportional(size), colour),
    );
    job.wrap = TextWrapping::truncate_at_width(width.max(20.0));
    job
}
