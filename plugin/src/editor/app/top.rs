//! The top line: pages, undo and redo, files, the list of keys, the title.
//!
//! The title and the file's name take what room is left, shortened with the
//! whole text as a tooltip.

use egui::{Align, Button, KeyboardShortcut, Label, Layout, Modifiers, RichText, Ui};

use super::super::keys;
use super::super::pages::{PAGES, Page};
use super::super::palette::Palette;
use super::App;

/// Width of the window in points below which the line is set closer.
const WIDE: f32 = 1_060.0;

/// A shortcut as it is written in a tooltip.
fn written(ui: &Ui, shortcut: &KeyboardShortcut) -> String {
    ui.ctx().format_shortcut(shortcut)
}

impl App {
    pub(super) fn top(&mut self, ui: &mut Ui, palette: &Palette) {
        ui.horizontal(|ui| {
            if ui.available_width() < WIDE {
                ui.spacing_mut().item_spacing.x = 4.0;
                ui.spacing_mut().button_padding.x = 5.0;
            }
            self.pages(ui);
            ui.separator();
            self.steps(ui);
            ui.separator();
            self.file_buttons(ui);
            let [first, second] = keys::LIST.map(|key| written(ui, &key));
            let hint = format!("All keys ({first} or {second})");
            let list = ui.button("?").on_hover_text(hint);
            let pressed = |key| ui.input_mut(|i| i.consume_shortcut(key));
            let pressed = keys::LIST.iter().any(pressed);
            if list.clicked() || pressed {
                self.keys = !self.keys;
            }
            list.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, "Keys"));
            ui.separator();
            let room = ui.available_size();
            ui.allocate_ui_with_layout(room, Layout::right_to_left(Align::Center), |ui| {
                self.title(ui, palette);
            });
        });
    }

    fn pages(&mut self, ui: &mut Ui) {
        for (page, name, key, hint) in PAGES {
            let shortcut = KeyboardShortcut::new(Modifiers::COMMAND, key);
            let pressed = ui.input_mut(|i| i.consume_shortcut(&shortcut));
            let hint = format!("{hint} ({})", written(ui, &shortcut));
            let response = ui.selectable_label(self.desk.page == page, name);
            if response.on_hover_text(hint).clicked() || pressed {
                if page == Page::Settings && self.desk.page != page {
                    self.desk.prefs.read();
                }
                self.desk.page = page;
            }
        }
    }

    /// Undo and redo as buttons.
    fn steps(&mut self, ui: &mut Ui) {
        let (undo, redo) = self.desk.session().steps();
        let button = |ui: &mut Ui, name: &str, key: &KeyboardShortcut, step: &Option<String>| {
            let key = written(ui, key);
            let response = ui.add_enabled(step.is_some(), Button::new(name));
            let hint = match step {
                Some(step) => format!("{name}: {step} ({key})"),
                None => format!("Nothing to {} ({key})", name.to_lowercase()),
            };
            let response = response.on_hover_text(&hint).on_disabled_hover_text(hint);
            response.clicked()
        };
        if button(ui, "Undo", &keys::UNDO, &undo) {
            self.undo();
        }
        if button(ui, "Redo", &keys::REDO[0], &redo) {
            self.desk.redo();
        }
    }

    fn file_buttons(&mut self, ui: &mut Ui) {
        let session = self.desk.params.session.clone();
        let file = session.file();
        let pressed = |ui: &Ui, shortcut| ui.input_mut(|i| i.consume_shortcut(shortcut));
        // The shortcut with Shift first: the plain one would match it too.
        let save_as_key = pressed(ui, &keys::SAVE_AS);
        let save_key = pressed(ui, &keys::SAVE);
        let open_key = pressed(ui, &keys::OPEN);
        let export_key = pressed(ui, &keys::EXPORT);
        let button = |ui: &mut Ui, name: &str, hint: &str, key: &KeyboardShortcut| {
            let hint = format!("{hint} ({})", written(ui, key));
            ui.button(name).on_hover_text(hint).clicked()
        };
        let open_hint = "Reads a .barform file, or makes a score of a MIDI or MusicXML file";
        let open = button(ui, "Open…", open_hint, &keys::OPEN) || open_key;
        let save_hint = "Writes the score text to its file";
        let save = button(ui, "Save", save_hint, &keys::SAVE) || save_key;
        let save_as = button(ui, "Save as…", "Under another name", &keys::SAVE_AS) || save_as_key;
        let export_hint = "As a sheet, a hand-out, MusicXML, MIDI or audio";
        let export = button(ui, "Export…", export_hint, &keys::EXPORT) || export_key;
        if self.is_asking() {
            return;
        }
        if export {
            let title = &self.desk.shown.checked.timeline.title;
            self.export.ask(file.as_deref(), title);
        } else if save_as {
            self.files.ask_save_as(file.as_deref());
        } else if save {
            let outcome = self.files.save(file.as_deref(), &self.desk.typed.text);
            self.take(outcome);
        } else if open {
            self.files.ask_open(file.as_deref());
        }
    }

    /// Title and file, from the right.
    fn title(&self, ui: &mut Ui, palette: &Palette) {
        let title = &self.desk.shown.checked.timeline.title;
        let title = if title.is_empty() { "Untitled" } else { title };
        let file = self.desk.session().file();
        let name = match &file {
            None => "no file".to_owned(),
            Some(file) => {
                let name = std::path::Path::new(file).file_name();
                let name = name.map_or(file.clone(), |n| n.to_string_lossy().into_owned());
                if self.files.is_saved(file, &self.desk.typed.text) {
                    name
                } else {
                    format!("{name} (not saved)")
                }
            }
        };
        let hint = file.unwrap_or_else(|| {
            "The score is kept in the host's session. Save it to have it as a file too.".to_owned()
        });
        let height = ui.available_height();
        let of_file = ui.available_width() * 0.45;
        ui.allocate_ui_with_layout(
            egui::vec2(of_file, height),
            Layout::right_to_left(Align::Center),
            |ui| {
                let text = RichText::new(name).color(palette.dim);
                ui.add(Label::new(text).truncate()).on_hover_text(hint);
            },
        );
        let text = RichText::new(title).size(16.0).color(palette.ink);
        ui.add(Label::new(text).truncate())
            .on_hover_text(format!("The score's title: {title}"));
    }
}
