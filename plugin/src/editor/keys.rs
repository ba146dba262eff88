//! All shortcuts, in one table, and the panel that lists them.
//!
//! A page that takes a key has a row here, so that a test can see that no key
//! means two things on one page.
//!
//! The library behind the real window passes on letters, digits, space, arrows
//! and Esc, Tab, Enter, Insert, Delete, Backspace, Home, End and the page keys:
//! no function key, and no sign with Ctrl. What is done by one of those has a
//! second key.

mod panel;

use egui::{Key, KeyboardShortcut, Modifiers};

use super::pages::Page;

pub use panel::show;

/// Where a key means something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum At {
    /// On every page.
    Everywhere,
    /// In the Form strip, while it has the focus.
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
    /// Signs that do it on whatever key a keyboard has them; may be empty.
    pub typed: &'static str,
    /// What they do, in a few words.
    pub does: &'static str,
}

const fn plain(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::NONE, key)
}

const fn ctrl(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::COMMAND, key)
}

const fn shift(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::SHIFT, key)
}

const fn alt(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::ALT, key)
}

const fn ctrl_shift(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::COMMAND.plus(Modifiers::SHIFT), key)
}

/// To the problem in the score text.
pub const PROBLEM: [KeyboardShortcut; 2] = [plain(Key::F8), ctrl(Key::J)];
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
pub const EXPORT: KeyboardShortcut = ctrl(Key::E);
/// Larger. `=` is where `+` is on many keyboards.
pub const LARGER: [KeyboardShortcut; 3] = [ctrl(Key::PageUp), ctrl(Key::Plus), ctrl(Key::Equals)];
/// Smaller.
pub const SMALLER: [KeyboardShortcut; 2] = [ctrl(Key::PageDown), ctrl(Key::Minus)];
/// Scale 100 %.
pub const NORMAL: KeyboardShortcut = ctrl(Key::Num0);
/// This list.
pub const LIST: [KeyboardShortcut; 2] = [plain(Key::F1), ctrl(Key::L)];
/// Starts and stops the own clock. While the host's rules, the space bar is the
/// host's.
pub const RUN: [KeyboardShortcut; 3] = [plain(Key::Space), plain(Key::F5), ctrl(Key::R)];
/// Taps the own clock's tempo.
pub const TAP: [KeyboardShortcut; 2] = [plain(Key::F6), ctrl(Key::U)];
/// The own clock back to the start of the form.
pub const TO_START: [KeyboardShortcut; 2] = [plain(Key::F4), ctrl(Key::B)];
/// The Stand in the full window, and back.
pub const FULL: [KeyboardShortcut; 2] = [plain(Key::F11), plain(Key::Enter)];
/// Out of the full window.
pub const LEAVE: KeyboardShortcut = plain(Key::Escape);

const fn row(at: At, keys: &'static [KeyboardShortcut], does: &'static str) -> Row {
    Row {
        at,
        keys,
        typed: "",
        does,
    }
}

impl Row {
    const fn typed(mut self, typed: &'static str) -> Row {
        self.typed = typed;
        self
    }
}

const ALL: At = At::Everywhere;
const SCORE: At = At::Page(Page::Score);
const STAND: At = At::Page(Page::Stand);
const BENCH: At = At::Page(Page::Bench);
const KIT: At = At::Page(Page::Kit);
const SHELF: At = At::Page(Page::Shelf);

