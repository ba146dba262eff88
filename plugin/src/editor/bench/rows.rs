//! Rows of the page that hold what the other files make: the first row, hearing
//! the cell, the line beneath.

use egui::{DragValue, Label, RichText, Ui};

use super::super::desk::{Desk, Spot};
use super::super::palette::Palette;
use super::{Bench, Beside, strokes};

/// Points for the buttons of a cell as a whole.
const CELL_BUTTONS: f32 = 362.0;

/// Width of the page in points below which those have a row of their own.
const ONE_ROW: f32 = 600.0;

impl Bench {
    /// Letters, the cell as a whole, hearing it.
    pub(super) fn first_row(&mut self, ui: &mut Ui, desk: &mut Desk, palette: &Palette) {
        let mut act = None;
        let one_row = ui.available_width() >= ONE_ROW;
        let buttons = if one_row { CELL_BUTTONS } else { 0.0 };
        ui.horizontal(|ui| {
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                self.beside_buttons(ui);
                ui.separator();
                ui.scope(|ui| {
                    ui.set_min_width(0.0);
                    ui.with_layout(egui::Layout::left_to_right(egui::Align::Center), |ui| {
                        let room = ui.available_width() - buttons;
                        ui.scope(|ui| {
                            ui.set_max_width(room.max(80.0));
                            self.letters.choose(ui, desk, palette);
                        });
                        self.look(desk);
                        if one_row {
                            let known = self.known.clone();
                            act = self.letters.buttons(ui, desk, known.as_deref());
                        }
                    });
                });
            });
        });
        if !one_row {
            let known = self.known.clone();
            ui.horizontal_wrapped(|ui| {
                act = self.letters.buttons(ui, desk, known.as_deref());
            });
        }
        if let Some(act) = act
            && let Some(known) = self.known.clone()
        {
            self.act(act, desk, &known);
        }
    }

    fn beside_buttons(&mut self, ui: &mut Ui) {
        for (beside, name, hint) in [
            (
                Beside::PlayIn,
                "Play in",
                "Plays strokes in from a MIDI instrument, beside the cell",
            ),
            (
                Beside::Tools,
                "Tools",
                "Sticking, playability, variations and more, beside the cell",
            ),
        ] {
            let on = self.beside == beside;
            if strokes::toggle(ui, on, name, name, hint).clicked() {
                self.beside = if on { Beside::Nothing } else { beside };
            }
        }
    }

    /// The cell by itself: the button, tempo, click.
    pub(super) fn hear(&mut self, ui: &mut Ui, desk: &mut Desk) {
        let Some(known) = self.known.clone() else {
            return;
        };
        let on = self.hearing.is_on();
        let text = if on { "Stop" } else { "Loop" };
        let hint = "Loops this cell by itself, as you change it (Ctrl+Space)";
        if strokes::toggle(ui, on, text, "Loop", hint).clicked() {
            self.hearing.toggle(desk, &known);
        }
        let mut bpm = self.hearing.tempo_bpm(desk);
        let drag = DragValue::new(&mut bpm)
            .range(20.0..=400.0)
            .speed(0.5)
            .max_decimals(1)
            .suffix(" bpm");
        let response = ui
            .add(drag)
            .on_hover_text("Tempo of the cell by itself; the form keeps its own. Drag or type")
            .accessible_name("Tempo of the cell");
        if response.changed() {
            self.hearing.set_tempo(bpm);
        }
        let mut click = self.hearing.click();
        let response = ui
            .checkbox(&mut click, "click")
            .on_hover_text("A click on each beat while the cell is heard by itself")
            .accessible_name("Click with the cell");
        if response.changed() {
            self.hearing.set_click(click);
        }
    }

    /// The line beneath: what is wrong, else what is under the pointer, else
    /// what the cell is.
    pub(super) fn said(&self, ui: &mut Ui, desk: &Desk, under: Option<String>, palette: &Palette) {
        let mut wrong: Vec<String> = self.fields.wrong().collect();
        let refused = desk.refused_at(Spot::Bench).map(ToString::to_string);
        wrong.extend(refused);
        for line in &wrong {
            let text = RichText::new(format!("! {line}"))
                .color(palette.error)
                .size(13.0);
            ui.add(Label::new(text).wrap());
        }
        if !wrong.is_empty() {
            return;
        }
        let said = self.doing.said.clone().or(under);
        let about = || self.known.as_ref().map(|known| known.about.clone());
        let text = said.or_else(about).unwrap_or_default();
        let text = RichText::new(text).color(palette.dim).size(13.0);
        ui.add(Label::new(text).truncate());
    }
}
