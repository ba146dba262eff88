//! The window's content: top line, transport, Form strip, and one of the pages.
//!
//! In: the shared session, parameters, what the audio thread publishes. Out:
//! edits to the session, parameter changes to the host. A frame is drawn when
//! something happens; while time runs, some forty times a second.

use std::sync::Arc;
use std::time::Duration;

use egui::{Key, KeyboardShortcut, Modifiers, Panel, RichText, Ui};
use nice_plug::context::gui::GuiContext;

use super::draft::{Draft, Standing};
use super::engraved::Gallery;
use super::files::{Files, Outcome};
use super::hand_on::HandOn;
use super::palette::Palette;
use super::shown::Shown;
use super::strip::{self, View};
use super::widgets::Host;
use super::{cell, settings, text, transport};
use crate::handover::Reading;
use crate::params::{BarformParams, MAX_EDITS};
use crate::state::Theme;

/// Time between frames while time runs.
const FRAME: Duration = Duration::from_millis(24);

/// Time between looks at the host's clock while it stands still.
const IDLE: Duration = Duration::from_millis(250);

/// What is shown under the Form strip.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Page {
    /// The current cell, as large as the window allows.
    Stand,
    /// The current cell and the score text.
    Score,
    /// All parameters.
    Settings,
}

impl Page {
    const ALL: [(Page, &str, Key, &str); 3] = [
        (
            Page::Stand,
            "Stand",
            Key::Num1,
            "The current cell, large, as on a music stand (Ctrl+1)",
        ),
        (
            Page::Score,
            "Score",
            Key::Num2,
            "The score text, checked as you type (Ctrl+2)",
        ),
        (
            Page::Settings,
            "Settings",
            Key::Num3,
            "Every parameter with its unit (Ctrl+3)",
        ),
    ];
}

const OPEN: KeyboardShortcut = KeyboardShortcut::new(Modifiers::COMMAND, Key::O);
const HAND_ON: KeyboardShortcut = KeyboardShortcut::new(Modifiers::COMMAND, Key::E);
const SAVE: KeyboardShortcut = KeyboardShortcut::new(Modifiers::COMMAND, Key::S);
const SAVE_AS: KeyboardShortcut =
    KeyboardShortcut::new(Modifiers::COMMAND.plus(Modifiers::SHIFT), Key::S);

/// Everything the window holds.
pub struct App {
    params: Arc<BarformParams>,
    host: Host,
    page: Page,
    draft: Draft,
    shown: Shown,
    gallery: Gallery,
    /// Loads of the session when `shown` was taken.
    loads: u64,
    view: View,
    files: Files,
    hand_on: HandOn,
    /// What opening another program's file came to, until it is dismissed.
    told: Option<String>,
    theme: Option<Theme>,
}

impl App {
    /// The window of one instance.
    pub fn new(params: Arc<BarformParams>) -> App {
        let session = &params.session;
        App {
            host: Host::default(),
            page: Page::Score,
            draft: Draft::new(session),
            shown: Shown::of(session.checked()),
            gallery: Gallery::default(),
            loads: session.loads(),
            view: View::default(),
            files: Files::default(),
            hand_on: HandOn::default(),
            told: None,
            theme: None,
            params,
        }
    }

    /// The way to the host, once the window is open.
    pub fn connect(&mut self, context: GuiContext) {
        self.host = Host::new(context);
    }

    /// Whether text is being checked: its outcome comes with a later frame.
    pub fn is_checking(&self) -> bool {
        self.draft.standing() == Standing::Checking
    }

    /// Draws one frame.
    pub fn show(&mut self, ui: &mut Ui) {
        let params = self.params.clone();
        let palette = self.dress(ui);
        self.tick(ui);
        let reading = params.session.live.read();

        Panel::top("top").show(ui, |ui| self.top(ui, palette));
        self.notice(ui, palette);
        Panel::top("transport").show(ui, |ui| {
            ui.add_space(3.0);
            let wish = transport::show(ui, &params, &mut self.host, &self.shown, &reading, palette);
            if wish == Some(transport::Wish::ToStart) {
                params.session.live.locate(0.0);
            }
            ui.add_space(3.0);
        });
        let can_locate = transport::can_locate(&params, &reading);
        Panel::top("strip").show(ui, |ui| {
            ui.add_space(2.0);
            let input = strip::Input {
                palette,
                position_beats: reading.position_beats,
                rolling: reading.rolling,
                can_locate,
            };
            if let Some(beats) = strip::show(ui, &mut self.view, &self.shown, &input) {
                params.session.live.locate(beats);
            }
            ui.add_space(2.0);
        });
        match self.page {
            Page::Stand => {
                egui::CentralPanel::default().show(ui, |ui| self.cell(ui, &reading, palette));
            }
            Page::Score => self.score(ui, &reading, palette),
            Page::Settings => {
                egui::CentralPanel::default().show(ui, |ui| {
                    let prefs = params.session.prefs();
                    let changed = settings::show(ui, &params, &mut self.host, palette, prefs);
                    if let Some(prefs) = changed {
                        params.session.set_prefs(prefs);
                    }
                });
            }
        }
        self.file_panel(ui, palette);
        let pause = if reading.rolling { FRAME } else { IDLE };
        ui.ctx().request_repaint_after(pause);
    }

