//! The window's content: top line, transport, Form strip, and one of the pages;
//! or the Stand alone in the full window.
//!
//! A frame is drawn when something happens (the session's `window` tells of
//! what happens elsewhere); while time runs, some forty times a second.

mod dress;
pub(super) mod scale;
mod top;

use std::sync::Arc;
use std::time::Duration;

use barform_app::shelf::Folders;
use egui::{Panel, RichText, Ui, UiBuilder};
use nice_plug::context::gui::GuiContext;
use nice_plug_egui::KeyCapture;

use super::desk::{Desk, Spot};
use super::export::ExportPanel;
use super::files::{Files, Outcome};
use super::host_keys::{HostKeys, Stroke};
use super::pages::{Page, Pages};
use super::palette::Palette;
use super::strip::{self, Strip};
use super::widgets::Host;
use super::{host_keys, keys, signs, transport};
use crate::handover::Reading;
use crate::params::BarformParams;
use crate::state::Theme;
use barform_app::session::Standing;

/// Time between frames while time runs.
const FRAME: Duration = Duration::from_millis(24);

/// Points that every page fits into.
const ROOM: egui::Vec2 = egui::vec2(800.0, 500.0);

/// Height of the window in points below which its lines stand closer together.
const TIGHT: f32 = 540.0;

/// Height of the window in points below which the strip has no tools on the
/// Stand.
const LOW: f32 = 640.0;

/// Everything the window holds.
pub struct App {
    desk: Desk,
    pages: Pages,
    strip: Strip,
    files: Files,
    export: ExportPanel,
    /// The list of keys is open.
    keys: bool,
    host_keys: HostKeys,
    /// What opening another program's file came to, until it is dismissed.
    told: Option<String>,
    theme: Option<Theme>,
}

impl App {
    /// The window of one instance, with the user's own data folder.
    pub fn new(params: Arc<BarformParams>) -> App {
        App::with_folders(params, Folders::of_user().ok())
    }

    /// The window of one instance with a data folder, or without one.
    pub fn with_folders(params: Arc<BarformParams>, folders: Option<Folders>) -> App {
        App {
            files: Files::of_user(folders.as_ref()),
            desk: Desk::new(params, folders),
            pages: Pages::default(),
            strip: Strip::default(),
            export: ExportPanel::default(),
            keys: false,
            host_keys: HostKeys::default(),
            told: None,
            theme: None,
        }
    }

    /// What the pages work on.
    pub fn desk(&self) -> &Desk {
        &self.desk
    }

    /// What the pages work on, to be changed.
    pub fn desk_mut(&mut self) -> &mut Desk {
        &mut self.desk
    }

    /// The way to the host, once the window is open.
    pub fn connect(&mut self, context: GuiContext) {
        self.desk.host = Host::new(context);
    }

    /// Whether text is being checked: its outcome comes with a later frame.
    pub fn is_checking(&self) -> bool {
        self.desk.typed.standing() == Standing::Checking
    }

    /// Draws one frame.
    pub fn show(&mut self, ui: &mut Ui) {
        let palette = self.dress(ui);
        signs::complete(ui);
        self.tick(ui);
        self.scale(ui);
        let reading = self.desk.params.session.live.read();
        self.host_keys(ui, &reading);
        let on_stand = self.desk.page == Page::Stand;
        if on_stand && !self.is_asking() {
            self.pages.stand.keys(ui, self.desk.now_s);
        }
        if on_stand && self.pages.stand.is_full() {
            self.stand_alone(ui, palette, &reading);
        } else {
            self.travel(ui);
            let room = ui.available_size();
            if room.x < ROOM.x - 0.5 || room.y < ROOM.y - 0.5 {
                // A small screen, or a large scale: everything can be reached.
                egui::ScrollArea::both().show(ui, |ui| {
                    let (rect, _) = ui.allocate_exact_size(room.max(ROOM), egui::Sense::hover());
                    let mut ui = ui.new_child(UiBuilder::new().max_rect(rect));
                    self.all(&mut ui, palette, &reading);
                });
            } else {
                self.all(ui, palette, &reading);
            }
        }
        self.pages.leave(&self.desk);
        let writing = self.is_writing(ui);
        self.host_keys.end(ui, writing);
        if reading.rolling || self.desk.session().audition.is_playing() {
            ui.ctx().request_repaint_after(FRAME);
        }
    }

