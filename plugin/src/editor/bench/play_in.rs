//! A cell played in on the keys of a MIDI instrument.

use egui::Ui;

use super::super::desk::Desk;
use super::super::palette::Palette;
use crate::handover::Reading;

/// What the panel keeps between frames.
#[derive(Default)]
pub struct PlayIn {}

impl PlayIn {
    /// Shows the panel in the space that is left.
    pub fn show(&mut self, ui: &mut Ui, desk: &mut Desk, palette: &Palette, reading: &Reading) {
        let _ = (ui, desk, palette, reading);
    }
}