/// The table, in the order in which it is shown.
#[rustfmt::skip] // A row a line.
pub const ROWS: &[Row] = &[
    row(ALL, &[ctrl(Key::Num1)], "Stand"),
    row(ALL, &[ctrl(Key::Num2)], "Bench"),
    row(ALL, &[ctrl(Key::Num3)], "Score"),
    row(ALL, &[ctrl(Key::Num4)], "Kit"),
    row(ALL, &[ctrl(Key::Num5)], "Shelf"),
    row(ALL, &[ctrl(Key::Num6)], "Settings"),
    row(ALL, &RUN, "Play or stop the internal clock; in a host, Space is the host's"),
    row(ALL, &TO_START, "Internal clock to the start of the form"),
    row(ALL, &TAP, "Tap the internal clock's tempo"),
    row(ALL, &[UNDO], "Undo"),
    row(ALL, &REDO, "Redo"),
    row(ALL, &[OPEN], "Open a score, MIDI or MusicXML"),
    row(ALL, &[SAVE], "Save"),
    row(ALL, &[SAVE_AS], "Save under another name"),
    row(ALL, &[EXPORT], "Export as a sheet, MIDI or audio"),
    row(ALL, &LARGER, "Larger"),
    row(ALL, &SMALLER, "Smaller"),
    row(ALL, &[NORMAL], "Scale 100 %"),
    row(ALL, &LIST, "This list"),
    row(STAND, &FULL, "Full window, and back"),
    row(STAND, &[LEAVE], "Out of the full window"),
    row(At::Strip, &[plain(Key::ArrowLeft), plain(Key::ArrowRight)], "Select the item before or after"),
    row(At::Strip, &[shift(Key::ArrowLeft), shift(Key::ArrowRight)], "Select more or fewer items"),
    row(At::Strip, &[plain(Key::ArrowUp), plain(Key::ArrowDown)], "Select the group around, or what is inside"),
    row(At::Strip, &[plain(Key::Home), plain(Key::End)], "Select the first or the last item"),
    row(At::Strip, &[ctrl(Key::A)], "Select all"),
    row(At::Strip, &[ctrl(Key::ArrowLeft), ctrl(Key::ArrowRight), alt(Key::ArrowLeft), alt(Key::ArrowRight)], "Move what is selected"),
    row(At::Strip, &[ctrl(Key::ArrowUp), ctrl(Key::ArrowDown)], "Play it once more or once less"),
    row(At::Strip, &[], "Put that cell in").typed("A … Z"),
    row(At::Strip, &[], "Set repeats").typed("1 … 9999"),
    row(At::Strip, &[], "A variation, and a bar line").typed("' and |"),
    row(At::Strip, &[plain(Key::Insert)], "A new cell"),
    row(At::Strip, &[plain(Key::Enter)], "To the Bench"),
    row(At::Strip, &[plain(Key::Delete), plain(Key::Backspace)], "Delete it"),
    row(At::Strip, &[ctrl(Key::C)], "Copy"),
    row(At::Strip, &[ctrl(Key::X)], "Cut"),
    row(At::Strip, &[ctrl(Key::V)], "Paste"),
    row(At::Strip, &[ctrl(Key::D)], "Duplicate"),
    row(At::Strip, &[ctrl(Key::G)], "Group"),
    row(At::Strip, &[ctrl_shift(Key::G)], "Ungroup"),
    row(At::Strip, &[ctrl(Key::I)], "Insert …"),
    row(At::Strip, &[ctrl(Key::P)], "Play it otherwise …"),
    row(At::Strip, &[ctrl(Key::T)], "Section …"),
    row(At::Strip, &[ctrl(Key::K)], "Split"),
    row(At::Strip, &[ctrl(Key::M)], "Fix the bar lines"),
    row(At::Strip, &[plain(Key::PageUp), plain(Key::PageDown)], "Earlier or later in the form"),
    row(At::Strip, &[plain(Key::Plus), plain(Key::Equals), plain(Key::Minus)], "Zoom in or out"),
    row(BENCH, &[ctrl(Key::Space)], "Loop the cell"),
    row(BENCH, &[plain(Key::ArrowLeft), plain(Key::ArrowRight)], "The slot before or after"),
    row(BENCH, &[plain(Key::Home), plain(Key::End)], "The first or the last slot"),
    row(BENCH, &[plain(Key::R), plain(Key::L), plain(Key::K), plain(Key::H)], "A stroke of that limb"),
    row(BENCH, &[shift(Key::R), shift(Key::L), shift(Key::K), shift(Key::H)], "Together with what is there"),
    row(BENCH, &[plain(Key::Minus)], "A rest"),
    row(BENCH, &[plain(Key::Delete), plain(Key::Backspace)], "Remove the stroke"),
    row(BENCH, &[], "Accent, ghost note").typed("> and ("),
    row(BENCH, &[plain(Key::F), plain(Key::D), plain(Key::U), plain(Key::Z)], "Flam, drag, four-stroke ruff, buzz roll"),
    row(BENCH, &[plain(Key::V), plain(Key::ArrowDown)], "The next voice round the kit"),
    row(BENCH, &[shift(Key::V), plain(Key::ArrowUp)], "The voice before"),
    row(BENCH, &[plain(Key::X)], "The other hand"),
    row(BENCH, &[plain(Key::A)], "The next way of striking"),
    row(BENCH, &[plain(Key::Num1), plain(Key::Num2), plain(Key::Num3), plain(Key::Num4), plain(Key::Num5), plain(Key::Num6), plain(Key::Num7), plain(Key::Num8), plain(Key::Num9), plain(Key::Num0)], "Slots in the beat; 0 is ten"),
    row(BENCH, &[plain(Key::CloseBracket), plain(Key::Plus)], "A beat more"),
    row(BENCH, &[plain(Key::OpenBracket)], "A beat less"),
    row(BENCH, &[ctrl(Key::C)], "Copy"),
    row(BENCH, &[ctrl(Key::X)], "Cut"),
    row(BENCH, &[ctrl(Key::V)], "Paste"),
    row(SCORE, &PROBLEM, "Go to error in the text"),
    row(KIT, &[plain(Key::ArrowUp), plain(Key::ArrowDown)], "The voice above or below"),
    row(KIT, &[alt(Key::ArrowUp), alt(Key::ArrowDown)], "Move it round the kit"),
    row(KIT, &[plain(Key::Enter), plain(Key::N)], "Play a stroke on it"),
    row(KIT, &[shift(Key::Enter), plain(Key::A)], "Play an accent on it"),
    row(KIT, &[plain(Key::G)], "Play a ghost note on it"),
    row(KIT, &[plain(Key::L)], "Learn its MIDI note from a stroke"),
    row(KIT, &[plain(Key::Delete)], "Remove the voice from the kit"),
    row(SHELF, &[ctrl(Key::F)], "Find"),
    row(SHELF, &[ctrl(Key::K)], "Keep the cell of the Bench"),
    row(SHELF, &[plain(Key::ArrowUp), plain(Key::ArrowDown), plain(Key::PageUp), plain(Key::PageDown), plain(Key::Home), plain(Key::End)], "Through the list"),
    row(SHELF, &[plain(Key::Enter)], "Insert into the form"),
    row(SHELF, &[shift(Key::Enter)], "Insert as cells only"),
    row(SHELF, &[plain(Key::H)], "Loop it"),
    row(SHELF, &[plain(Key::F2), plain(Key::R)], "Rename"),
    row(SHELF, &[plain(Key::Delete)], "Remove it from the Shelf"),
];