    /// Whether keys write: into a text field, or strokes that are played in.
    fn is_writing(&self, ui: &Ui) -> bool {
        let plays = self.desk.page == Page::Bench && self.pages.bench.takes_keys();
        plays || ui.ctx().text_edit_focused()
    }

    /// The keys of the clock that rules, before a widget sees them: with the
    /// host's, the space bar is the host's.
    fn host_keys(&mut self, ui: &Ui, reading: &Reading) {
        let writing = self.is_writing(ui);
        let params = self.desk.params.clone();
        let host = &mut self.desk.host;
        let wish = transport::keys(ui, &params, host, reading, writing);
        if wish == Some(transport::Wish::ToStart) {
            params.session.live.locate(0.0);
        }
        self.host_keys
            .begin(ui, !writing && !transport::is_own(reading));
    }

    /// Keys that nobody here has a use for, since the last call.
    pub fn keys_for_host(&mut self) -> Vec<Stroke> {
        self.host_keys.drain()
    }

    /// Which keys the library is to keep from the host, where it asks.
    pub fn key_capture(&self, ui: &Ui) -> KeyCapture {
        let own = transport::is_own(&self.desk.params.session.live.read());
        let in_strip = ui.memory(|m| m.has_focus(strip::id()));
        host_keys::capture(self.desk.page, in_strip, !own, self.is_writing(ui))
    }

    /// Whether a panel is open over the page.
    fn is_asking(&self) -> bool {
        self.keys || self.files.is_open() || self.export.is_open()
    }

    /// The Stand in the full window: nothing to click.
    fn stand_alone(&mut self, ui: &mut Ui, palette: &Palette, reading: &Reading) {
        let height = ui.available_height();
        egui::CentralPanel::no_frame().show(ui, |ui| {
            self.pages
                .stand
                .show(ui, &mut self.desk, palette, reading, height);
        });
    }

    /// The whole window.
    fn all(&mut self, ui: &mut Ui, palette: &Palette, reading: &Reading) {
        let params = self.desk.params.clone();
        let height = ui.available_height();
        let air = if height < TIGHT { 0.25 } else { 1.0 };
        Panel::top("top").show(ui, |ui| {
            ui.add_space(4.0 * air);
            self.top(ui, palette);
            ui.add_space(4.0 * air);
        });
        self.notice(ui, palette);
        Panel::top("transport").show(ui, |ui| {
            ui.add_space(3.0 * air);
            let Desk { host, shown, .. } = &mut self.desk;
            let wish = transport::show(ui, &params, host, shown, reading, palette);
            if wish == Some(transport::Wish::ToStart) {
                params.session.live.locate(0.0);
            }
            ui.add_space(3.0 * air);
        });
        let can_locate = transport::can_locate(&params, reading);
        Panel::top("strip").show(ui, |ui| {
            ui.add_space(2.0 * air);
            let input = strip::Input {
                palette,
                position_beats: reading.position_beats,
                rolling: reading.rolling,
                can_locate,
                // In a low window the Stand's letter needs the room.
                tools: self.desk.page != Page::Stand || height >= LOW,
            };
            if let Some(beats) = self.strip.show(ui, &mut self.desk, &input) {
                params.session.live.locate(beats);
            }
            ui.add_space(2.0 * air);
        });
        self.said(ui, palette);
        let Self { pages, desk, .. } = self;
        if desk.page == Page::Score {
            // It has panels of its own.
            pages.show(ui, desk, palette, reading, height);
        } else {
            let frame = egui::Frame::central_panel(ui.style());
            let margin = frame.inner_margin;
            let frame = frame.inner_margin(egui::Margin {
                top: (f32::from(margin.top) * air) as i8,
                bottom: (f32::from(margin.bottom) * air) as i8,
                ..margin
            });
            let panel = egui::CentralPanel::default().frame(frame);
            panel.show(ui, |ui| pages.show(ui, desk, palette, reading, height));
        }
        self.file_panel(ui, palette);
        keys::show(ui, palette, &mut self.keys);
    }