    /// Colours, when the theme changes.
    fn dress(&mut self, ui: &mut Ui) -> &'static Palette {
        let theme = self.params.session.prefs().theme;
        let palette = Palette::of(theme);
        if self.theme != Some(theme) {
            self.theme = Some(theme);
            let base = match theme {
                Theme::Dark => egui::Theme::Dark,
                Theme::Light => egui::Theme::Light,
            };
            ui.ctx().set_theme(base);
            ui.ctx().set_visuals_of(base, palette.visuals(theme));
            ui.ctx().all_styles_mut(|style| {
                use egui::{FontFamily, FontId, TextStyle};
                for (kind, size, family) in [
                    (TextStyle::Body, 14.0, FontFamily::Proportional),
                    (TextStyle::Button, 14.0, FontFamily::Proportional),
                    (TextStyle::Small, 12.0, FontFamily::Proportional),
                    (TextStyle::Monospace, 14.0, FontFamily::Monospace),
                ] {
                    style.text_styles.insert(kind, FontId::new(size, family));
                }
                style.spacing.item_spacing = egui::vec2(8.0, 5.0);
                style.spacing.button_padding = egui::vec2(8.0, 3.0);
                style.spacing.slider_width = 150.0;
                style.spacing.menu_margin = egui::Margin::same(10);
            });
            let style = ui.ctx().style_of(base);
            ui.set_style(style);
        }
        palette
    }

    /// Checks, accepted scores, sessions loaded by the host, freed timelines.
    fn tick(&mut self, ui: &Ui) {
        let session = &self.params.session;
        let now_s = ui.input(|i| i.time);
        let wake = {
            let ctx = ui.ctx().clone();
            move || ctx.request_repaint()
        };
        if self.loads != session.loads() {
            self.loads = session.loads();
            self.shown = Shown::of(session.checked());
            self.gallery.clear();
        }
        if let Some(checked) = self.draft.tick(session, now_s, wake) {
            self.shown = Shown::of(checked);
            self.gallery.clear();
            // The host learns that there is something to save.
            let edits = self.params.edits.value();
            self.host.set(&self.params.edits, (edits + 1) % MAX_EDITS);
        }
        if let Some(due) = self.draft.due_in(now_s) {
            ui.ctx().request_repaint_after(Duration::from_secs_f64(due));
        }
        session.prune();
    }

    fn top(&mut self, ui: &mut Ui, palette: &Palette) {
        ui.add_space(4.0);
        ui.horizontal(|ui| {
            let title = &self.shown.checked.timeline.title;
            let title = if title.is_empty() { "Untitled" } else { title };
            let text = RichText::new(title).size(18.0).color(palette.ink);
            ui.add(egui::Label::new(text).truncate())
                .on_hover_text("The score's title");
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                for (page, name, key, hint) in Page::ALL.iter().rev() {
                    let shortcut = KeyboardShortcut::new(Modifiers::COMMAND, *key);
                    let pressed = ui.input_mut(|i| i.consume_shortcut(&shortcut));
                    let response = ui.selectable_label(self.page == *page, *name);
                    if response.on_hover_text(*hint).clicked() || pressed {
                        self.page = *page;
                    }
                }
                ui.separator();
                self.file_buttons(ui, palette);
            });
        });
        ui.add_space(4.0);
    }

    fn file_buttons(&mut self, ui: &mut Ui, palette: &Palette) {
        let session = self.params.session.clone();
        let file = session.file();
        let pressed = |ui: &Ui, shortcut| ui.input_mut(|i| i.consume_shortcut(shortcut));
        // The shortcut with Shift first: the plain one would match it too.
        let save_as_key = pressed(ui, &SAVE_AS);
        let save_key = pressed(ui, &SAVE);
        let open_key = pressed(ui, &OPEN);
        let hand_on_key = pressed(ui, &HAND_ON);
        let hand_on = ui
            .button("Hand on…")
            .on_hover_text("As a sheet, a hand-out, MusicXML, MIDI or sound (Ctrl+E)");
        if hand_on.clicked() || hand_on_key {
            let title = &self.shown.checked.timeline.title;
            self.hand_on.ask(file.as_deref(), title);
        }
        let save_as = ui
            .button("Save as…")
            .on_hover_text("Under another name (Ctrl+Shift+S)");
        let save = ui
            .button("Save")
            .on_hover_text("Writes the score text to its file (Ctrl+S)");
        let open = ui.button("Open…").on_hover_text(
            "Reads a .barform file, or makes a score of a MIDI or MusicXML file (Ctrl+O)",
        );
        if save_as.clicked() || save_as_key {
            self.files.ask_save_as(file.as_deref());
        } else if save.clicked() || save_key {
            let outcome = self.files.save(file.as_deref(), &self.draft.text);
            self.take(outcome);
        } else if open.clicked() || open_key {
            self.files.ask_open(file.as_deref());
        }
        let text = match &file {
            None => "no file".to_owned(),
            Some(file) => {
                let name = std::path::Path::new(file).file_name();
                let name = name.map_or(file.clone(), |n| n.to_string_lossy().into_owned());
                if self.files.is_saved(file, &self.draft.text) {
                    name
                } else {
                    format!("{name} (not saved)")
                }
            }
        };
        let hint = file.unwrap_or_else(|| {
            "The score is kept in the host's session. Save it to have it as a file too.".to_owned()
        });
        ui.add(egui::Label::new(RichText::new(text).color(palette.dim)).truncate())
            .on_hover_text(hint);
    }

    fn file_panel(&mut self, ui: &mut Ui, palette: &Palette) {
        let outcome = self.files.show(ui, palette, &self.draft.text);
        self.take(outcome);
        self.hand_on.show(ui, palette, &self.shown.checked);
    }

    fn take(&mut self, outcome: Option<Outcome>) {
        match outcome {
            Some(Outcome::Saved(file)) => self.params.session.set_file(Some(file)),
            Some(Outcome::Read(text, told)) => {
                self.params.session.set_file(None);
                self.told = Some(told);
                self.draft.replace(text);
            }
            Some(Outcome::Opened(file, text)) => {
                self.params.session.set_file(Some(file));
                self.draft.replace(text);
            }
            None => {}
        }
    }

    /// Why a stored session was refused, until it is dismissed.
    fn notice(&mut self, ui: &mut Ui, palette: &Palette) {
        if let Some(told) = &self.told {
            let understood = Panel::top("told").show(ui, |ui| {
                ui.label(RichText::new(told).color(palette.ink));
                ui.button("Understood").clicked()
            });
            if understood.inner {
                self.told = None;
            }
        }
        let session = &self.params.session;
        let Some(notice) = session.notice() else {
            return;
        };
        Panel::top("notice").show(ui, |ui| {
            ui.horizontal_wrapped(|ui| {
                ui.label(RichText::new(notice).color(palette.error));
                if ui.button("Understood").clicked() {
                    session.dismiss_notice();
                }
            });
        });
    }

    fn score(&mut self, ui: &mut Ui, reading: &Reading, palette: &Palette) {
        let height = ui.available_height();
        Panel::top("cell")
            .resizable(true)
            .default_size((height * 0.5).max(200.0))
            .size_range(180.0..=(height - 140.0).max(181.0))
            .show(ui, |ui| self.cell(ui, reading, palette));
        egui::CentralPanel::default().show(ui, |ui| {
            if text::show(ui, &mut self.draft, palette) {
                self.draft.edited(ui.input(|i| i.time));
            }
        });
    }

    /// The cell that plays, or the one a key plays, or the first.
    fn cell(&mut self, ui: &mut Ui, reading: &Reading, palette: &Palette) {
        let timeline = &self.shown.checked.timeline;
        let by_form = reading
            .position_beats
            .and_then(|beats| timeline.place_at(beats));
        let by_key = reading.letter.and_then(|letter| {
            timeline
                .places
                .iter()
                .position(|p| p.letter as usize == letter)
        });
        let place = by_key.or(by_form).unwrap_or(0);
        let start = timeline.places.get(place).map_or(0.0, |p| p.start.to_f64());
        let at_start = reading.position_beats == Some(0.0) && !reading.rolling;
        let into = reading
            .position_beats
            .filter(|_| by_key.is_none() && by_form.is_some() && !at_start)
            .map(|beats| beats - start);
        let next = by_form
            .or(Some(0))
            .filter(|_| by_key.is_none())
            .and_then(|place| self.shown.next_place(place, self.params.repeat.value()));
        let input = cell::Input {
            palette,
            place,
            into_beats: into,
            next: if by_key.is_some() { by_form } else { next },
            by_key: by_key.is_some(),
        };
        cell::show(ui, &mut self.gallery, &self.shown, &input);
    }
}
