//! The voices: those round the kit in their order, the pedals, the rest.
//!
//! A row is one widget; only the chosen one is reached by Tab, the arrow keys
//! go on from it.

use barform_app::music::{Articulation, Kit, Voice};
use egui::{Align2, CornerRadius, FontId, Id, Rect, RichText, ScrollArea, Sense, Stroke};
use egui::{EventFilter, Role, StrokeKind, Ui, WidgetInfo, pos2, vec2};

use super::heads::{self, Heads};
use crate::editor::palette::Palette;
use barform_app::words::key_name;

/// Height of a row in points.
const ROW: f32 = 40.0;

/// Points to a staff space in a row.
const SPACE: f32 = 4.1;

/// The voices under a heading.
pub struct Group {
    /// The heading.
    pub title: &'static str,
    /// What it means.
    pub hint: &'static str,
    /// In order.
    pub voices: Vec<Voice>,
}

/// All voices, grouped.
pub fn groups(kit: &Kit) -> [Group; 4] {
    let outside = |v: &Voice| !kit.order.contains(v);
    let pedals = [Voice::Kick, Voice::HatFoot];
    let rest = Voice::ALL.into_iter().filter(|v| !pedals.contains(v));
    [
        Group {
            title: "Round the kit",
            hint: "What the hands reach, in the order a roll would go round. Stickings and \
                   re-voicings follow this order. Alt+Up and Alt+Down move a voice.",
            voices: kit.order.clone(),
        },
        Group {
            title: "Pedals",
            hint: "What the feet play.",
            voices: pedals.into_iter().filter(outside).collect(),
        },
        Group {
            title: "Not on this kit",
            hint: "Voices that this kit does not have. A cell that plays one still sounds.",
            voices: rest.filter(outside).collect(),
        },
        Group {
            title: "Metronome",
            hint: "The click of the form and its first beat of a bar.",
            voices: vec![Voice::Click],
        },
    ]
}

/// The widget of a voice's row.
pub fn row_id(voice: Voice) -> Id {
    Id::unique(("kit voice", voice.index()))
}

/// Shows the list.
pub struct List<'a> {
    /// The kit.
    pub kit: &'a Kit,
    /// Pictures.
    pub heads: &'a mut Heads,
    /// The chosen voice.
    pub chosen: &'a mut Voice,
    /// Whether the chosen row is to be brought into view.
    pub reveal: bool,
    /// Colours.
    pub palette: &'a Palette,
}

impl List<'_> {
    /// Shows it; returns the voice that was clicked.
    pub fn show(mut self, ui: &mut Ui) -> Option<Voice> {
        let mut clicked = None;
        ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            for group in groups(self.kit) {
                if group.voices.is_empty() {
                    continue;
                }
                let title = RichText::new(group.title).color(self.palette.accent);
                ui.label(title).on_hover_text(group.hint);
                for voice in group.voices {
                    if self.row(ui, voice) {
                        clicked = Some(voice);
                    }
                }
                ui.add_space(6.0);
            }
        });
        clicked
    }

    /// One voice; returns whether it was clicked.
    fn row(&mut self, ui: &mut Ui, voice: Voice) -> bool {
        let size = vec2(ui.available_width(), ROW);
        let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
        let chosen = *self.chosen == voice;
        let sense = if chosen { Sense::click() } else { Sense::CLICK };
        let response = ui.interact(rect, row_id(voice), sense);
        let side = self.kit.voice(voice);
        let key = self.kit.key(voice, Articulation::Plain);
        let number = key.map_or_else(|| "no note".to_owned(), |k| format!("note {}", k.number()));
        let label = format!("{}: {number}", voice.title());
        response.widget_info(|| WidgetInfo::selected(Role::ListBoxOption, true, chosen, &label));
        if response.clicked() {
            *self.chosen = voice;
            ui.memory_mut(|m| m.request_focus(row_id(voice)));
        }
        if response.has_focus() {
            let arrows = EventFilter {
                vertical_arrows: true,
                ..EventFilter::default()
            };
            ui.memory_mut(|m| m.set_focus_lock_filter(response.id, arrows));
        }
        if chosen && self.reveal {
            ui.scroll_to_rect(rect, None);
        }
        if ui.is_rect_visible(rect) {
            let mut second = number;
            if let Some(name) = key.map(key_name).filter(|name| !name.is_empty()) {
                second = format!("{second}  {name}");
            }
            if side.channel != barform_app::music::Channel::PERCUSSION {
                second += &format!("  channel {}", side.channel.number());
            }
            self.paint(ui, rect, voice, &second, response.has_focus());
        }
        let hint = "Click or Enter: plays it. With Shift: an accent.";
        response.on_hover_text(hint).clicked()
    }

    fn paint(&mut self, ui: &Ui, rect: Rect, voice: Voice, second: &str, focused: bool) {
        let palette = self.palette;
        let chosen = *self.chosen == voice;
        let painter = ui.painter_at(rect);
        let (fill, name) = if chosen {
            (palette.selected(), palette.accent)
        } else {
            (palette.panel, palette.ink)
        };
        let round = CornerRadius::same(3);
        painter.rect_filled(rect, round, fill);
        if focused {
            let line = Stroke::new(2.0, palette.accent);
            painter.rect_stroke(rect, round, line, StrokeKind::Inside);
        }
        let picture = heads::size(SPACE);
        let corner = pos2(rect.left() + 8.0, rect.center().y - picture.y / 2.0);
        let stroke = (voice, Articulation::Plain);
        self.heads
            .paint(&painter, corner, SPACE, stroke, palette.ink);
        let left = rect.left() + picture.x + 18.0;
        painter.text(
            pos2(left, rect.center().y - 1.0),
            Align2::LEFT_BOTTOM,
            voice.title(),
            FontId::proportional(14.0),
            name,
        );
        painter.text(
            pos2(left, rect.center().y + 1.0),
            Align2::LEFT_TOP,
            second,
            FontId::proportional(12.0),
            palette.dim,
        );
    }
}