    /// What the last action did beyond what was asked, or why the top line's
    /// could not be done.
    fn said(&mut self, ui: &mut Ui, palette: &Palette) {
        let refused = self.desk.refused_at(Spot::Top).map(ToString::to_string);
        if self.desk.told().is_empty() && refused.is_none() {
            return;
        }
        Panel::bottom("said").show(ui, |ui| {
            ui.add_space(3.0);
            ui.horizontal(|ui| {
                let close = ui.button("Dismiss").on_hover_text("Dismisses this line");
                let (text, colour) = match refused {
                    Some(refused) => (refused, palette.error),
                    None => (self.desk.told().join("  "), palette.ink),
                };
                let text = RichText::new(&text).color(colour);
                ui.add(egui::Label::new(text).wrap());
                if close.clicked() {
                    self.desk.dismiss();
                }
            });
            ui.add_space(3.0);
        });
    }

    /// Undo and redo by key. While text that does not play is typed, the keys
    /// are the text field's.
    fn travel(&mut self, ui: &Ui) {
        let typing = self.desk.page == Page::Score
            && self.desk.typed.standing() != Standing::Plays
            && ui.memory(|m| m.focused().is_some());
        if typing {
            return;
        }
        // The shortcut with Shift first: the plain one would match it too.
        let pressed = |shortcut| ui.input_mut(|i| i.consume_shortcut(shortcut));
        if keys::REDO.iter().any(pressed) {
            self.desk.redo();
        } else if pressed(&keys::UNDO) {
            self.undo();
        }
    }

    /// Takes the last step back; what is typed on the Bench and does not make
    /// sense yet is newer than any step.
    fn undo(&mut self) {
        if self.desk.page == Page::Bench && self.pages.bench.give_up_lines(&self.desk) {
            self.desk
                .tell("The line that did not make sense was put back.");
        } else {
            self.desk.undo();
        }
    }

    /// Checks, accepted scores, sessions loaded by the host, freed timelines.
    fn tick(&mut self, ui: &Ui) {
        let now_s = ui.input(|i| i.time);
        let ctx = ui.ctx().clone();
        self.desk.tick(now_s, move || ctx.request_repaint());
        if let Some(due) = self.desk.typed.due_in(now_s) {
            ui.ctx().request_repaint_after(Duration::from_secs_f64(due));
        }
    }

    fn file_panel(&mut self, ui: &mut Ui, palette: &Palette) {
        let outcome = self.files.show(ui, palette, &self.desk.typed.text);
        self.take(outcome);
        self.export.show(ui, palette, &self.desk.shown.checked);
    }

    fn take(&mut self, outcome: Option<Outcome>) {
        match outcome {
            Some(Outcome::Saved(file)) => self.desk.params.session.set_file(Some(file)),
            Some(Outcome::Read(text, told)) => {
                self.desk.params.session.set_file(None);
                self.told = Some(told);
                self.desk.typed.replace(text, "Reading a file");
            }
            Some(Outcome::Opened(file, text)) => {
                self.desk.params.session.set_file(Some(file));
                self.desk.typed.replace(text, "Opening a file");
            }
            None => {}
        }
    }

    /// Why a stored session was refused, until it is dismissed.
    fn notice(&mut self, ui: &mut Ui, palette: &Palette) {
        if let Some(told) = &self.told {
            let understood = Panel::top("told").show(ui, |ui| {
                ui.label(RichText::new(told).color(palette.ink));
                ui.button("OK").clicked()
            });
            if understood.inner {
                self.told = None;
            }
        }
        let session = &self.desk.params.session;
        let Some(notice) = session.notice() else {
            return;
        };
        Panel::top("notice").show(ui, |ui| {
            ui.horizontal_wrapped(|ui| {
                ui.label(RichText::new(notice).color(palette.error));
                if ui.button("OK").clicked() {
                    session.dismiss_notice();
                }
            });
        });
    }
}
