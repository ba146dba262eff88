//! The Bench: one cell, to be edited.

mod play_in;
mod tools;

use egui::Ui;

use super::desk::Desk;
use super::palette::Palette;
use crate::handover::Reading;

/// What the page keeps between frames.
#[derive(Default)]
pub struct Bench {
    tools: tools::Tools,
    play_in: play_in::PlayIn,
}

impl Bench {
    /// Shows the page in the space that is left.
    pub fn show(&mut self, ui: &mut Ui, desk: &mut Desk, palette: &Palette, reading: &Reading) {
        self.tools.show(ui, desk, palette, reading);
        self.play_in.show(ui, desk, palette, reading);
    }
}