/// Headings, in the order of the panel.
pub const GROUPS: [(At, &str); 7] = [
    (ALL, "Everywhere"),
    (STAND, "Stand"),
    (At::Strip, "Form strip"),
    (BENCH, "Bench"),
    (SCORE, "Score"),
    (KIT, "Kit"),
    (SHELF, "Shelf"),
];

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

    /// What egui-baseview 0.9 translates, by its source, and what
    /// [`super::super::signs`] adds.
    fn is_passed_on(shortcut: &KeyboardShortcut) -> bool {
        use Key::*;
        let named = [
            ArrowDown, ArrowLeft, ArrowRight, ArrowUp, Escape, Tab, Backspace, Enter, Insert,
            Delete, Home, End, PageUp, PageDown, Space,
        ];
        let key = shortcut.logical_key;
        let name = key.name();
        let written = name.len() == 1 && name.chars().all(|c| c.is_ascii_alphanumeric());
        let sign = [Plus, Minus, Equals, OpenBracket, CloseBracket].contains(&key);
        written || named.contains(&key) || sign && shortcut.modifiers.is_none()
    }

    #[test]
    fn everything_has_a_key_that_the_real_window_passes_on() {
        for row in ROWS {
            let typed = !row.typed.is_empty();
            assert!(typed || row.keys.iter().any(is_passed_on), "{}", row.does);
        }
    }

    #[test]
    fn every_row_is_shown_and_says_something() {
        for row in ROWS {
            assert!(GROUPS.iter().any(|(at, _)| *at == row.at), "{}", row.does);
            let taken = !row.keys.is_empty() || !row.typed.is_empty();
            assert!(taken && !row.does.is_empty());
        }
    }
}
