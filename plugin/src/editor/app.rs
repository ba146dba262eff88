//! The window's content: top line, transport, Form strip, and one of the pages.
//!
//! In: the shared session, parameters, what the audio thread publishes. Out:
//! edits to the session, parameter changes to the host. A frame is drawn when
//! something happens; while time runs, some forty times a second.

use std::sync::Arc;
use std::time::Duration;

use barform_core::shelf::Folders;
use egui::{Key, KeyboardShortcut, Modifiers, Panel, RichText, Ui};
use nice_plug::context::gui::GuiContext;

use super::bench::Bench;
use super::desk::{Desk, Page, Spot};
use super::draft::Standing;
use super::files::{Files, Outcome};
use super::hand_on::HandOn;
use super::kit::KitPage;
use super::palette::Palette;
use super::shelf::ShelfPage;
use super::strip::{self, Strip};
use super::widgets::Host;
use super::{settings, stand, text, transport};
use crate::handover::Reading;
use crate::params::BarformParams;
use crate::state::Theme;

/// Time between frames while time runs.
const FRAME: Duration = Duration::from_millis(24);

/// Time between looks at the host's clock while it stands still.
const IDLE: Duration = Duration::from_millis(250);

/// Pages in the order of their keys: name, key, hint.
const PAGES: [(Page, &str, Key, &str); 6] = [
    (
        Page::Stand,
        "Stand",
        Key::Num1,
        "What plays, large, as on a music stand (Ctrl+1)",
    ),
    (
        Page::Bench,
        "Bench",
        Key::Num2,
        "One cell: strokes, sticking, grid (Ctrl+2)",
    ),
    (
        Page::Score,
        "Score",
        Key::Num3,
        "The score text, checked as you type (Ctrl+3)",
    ),
    (
        Page::Kit,
        "Kit",
        Key::Num4,
        "Which key each voice of the kit plays (Ctrl+4)",
    ),
    (
        Page::Shelf,
        "Shelf",
        Key::Num5,
        "Cells and forms kept for other scores (Ctrl+5)",
    ),
    (
        Page::Settings,
        "Settings",
        Key::Num6,
        "Every parameter with its unit (Ctrl+6)",
    ),
];

const UNDO: KeyboardShortcut = KeyboardShortcut::new(Modifiers::COMMAND, Key::Z);
const REDO: KeyboardShortcut =
    KeyboardShortcut::new(Modifiers::COMMAND.plus(Modifiers::SHIFT), Key::Z);
const OPEN: KeyboardShortcut = KeyboardShortcut::new(Modifiers::COMMAND, Key::O);
const HAND_ON: KeyboardShortcut = KeyboardShortcut::new(Modifiers::COMMAND, Key::E);
const SAVE: KeyboardShortcut = KeyboardShortcut::new(Modifiers::COMMAND, Key::S);
const SAVE_AS: KeyboardShortcut =
    KeyboardShortcut::new(Modifiers::COMMAND.plus(Modifiers::SHIFT), Key::S);

