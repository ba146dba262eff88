//! The row of buttons under the strip: what can be done to what is chosen.

use egui::{Button, DragValue, Response, Ui};

use super::menus::{Menu, MenuButton};
use super::{Act, Strip};
use crate::editor::desk::Desk;
use barform_app::score::FormItem;

/// Width of the window in points below which the row is set closer.
const NARROW: f32 = 850.0;

impl Strip {
    /// Shows the row.
    pub(super) fn buttons(&mut self, ui: &mut Ui, desk: &mut Desk) -> Vec<Act> {
        let mut acts = Vec::new();
        ui.horizontal(|ui| {
            let narrow = ui.available_width() < NARROW;
            let spacing = ui.spacing_mut();
            spacing.item_spacing.x = if narrow { 3.0 } else { 4.0 };
            spacing.button_padding = egui::vec2(if narrow { 4.0 } else { 6.0 }, 2.0);
            ui.add_space(super::rows::MARGIN);
            self.insert_menu(ui, desk, &mut acts);
            self.editing(ui, desk, &mut acts);
            ui.separator();
            self.repeats(ui, desk, &mut acts);
            ui.separator();
            self.otherwise_menu(ui, desk, &mut acts);
            let one = self.is_one_letter(desk);
            let hint = "Varies it: a new letter with a prime, played here only, that is like this \
                        one until it is changed (')";
            let response = ui.add_enabled(one, Button::new("Prime"));
            let response = response.accessible_name("Prime block");
            if tip(response, hint, "Select one block first").clicked() {
                acts.push(Act::Prime);
            }
            let hint = "A bar line belongs after the selection, or no longer does: an edit that \
                        moves it then says so (|)";
            if self.button(ui, "Bar line here", hint, desk).clicked() {
                acts.push(Act::Check);
            }
            ui.separator();
            self.section_menu(ui, desk, &mut acts);
        });
        acts
    }

    fn editing(&self, ui: &mut Ui, desk: &Desk, acts: &mut Vec<Act>) {
        let hints = [
            (
                "Duplicate",
                "Plays it once more, right after itself (Ctrl+D)",
                Act::Duplicate,
            ),
            (
                "Delete",
                "Deletes it from the form; its cell stays (Delete)",
                Act::Delete,
            ),
            ("Cut", "Copies it as text and removes it (Ctrl+X)", Act::Cut),
            (
                "Copy",
                "Copies it as text, with its cells, for here or another score (Ctrl+C)",
                Act::Copy,
            ),
        ];
        for (name, hint, act) in hints {
            let button = self.button(ui, name, hint, desk);
            if button.accessible_name(format!("{name} blocks")).clicked() {
                acts.push(act);
            }
        }
        let hint = "Puts in what was copied, after what is selected (Ctrl+V)";
        let paste = ui.add_enabled(!self.copied.is_empty(), Button::new("Paste"));
        let none = "Nothing was copied here yet; Ctrl+V puts in what was copied elsewhere";
        let paste = paste.accessible_name("Paste blocks");
        if tip(paste, hint, none).clicked() {
            acts.push(Act::Paste(self.copied.clone()));
        }
    }

    fn repeats(&self, ui: &mut Ui, desk: &Desk, acts: &mut Vec<Act>) {
        let times = self.times_now(desk);
        let fewer = ui.add_enabled(times.is_some_and(|t| t > 1), Button::new("−"));
        let fewer = fewer.accessible_name("Fewer repeats");
        let none = "Select what is repeated first";
        if tip(fewer, "Plays it once less (Ctrl+Down)", none).clicked() {
            acts.push(Act::More(-1));
        }
        let mut number = times.unwrap_or(1);
        let field = DragValue::new(&mut number)
            .range(1..=9_999)
            .speed(0.05)
            .prefix("×")
            .update_while_editing(false);
        let field = ui
            .add_enabled(times.is_some(), field)
            .accessible_name("Repeats");
        let hint = "How often it is played; with the strip in focus just type the number";
        if tip(field, hint, none).changed() {
            acts.push(Act::Times(number));
        }
        let more = ui.add_enabled(times.is_some(), Button::new("+"));
        let more = more.accessible_name("More repeats");
        if tip(
            more,
            "Plays it once more: a group with a repeat count (Ctrl+Up)",
            none,
        )
        .clicked()
        {
            acts.push(Act::More(1));
        }
        let group = desk
            .chosen
            .run
            .as_ref()
            .and_then(|run| run.items(desk.score()));
        if matches!(group, Some([FormItem::Group { .. }])) {
            let hint = "Removes the parentheses: what is in them is played once (Ctrl+Shift+G)";
            let button = self.button(ui, "Ungroup", hint, desk);
            if button.accessible_name("Ungroup blocks").clicked() {
                acts.push(Act::Ungroup);
            }
        } else {
            let hint = "Puts what is selected in parentheses, played twice (Ctrl+G; out of a group \
                        Ctrl+Shift+G)";
            let button = self.button(ui, "Group", hint, desk);
            if button.accessible_name("Group blocks").clicked() {
                acts.push(Act::Group);
            }
        }
    }

    /// A button for what is chosen.
    fn button(&self, ui: &mut Ui, name: &str, hint: &str, desk: &Desk) -> Response {
        let response = ui.add_enabled(desk.chosen.run.is_some(), Button::new(name));
        tip(response, hint, "Select a block first")
    }

    fn is_one_letter(&self, desk: &Desk) -> bool {
        let items = desk
            .chosen
            .run
            .as_ref()
            .and_then(|run| run.items(desk.score()));
        matches!(items, Some([FormItem::Letter { .. }]))
    }
}

/// What a button does, or what it waits for.
fn tip(response: Response, hint: &str, disabled: &str) -> Response {
    let response = response.on_hover_text(hint);
    response.on_disabled_hover_text(format!("{hint}.\n{disabled}."))
}

impl Menu {
    /// Its button.
    pub(super) fn button(self) -> MenuButton<'static> {
        match self {
            Menu::Insert => MenuButton::new(
                "Insert…",
                "Puts a letter in after what is selected, or a new cell (Ctrl+I; with the strip in \
                 focus just type the letter)",
            ),
            Menu::Otherwise => MenuButton::new(
                "Play as…",
                "Another letter, subdivision, rate, level or voicing here, the cell stays as it is \
                 (Ctrl+P)",
            ),
            Menu::Section => MenuButton::new(
                "Section…",
                "A part of the form with a name: new, named, moved, cut in two, its meter (Ctrl+T)",
            ),
        }
    }
}
