//! The panel that lists all shortcuts.

use egui::{Grid, Id, Key, KeyboardShortcut, Label, Modal, RichText, ScrollArea, Ui};

use super::super::palette::Palette;
use super::{GROUPS, ROWS};

/// Shows the list while `open`.
pub fn show(ui: &mut Ui, palette: &Palette, open: &mut bool) {
    if !*open {
        return;
    }
    let height = (ui.ctx().content_rect().height() - 150.0).max(120.0);
    let modal = Modal::new(Id::unique("keys")).show(ui.ctx(), |ui| {
        ui.set_width(520.0);
        ui.label(RichText::new("Keys").size(18.0).color(palette.ink));
        let about = "While a text field has the focus, only keys with Ctrl and function keys \
                     work.";
        ui.label(RichText::new(about).color(palette.dim));
        ui.add_space(6.0);
        ScrollArea::vertical()
            .max_height(height)
            .auto_shrink([false, true])
            .show(ui, |ui| groups(ui, palette));
        ui.add_space(6.0);
        ui.button("Close").on_hover_text("Esc or F1").clicked()
    });
    if modal.inner || modal.should_close() {
        *open = false;
    }
}

/// A shortcut with its sign as it is printed on the key.
fn printed(ui: &Ui, key: &KeyboardShortcut) -> String {
    let name = key.logical_key.name();
    let sign = match key.logical_key {
        Key::OpenBracket => "[",
        Key::CloseBracket => "]",
        Key::Plus => "+",
        Key::Minus => "-",
        Key::Equals => "=",
        _ => name,
    };
    let text = ui.ctx().format_shortcut(key);
    let before = text
        .strip_suffix(name)
        .map(|before| before.to_owned() + sign);
    before.unwrap_or(text)
}

fn groups(ui: &mut Ui, palette: &Palette) {
    for (at, name) in GROUPS {
        let rows = || ROWS.iter().filter(|row| row.at == at);
        if rows().next().is_none() {
            continue;
        }
        ui.label(RichText::new(name).strong().color(palette.accent));
        let grid = Grid::new(name)
            .num_columns(2)
            .min_col_width(240.0)
            .max_col_width(240.0);
        grid.spacing([16.0, 3.0]).show(ui, |ui| {
            for row in rows() {
                let keys = row.keys.iter().map(|k| printed(ui, k));
                let typed = Some(row.typed.to_owned()).filter(|typed| !typed.is_empty());
                let keys = keys.chain(typed).collect::<Vec<_>>().join(", ");
                ui.add(Label::new(RichText::new(keys).color(palette.ink)).wrap());
                ui.add(Label::new(row.does).wrap());
                ui.end_row();
            }
        });
        ui.add_space(6.0);
    }
}