/// Everything the window holds.
pub struct App {
    desk: Desk,
    bench: Bench,
    kit: KitPage,
    shelf: ShelfPage,
    strip: Strip,
    files: Files,
    hand_on: HandOn,
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
            bench: Bench::default(),
            kit: KitPage::default(),
            shelf: ShelfPage::default(),
            strip: Strip::default(),
            hand_on: HandOn::default(),
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
        self.desk.draft.standing() == Standing::Checking
    }

    /// Draws one frame.
    pub fn show(&mut self, ui: &mut Ui) {
        let params = self.desk.params.clone();
        let palette = self.dress(ui);
        self.tick(ui);
        self.travel(ui);
        let reading = params.session.live.read();

        Panel::top("top").show(ui, |ui| self.top(ui, palette));
        self.notice(ui, palette);
        Panel::top("transport").show(ui, |ui| {
            ui.add_space(3.0);
            let Desk { host, shown, .. } = &mut self.desk;
            let wish = transport::show(ui, &params, host, shown, &reading, palette);
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
            if let Some(beats) = self.strip.show(ui, &mut self.desk, &input) {
                params.session.live.locate(beats);
            }
            ui.add_space(2.0);
        });
        self.said(ui, palette);
        if self.desk.page != Page::Kit {
            self.kit.away(&self.desk);
        }
        if self.desk.page != Page::Shelf {
            self.shelf.away(&self.desk);
        }
        match self.desk.page {
            Page::Score => self.score(ui, &reading, palette),
            page => {
                egui::CentralPanel::default().show(ui, |ui| match page {
                    Page::Stand => stand::show(ui, &mut self.desk, palette, &reading),
                    Page::Bench => self.bench.show(ui, &mut self.desk, palette, &reading),
                    Page::Kit => self.kit.show(ui, &mut self.desk, palette, &reading),
                    Page::Shelf => self.shelf.show(ui, &mut self.desk, palette, &reading),
                    Page::Settings | Page::Score => self.settings(ui, palette),
                });
            }
        }
        if self.desk.page != Page::Bench {
            self.bench.leave();
        }
        self.file_panel(ui, palette);
        let pause = if reading.rolling { FRAME } else { IDLE };
        ui.ctx().request_repaint_after(pause);
    }

    fn settings(&mut self, ui: &mut Ui, palette: &Palette) {
        let params = self.desk.params.clone();
        let prefs = params.session.prefs();
        let changed = settings::show(ui, &params, &mut self.desk.host, palette, prefs);
        if let Some(prefs) = changed {
            params.session.set_prefs(prefs);
        }
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
                let close = ui.button("Dismiss").on_hover_text("Takes this line away");
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
            && self.desk.draft.standing() != Standing::Plays
            && ui.memory(|m| m.focused().is_some());
        if typing {
            return;
        }
        // The shortcut with Shift first: the plain one would match it too.
        let other = KeyboardShortcut::new(Modifiers::COMMAND, Key::Y);
        let pressed = |shortcut| ui.input_mut(|i| i.consume_shortcut(shortcut));
        if pressed(&REDO) || pressed(&other) {
            self.desk.redo();
        } else if pressed(&UNDO) {
            self.undo();
        }
    }

    /// Takes the last step back; what is typed on the Bench and does not make
    /// sense yet is newer than any step.
    fn undo(&mut self) {
        if self.desk.page == Page::Bench && self.bench.give_up_lines(&self.desk) {
            self.desk
                .tell("The line that did not make sense was put back.");
        } else {
            self.desk.undo();
        }
    }

    /// Colours, when the theme changes.
    fn dress(&mut self, ui: &mut Ui) -> &'static Palette {
        let theme = self.desk.params.session.prefs().theme;
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
        let now_s = ui.input(|i| i.time);
        let ctx = ui.ctx().clone();
        self.desk.tick(now_s, move || ctx.request_repaint());
        if let Some(due) = self.desk.draft.due_in(now_s) {
            ui.ctx().request_repaint_after(Duration::from_secs_f64(due));
        }
    }

    fn top(&mut self, ui: &mut Ui, palette: &Palette) {
        ui.add_space(4.0);
        ui.horizontal(|ui| {
            let title = &self.desk.shown.checked.timeline.title;
            let title = if title.is_empty() { "Untitled" } else { title };
            let text = RichText::new(title).size(18.0).color(palette.ink);
            ui.add(egui::Label::new(text).truncate())
                .on_hover_text("The score's title");
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                for (page, name, key, hint) in PAGES.iter().rev() {
                    let shortcut = KeyboardShortcut::new(Modifiers::COMMAND, *key);
                    let pressed = ui.input_mut(|i| i.consume_shortcut(&shortcut));
                    let response = ui.selectable_label(self.desk.page == *page, *name);
                    if response.on_hover_text(*hint).clicked() || pressed {
                        self.desk.page = *page;
                    }
                }
                ui.separator();
                self.steps(ui);
                ui.separator();
                self.file_buttons(ui, palette);
            });
        });
        ui.add_space(4.0);
    }

    /// Undo and redo as buttons.
    fn steps(&mut self, ui: &mut Ui) {
        let (undo, redo) = self.desk.session().steps();
        let button = |ui: &mut Ui, name: &str, key: &str, step: &Option<String>| {
            let response = ui.add_enabled(step.is_some(), egui::Button::new(name));
            let hint = match step {
                Some(step) => format!("{name}: {step} ({key})"),
                None => format!("Nothing to {} ({key})", name.to_lowercase()),
            };
            let response = response.on_hover_text(&hint).on_disabled_hover_text(hint);
            response.clicked()
        };
        if button(ui, "Redo", "Ctrl+Shift+Z", &redo) {
            self.desk.redo();
        }
        if button(ui, "Undo", "Ctrl+Z", &undo) {
            self.undo();
        }
    }

    fn file_buttons(&mut self, ui: &mut Ui, palette: &Palette) {
        let session = self.desk.params.session.clone();
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
            let title = &self.desk.shown.checked.timeline.title;
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
            let outcome = self.files.save(file.as_deref(), &self.desk.draft.text);
            self.take(outcome);
        } else if open.clicked() || open_key {
            self.files.ask_open(file.as_deref());
        }
        let text = match &file {
            None => "no file".to_owned(),
            Some(file) => {
                let name = std::path::Path::new(file).file_name();
                let name = name.map_or(file.clone(), |n| n.to_string_lossy().into_owned());
                if self.files.is_saved(file, &self.desk.draft.text) {
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
        let outcome = self.files.show(ui, palette, &self.desk.draft.text);
        self.take(outcome);
        self.hand_on.show(ui, palette, &self.desk.shown.checked);
    }

    fn take(&mut self, outcome: Option<Outcome>) {
        match outcome {
            Some(Outcome::Saved(file)) => self.desk.params.session.set_file(Some(file)),
            Some(Outcome::Read(text, told)) => {
                self.desk.params.session.set_file(None);
                self.told = Some(told);
                self.desk.draft.replace(text, "Reading a file");
            }
            Some(Outcome::Opened(file, text)) => {
                self.desk.params.session.set_file(Some(file));
                self.desk.draft.replace(text, "Opening a file");
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
        let session = &self.desk.params.session;
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
            .show(ui, |ui| stand::show(ui, &mut self.desk, palette, reading));
        egui::CentralPanel::default().show(ui, |ui| {
            if text::show(ui, &mut self.desk.draft, palette) {
                self.desk.draft.edited(ui.input(|i| i.time));
            }
        });
    }
}
