//! The strip's keys, while it has the focus.
//!
//! Arrow keys choose, with Ctrl or Alt they move what is chosen. A letter puts
//! that cell in, a number says how often what is chosen is played. The other
//! keys are named in the tips of the buttons.

use egui::{Event, EventFilter, Key, Modifiers, Ui};

use super::menus::Menu;
use super::{Act, Strip, id};
use crate::editor::desk::Desk;

/// Seconds within which digits make one number.
const NUMBER_S: f64 = 1.0;

/// Arrow keys and Esc are the strip's own; Tab leaves it.
const FILTER: EventFilter = EventFilter {
    tab: false,
    horizontal_arrows: true,
    vertical_arrows: true,
    escape: true,
};

impl Strip {
    /// What the keys ask for.
    pub(super) fn keys(&mut self, ui: &Ui, desk: &Desk) -> Vec<Act> {
        let focus = ui.memory(|m| m.has_focus(id()));
        if !focus || self.drag.is_some() || egui::Popup::is_any_open(ui.ctx()) {
            return Vec::new();
        }
        ui.memory_mut(|m| m.set_focus_lock_filter(id(), FILTER));
        let now_s = ui.input(|i| i.time);
        let mut acts = Vec::new();
        ui.input_mut(|input| {
            input.events.retain(|event| {
                let act = match event {
                    Event::Copy => Some(Act::Copy),
                    Event::Cut => Some(Act::Cut),
                    Event::Paste(text) => Some(Act::Paste(text.clone())),
                    Event::Text(text) => self.text(text, now_s, desk),
                    Event::Key {
                        key,
                        pressed: true,
                        modifiers,
                        ..
                    } => self.key(*key, *modifiers),
                    _ => None,
                };
                let taken = act.is_some();
                acts.extend(act);
                !taken
            });
        });
        acts
    }

    fn key(&mut self, key: Key, with: Modifiers) -> Option<Act> {
        let command = with.command || with.ctrl;
        let page = self.view.width() * 0.8;
        Some(match (key, command, with.alt, with.shift) {
            (Key::ArrowLeft, false, false, extend) => Act::Neighbour(false, extend),
            (Key::ArrowRight, false, false, extend) => Act::Neighbour(true, extend),
            (Key::ArrowLeft, ..) => Act::Step(false),
            (Key::ArrowRight, ..) => Act::Step(true),
            (Key::ArrowUp, true, ..) => Act::More(1),
            (Key::ArrowDown, true, ..) => Act::More(-1),
            (Key::ArrowUp, ..) => Act::Around,
            (Key::ArrowDown, ..) => Act::Inside,
            (Key::Home, _, _, extend) => Act::End(false, extend),
            (Key::End, _, _, extend) => Act::End(true, extend),
            (Key::PageUp, ..) => self.scroll(-page),
            (Key::PageDown, ..) => self.scroll(page),
            (Key::Plus | Key::Equals, false, ..) => self.zoom(1.25),
            (Key::Minus, false, ..) => self.zoom(0.8),
            (Key::Delete | Key::Backspace, ..) => Act::Delete,
            (Key::Escape, ..) => Act::Nothing,
            (Key::Enter, ..) => Act::ToBench,
            (Key::Insert, ..) => Act::NewCell,
            (Key::A, true, ..) => Act::All,
            (Key::D, true, ..) => Act::Duplicate,
            (Key::G, true, _, true) => Act::Ungroup,
            (Key::G, true, ..) => Act::Group,
            (Key::I, true, ..) => Act::Open(Menu::Insert),
            (Key::P, true, ..) => Act::Open(Menu::Otherwise),
            (Key::T, true, ..) => Act::Open(Menu::Section),
            (Key::K, true, ..) => Act::Split,
            (Key::M, true, ..) => Act::Mend(0),
            // What comes as text too is no other page's key while it is typed here.
            (key, false, ..) if key.name().len() == 1 => Act::Looked,
            _ => return None,
        })
    }

    /// Letters, numbers and signs, as any keyboard writes them.
    fn text(&mut self, text: &str, now_s: f64, desk: &Desk) -> Option<Act> {
        let mut all = text.chars();
        let (Some(sign), None) = (all.next(), all.next()) else {
            return None;
        };
        if let Some(digit) = sign.to_digit(10) {
            let before = self.typed.filter(|(_, at)| now_s - at <= NUMBER_S);
            let number = before.map_or(0, |(number, _)| number) * 10 + digit;
            self.typed = Some((number.min(9_999), now_s));
            return (number > 0).then_some(Act::Times(number.min(9_999)));
        }
        self.typed = None;
        match sign {
            '\'' | '’' => Some(Act::Prime),
            '|' => Some(Act::Check),
            'a'..='z' | 'A'..='Z' => {
                let wanted = sign.to_ascii_uppercase().to_string();
                let known = |c: &&barform_app::score::CellDef| c.letter.as_str() == wanted;
                let cell = desk.score().cells.iter().find(known);
                Some(match cell {
                    Some(cell) => Act::Insert(cell.letter.clone()),
                    None => Act::Unknown(wanted),
                })
            }
            _ => None,
        }
    }

    fn scroll(&mut self, points: f32) -> Act {
        self.view.scroll_points(points);
        Act::Looked
    }

    fn zoom(&mut self, factor: f32) -> Act {
        self.view.zoom_at(self.view.width() / 2.0, factor);
        Act::Looked
    }
}
