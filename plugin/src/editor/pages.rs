//! The pages under the Form strip. A page is a file of its own, a row in
//! [`PAGES`] and an arm in [`Pages::show`]; keys of its own stand in
//! [`keys`](super::keys).

use egui::{Key, Ui};

use super::bench::Bench;
use super::desk::Desk;
use super::kit::KitPage;
use super::palette::Palette;
use super::shelf::ShelfPage;
use super::stand::Stand;
use super::{settings, text};
use crate::handover::Reading;

/// What is shown under the Form strip.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Page {
    /// The current cell, as large as the window allows.
    Stand,
    /// One cell, to be edited.
    Bench,
    /// The score text.
    Score,
    /// Voices, keys, limbs.
    Kit,
    /// Stored cells and forms.
    Shelf,
    /// All parameters.
    Settings,
}

/// Pages in the order of their keys: name, key, hint.
pub const PAGES: [(Page, &str, Key, &str); 6] = [
    (
        Page::Stand,
        "Stand",
        Key::Num1,
        "What plays, large, as on a music stand; Enter there gives it the full window",
    ),
    (
        Page::Bench,
        "Bench",
        Key::Num2,
        "One cell: strokes, sticking, grid",
    ),
    (
        Page::Score,
        "Score",
        Key::Num3,
        "The score text, checked as you type",
    ),
    (
        Page::Kit,
        "Kit",
        Key::Num4,
        "Which MIDI note each voice of the kit plays",
    ),
    (
        Page::Shelf,
        "Shelf",
        Key::Num5,
        "Cells and forms kept for other scores",
    ),
    (
        Page::Settings,
        "Settings",
        Key::Num6,
        "Every parameter with its unit, and the look of the window",
    ),
];

/// What pages keep between frames.
#[derive(Default)]
pub struct Pages {
    /// The Stand, which can take the whole window.
    pub stand: Stand,
    /// The Bench, which takes keys.
    pub bench: Bench,
    kit: KitPage,
    shelf: ShelfPage,
}

impl Pages {
    /// Shows the page in view; `height` is that of the whole window, in points.
    pub fn show(
        &mut self,
        ui: &mut Ui,
        desk: &mut Desk,
        palette: &Palette,
        reading: &Reading,
        height: f32,
    ) {
        match desk.page {
            Page::Stand => self.stand.show(ui, desk, palette, reading, height),
            Page::Bench => self.bench.show(ui, desk, palette),
            Page::Score => text::page(ui, desk, palette, reading),
            Page::Kit => self.kit.show(ui, desk, palette, reading),
            Page::Shelf => self.shelf.show(ui, desk, palette, reading),
            Page::Settings => settings::show(ui, desk, palette),
        }
    }

    /// Pages that are not in view no longer sound or listen.
    pub fn leave(&mut self, desk: &Desk) {
        if desk.page != Page::Kit {
            self.kit.away(desk);
        }
        if desk.page != Page::Shelf {
            self.shelf.away(desk);
        }
        if desk.page != Page::Bench {
            self.bench.leave();
        }
    }
}
