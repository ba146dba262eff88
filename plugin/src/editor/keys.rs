//! All shortcuts, in one table, and the panel that lists them.
//!
//! In: F1. Out: a panel. A page that takes a key has a row here, so that a test
//! can see that no key means two things on one page. Never here: what a key does.

use egui::{Grid, Id, Key, KeyboardShortcut, Modal, Modifiers, RichText, ScrollArea, Ui};

use super::desk::Page;
use super::palette::Palette;

/// Where a key means something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum At {
    /// On every page.
    Everywhere,
    /// In the Form strip, while it has the focus or the pointer.
    Strip,
    /// On one page.
    Page(Page),
}

/// A row of the table.
#[derive(Debug, Clone, Copy)]
pub struct Row {
    /// Where.
    pub at: At,
    /// The keys; any of them does it.
    pub keys: &'static [KeyboardShortcut],
    /// What they do, in a few words.
    pub does: &'static str,
}

const fn plain(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::NONE, key)
}

const fn ctrl(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::COMMAND, key)
}

const fn ctrl_shift(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::COMMAND.plus(Modifiers::SHIFT), key)
}

/// Takes the last step back.
pub const UNDO: KeyboardShortcut = ctrl(Key::Z);
/// Makes it again.
pub const REDO: [KeyboardShortcut; 2] = [ctrl_shift(Key::Z), ctrl(Key::Y)];
/// Opens a file.
pub const OPEN: KeyboardShortcut = ctrl(Key::O);
/// Saves.
pub const SAVE: KeyboardShortcut = ctrl(Key::S);
/// Saves under another name.
pub const SAVE_AS: KeyboardShortcut = ctrl_shift(Key::S);
/// Hands on as a file.
pub const HAND_ON: KeyboardShortcut = ctrl(Key::E);
/// Larger. `=` is where `+` is on many keyboards.
pub const LARGER: [KeyboardShortcut; 2] = [ctrl(Key::Plus), ctrl(Key::Equals)];
/// Smaller.
pub const SMALLER: KeyboardShortcut = ctrl(Key::Minus);
/// Scale 100 %.
pub const NORMAL: KeyboardShortcut = ctrl(Key::Num0);
/// This list.
pub const LIST: KeyboardShortcut = plain(Key::F1);
/// The Stand in the full window, and back.
pub const FULL: [KeyboardShortcut; 2] = [plain(Key::F11), plain(Key::Enter)];
/// Out of the full window.
pub const LEAVE: KeyboardShortcut = plain(Key::Escape);

const fn row(at: At, keys: &'static [KeyboardShortcut], does: &'static str) -> Row {
    Row { at, keys, does }
}

/// The table, in the order in which it is shown.
pub const ROWS: &[Row] = &[
    row(At::Everywhere, &[ctrl(Key::Num1)], "Stand"),
    row(At::Everywhere, &[ctrl(Key::Num2)], "Bench"),
    row(At::Everywhere, &[ctrl(Key::Num3)], "Score"),
    row(At::Everywhere, &[ctrl(Key::Num4)], "Kit"),
    row(At::Everywhere, &[ctrl(Key::Num5)], "Shelf"),
    row(At::Everywhere, &[ctrl(Key::Num6)], "Settings"),
    row(
        At::Everywhere,
        &[plain(Key::F5)],
        "Run or stop the own clock",
    ),
    row(
        At::Everywhere,
        &[plain(Key::F4)],
        "Own clock to the start of the form",
    ),
    row(At::Everywhere, &[UNDO], "Undo"),
    row(At::Everywhere, &REDO, "Redo"),
    row(At::Everywhere, &[OPEN], "Open a score, MIDI or MusicXML"),
    row(At::Everywhere, &[SAVE], "Save"),
    row(At::Everywhere, &[SAVE_AS], "Save under another name"),
    row(
        At::Everywhere,
        &[HAND_ON],
        "Hand on as a sheet, MIDI or sound",
    ),
    row(At::Everywhere, &LARGER, "Larger"),
    row(At::Everywhere, &[SMALLER], "Smaller"),
    row(At::Everywhere, &[NORMAL], "Scale 100 %"),
    row(At::Everywhere, &[LIST], "This list"),
    row(At::Page(Page::Stand), &FULL, "Full window, and back"),
    row(At::Page(Page::Stand), &[LEAVE], "Out of the full window"),
    row(At::Strip, &[plain(Key::ArrowLeft)], "Earlier in the form"),
    row(At::Strip, &[plain(Key::ArrowRight)], "Later in the form"),
    row(
        At::Strip,
        &[plain(Key::Plus), plain(Key::Equals)],
        "Zoom in",
    ),
    row(At::Strip, &[plain(Key::Minus)], "Zoom out"),
    row(At::Strip, &[plain(Key::Home)], "Start of the form"),
    row(At::Strip, &[plain(Key::End)], "End of the form"),
];

/// Headings, in the order of the panel.
const GROUPS: [(At, &str); 8] = [
    (At::Everywhere, "Everywhere"),
    (At::Page(Page::Stand), "Stand"),
    (At::Strip, "Form strip"),
    (At::Page(Page::Bench), "Bench"),
    (At::Page(Page::Score), "Score"),
    (At::Page(Page::Kit), "Kit"),
    (At::Page(Page::Shelf), "Shelf"),
    (At::Page(Page::Settings), "Settings"),
];

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

fn groups(ui: &mut Ui, palette: &Palette) {
    for (at, name) in GROUPS {
        let rows = || ROWS.iter().filter(|row| row.at == at);
        if rows().next().is_none() {
            continue;
        }
        ui.label(RichText::new(name).strong().color(palette.accent));
        let grid = Grid::new(name).num_columns(2).min_col_width(170.0);
        grid.spacing([16.0, 3.0]).show(ui, |ui| {
            for row in rows() {
                let keys = row.keys.iter().map(|k| ui.ctx().format_shortcut(k));
                let keys = keys.collect::<Vec<_>>().join(" or ");
                ui.label(RichText::new(keys).color(palette.ink));
                ui.label(row.does);
                ui.end_row();
            }
        });
        ui.add_space(6.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Keys that mean something at a place: its own and those of everywhere.
    fn keys_at(at: At) -> Vec<KeyboardShortcut> {
        let rows = ROWS.iter();
        rows.filter(|row| row.at == at || row.at == At::Everywhere)
            .flat_map(|row| row.keys.iter().copied())
            .collect()
    }

    #[test]
    fn no_key_means_two_things_at_one_place() {
        for (at, name) in GROUPS {
            let keys = keys_at(at);
            for (n, key) in keys.iter().enumerate() {
                assert!(!keys[..n].contains(key), "{name}: {key:?}");
            }
        }
    }

    #[test]
    fn every_row_is_shown_and_says_something() {
        for row in ROWS {
            assert!(GROUPS.iter().any(|(at, _)| *at == row.at), "{}", row.does);
            assert!(!row.keys.is_empty() && !row.does.is_empty());
        }
    }
}
