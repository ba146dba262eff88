//! The Bench: one cell, to be edited.
//!
//! `letters` chooses the cell, `strokes` and `beats` are the buttons, `keys`
//! the keys, `act` is what all of them do; `staff` shows the cell on its
//! `plate` and reads clicks; `lines` is the cell as text; `whole` makes, names
//! and deletes cells; `hearing` plays one.

mod act;
mod beats;
mod hearing;
mod keys;
mod known;
mod letters;
mod lines;
mod plate;
mod play_in;
mod regrid;
mod rows;
mod staff;
mod stroke;
mod strokes;
mod tools;
mod whole;

use std::sync::Arc;
use std::time::Duration;

use barform_app::music::Grid;
use egui::{Panel, RichText, ScrollArea, Ui};

use super::desk::Desk;
use super::palette::Palette;
use act::Doing;
use keys::Wish;
use known::Known;
use lines::{Fields, Line, Setting};
use staff::Staff;

/// Time between frames while the cell is heard.
const FRAME: Duration = Duration::from_millis(24);

/// Width of the page in points below which its rows are set closer.
const NARROW: f32 = 850.0;

/// Least height of the staff in points; where even this is not left, the page
/// scrolls.
const LEAST_STAFF_ROOM: f32 = 104.0;

/// What is shown beside the cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Beside {
    #[default]
    Nothing,
    Tools,
    PlayIn,
}

/// What the page keeps between frames.
#[derive(Default)]
pub struct Bench {
    tools: tools::Tools,
    play_in: play_in::PlayIn,
    beside: Beside,
    letters: letters::Letters,
    staff: Staff,
    fields: Fields,
    doing: Doing,
    hearing: hearing::Hearing,
    known: Option<Arc<Known>>,
    /// Height of all rows but the staff, as it was last frame.
    rows_height: f32,
}

impl Bench {
    /// Shows the page in the space that is left.
    pub fn show(&mut self, ui: &mut Ui, desk: &mut Desk, palette: &Palette) {
        self.look(desk);
        if std::mem::take(&mut desk.called) {
            ui.memory_mut(|m| m.request_focus(Staff::id()));
        }
        self.keyed(ui, desk);
        self.beside(ui, desk, palette);
        // In a narrow window, too, its rows are one line each.
        let close = if ui.available_width() < NARROW {
            3.0
        } else {
            5.0
        };
        ui.spacing_mut().item_spacing = egui::vec2(close, 3.0);
        ui.spacing_mut().button_padding = egui::vec2(close, 1.0);
        ui.spacing_mut().interact_size.y = 21.0;
        let height = ui.available_height();
        let staff = (height - self.rows_height).floor();
        if staff >= LEAST_STAFF_ROOM || self.rows_height == 0.0 {
            self.page(ui, desk, palette, staff.max(LEAST_STAFF_ROOM));
        } else {
            ScrollArea::vertical()
                .id_salt("bench page")
                .auto_shrink(false)
                .show(ui, |ui| self.page(ui, desk, palette, LEAST_STAFF_ROOM));
        }
        self.look(desk);
        self.letters.ask(ui, desk, self.known.as_deref(), palette);
        if self.hearing.is_on() {
            ui.ctx().request_repaint_after(FRAME);
        }
    }

    /// Another page is in view: nothing is heard from here.
    pub fn leave(&mut self) {
        self.hearing.stop();
        self.tools.leave();
        self.play_in.leave();
    }

    /// Whether keys are strokes that are played in.
    pub fn takes_keys(&self) -> bool {
        self.play_in.takes_keys()
    }

    /// Puts back lines that do not make sense; whether there were any. They are
    /// newer than any step that undo could take back.
    pub fn give_up_lines(&mut self, desk: &Desk) -> bool {
        self.look(desk);
        match &self.known {
            Some(known) => self.fields.give_up(known),
            None => false,
        }
    }

    /// What is known of the cell is worked out anew where the score or the
    /// choice has changed.
    fn look(&mut self, desk: &Desk) {
        let owner = desk.owner();
        let fits = |known: &Arc<Known>| {
            known.stamp == desk.stamp() && Some(&known.owner) == owner.as_ref()
        };
        if !self.known.as_ref().is_some_and(fits) {
            self.known = Known::of(desk).map(Arc::new);
        }
        if let Some(known) = &self.known {
            self.fields.follow(known);
            self.hearing.follow(desk, known);
        } else {
            self.hearing.stop();
        }
    }

