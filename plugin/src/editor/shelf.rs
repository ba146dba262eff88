//! The ShelfPage: stored cells and forms.

pub(super) mod worker;

use egui::Ui;

use super::desk::Desk;
use super::palette::Palette;
use crate::handover::Reading;

/// What the page keeps between frames.
#[derive(Default)]
pub struct ShelfPage {}

impl ShelfPage {
    /// Shows the page in the space that is left.
    pub fn show(&mut self, ui: &mut Ui, desk: &mut Desk, palette: &Palette, reading: &Reading) {
        let _ = (desk, palette, reading);
        ui.label("ShelfPage");
    }
}