    fn keyed(&mut self, ui: &Ui, desk: &mut Desk) {
        if self.play_in.takes_keys() {
            return;
        }
        for wish in keys::read(ui, Staff::id(), ui.max_rect()) {
            match (wish, self.known.clone()) {
                (Wish::Paste(text), _) => whole::paste(desk, text),
                (_, None) => {}
                (Wish::Act(act), Some(known)) => self.act(act, desk, &known),
                (Wish::Hear, Some(known)) => self.hearing.toggle(desk, &known),
                (Wish::Copy, Some(known)) => whole::copy(ui, desk, &known),
                (Wish::Cut, Some(known)) => whole::cut(ui, desk, &known),
            }
            self.look(desk);
        }
    }

    fn act(&mut self, act: act::Act, desk: &mut Desk, known: &Known) {
        if self.doing.act(act, desk, known) {
            self.fields.retry(desk, self.doing.way);
        }
    }

    /// Tools or playing in, to the right.
    fn beside(&mut self, ui: &mut Ui, desk: &mut Desk, palette: &Palette) {
        // What is out of sight is not heard.
        if self.beside != Beside::Tools {
            self.tools.leave();
        }
        if self.beside != Beside::PlayIn {
            self.play_in.leave();
        }
        if self.beside == Beside::Nothing {
            return;
        }
        // One thing at a time: what was begun last.
        if self.hearing.is_on() {
            self.tools.give_way();
            self.play_in.give_way();
        }
        let bpm = self.hearing.tempo_bpm(desk);
        self.tools.set_tempo(bpm);
        self.play_in.set_tempo(bpm);
        self.play_in.set_setup(self.tools.setup());
        let most = (ui.available_width() * 0.5).max(260.0);
        Panel::right("bench beside")
            .resizable(true)
            .default_size(290.0)
            .size_range(240.0..=most)
            .show(ui, |ui| match self.beside {
                Beside::Tools => self.tools.show(ui, desk, palette),
                _ => self.play_in.show(ui, desk, palette),
            });
        if self.tools.is_heard() || self.play_in.is_running() {
            self.hearing.let_go();
        }
        self.look(desk);
    }

    fn page(&mut self, ui: &mut Ui, desk: &mut Desk, palette: &Palette, staff: f32) {
        let top = ui.cursor().top();
        self.first_row(ui, desk, palette);
        self.look(desk);
        let Some(known) = self.known.clone() else {
            empty(ui, desk, palette);
            return;
        };
        let mut act = None;
        ui.horizontal_wrapped(|ui| {
            act = strokes::show(ui, desk, &known, &self.doing, palette);
            ui.add_space(8.0);
            self.hear(ui, desk);
        });
        let above = ui.cursor().top();
        let slot = self.hearing.slot(&known);
        let mut under = None;
        let width = ui.available_width();
        ui.allocate_ui(egui::vec2(width, staff), |ui| {
            ui.set_min_size(egui::vec2(width, staff));
            let (clicked, told) = self
                .staff
                .show(ui, desk, &known, &self.doing, slot, palette);
            act = act.or(clicked);
            under = told;
        });
        let below = ui.cursor().top();
        let mut typed = false;
        ui.horizontal_wrapped(|ui| {
            let (pressed, grid) =
                beats::show(ui, &mut self.fields, desk, &known, &mut self.doing, palette);
            act = act.or(pressed);
            typed = grid;
        });
        if typed {
            self.fields.retry(desk, self.doing.way);
        }
        for line in [Line::Sticking, Line::Voices] {
            self.look(desk);
            let Some(known) = self.known.clone() else {
                return;
            };
            ui.horizontal(|ui| {
                let setting = Setting {
                    known: &known,
                    palette,
                    way: self.doing.way,
                };
                let line = (line, f32::INFINITY);
                typed |= self.fields.show(ui, desk, line, &setting);
            });
        }
        if typed {
            self.doing.onward = false;
            self.doing.said = None;
        }
        self.look(desk);
        self.said(ui, desk, under, palette);
        let rows = (above - top) + (ui.cursor().top() - below);
        if (rows - self.rows_height).abs() > 0.5 {
            ui.ctx().request_repaint();
        }
        self.rows_height = rows;
        if let Some(act) = act
            && let Some(known) = self.known.clone()
        {
            self.act(act, desk, &known);
        }
    }
}

/// Nothing to edit yet.
fn empty(ui: &mut Ui, desk: &mut Desk, palette: &Palette) {
    ui.add_space(20.0);
    ui.vertical_centered(|ui| {
        ui.label(RichText::new("No cell yet").size(18.0).color(palette.ink));
        ui.label("A cell is a beat or two of strokes with a letter. Make one, then click on its staff or type R and L.");
        ui.add_space(6.0);
        if ui.button("Make the first cell").clicked() {
            whole::new_cell(desk, Grid::per_beat(4));
        }
    });
}
