//! The panel that exports a score as a file: sheet, hand-out, MusicXML, MIDI,
//! audio, stems.
//!
//! What can be made, and how, is [`barform_app::orders`]; the panel asks for it
//! and has it made on a thread that ends with the window.

mod choices;
mod font;

use std::path::PathBuf;
use std::sync::Arc;

use barform_app::background::Job;
use barform_app::export::audio::{SampleFormat, Sounds};
use barform_app::orders::{Choices, Kind, OrderError, Report, SharedProgress, Target, make};
use barform_app::save::Overwrite;
use barform_app::session::CompiledScore;
use egui::{Context, Id, Modal, ProgressBar, RichText, ScrollArea, TextEdit, Ui};

use super::palette::Palette;
use font::Font;

/// Dots per inch of a picture: sharp on a screen and in a message.
const PICTURE_DPI: f32 = 200.0;

/// The panel.
#[derive(Debug)]
pub struct ExportPanel {
    open: bool,
    kind: Kind,
    choices: Choices,
    font: Font,
    /// Path as typed.
    path: String,
    /// This is there; asked whether to replace it.
    occupied: Option<PathBuf>,
    /// What came of the last order.
    said: Option<Result<String, String>>,
    work: Job<Result<Report, OrderError>>,
    /// What the work and the panel share.
    shared: Arc<SharedProgress>,
}

impl Default for ExportPanel {
    /// A sheet; what is played goes without a click.
    fn default() -> Self {
        let mut choices = Choices::default();
        choices.pages.dots_per_inch = PICTURE_DPI;
        choices.playing.mute.click = true;
        ExportPanel {
            open: false,
            kind: Kind::default(),
            choices,
            font: Font::default(),
            path: String::new(),
            occupied: None,
            said: None,
            work: Job::default(),
            shared: Arc::default(),
        }
    }
}

impl ExportPanel {
    /// Opens the panel for a score that lies in `file`, if it lies anywhere.
    pub fn ask(&mut self, file: Option<&str>, title: &str) {
        if self.open {
            return;
        }
        self.open = true;
        self.said = None;
        self.occupied = None;
        let path = file.map_or_else(
            || {
                let home = std::env::home_dir().unwrap_or_else(|| PathBuf::from("."));
                home.join(file_name(title))
            },
            PathBuf::from,
        );
        self.named(&path);
    }

    /// Whether a folder of stems is asked for.
    fn is_folder(&self) -> bool {
        self.kind.is_audio() && self.choices.audio.stems.is_some()
    }

    /// The path with the usual ending of what is made; a folder has none.
    fn named(&mut self, path: &std::path::Path) {
        let ending = if self.is_folder() {
            ""
        } else {
            self.kind.ending()
        };
        self.path = path.with_extension(ending).display().to_string();
        self.occupied = None;
        self.said = None;
    }

    /// Whether the panel is open.
    pub fn is_open(&self) -> bool {
        self.open
    }

    /// Whether a file is being made.
    pub fn is_busy(&self) -> bool {
        self.work.is_busy()
    }

    /// Shows the panel, if it is open.
    pub fn show(&mut self, ui: &mut Ui, palette: &Palette, checked: &CompiledScore) {
        self.poll();
        if !self.open {
            return;
        }
        let modal = Modal::new(Id::unique("export")).show(ui.ctx(), |ui| {
            ui.set_width(560.0);
            ui.label(RichText::new("Export").size(18.0).color(palette.ink));
            ui.label(
                RichText::new(
                    "The score as it plays now, as a file: sheet, MIDI, MusicXML or audio",
                )
                .color(palette.dim),
            );
            ui.add_space(6.0);
            let most = (ui.ctx().content_rect().height() - 250.0).max(120.0);
            ScrollArea::vertical()
                .max_height(most)
                .auto_shrink([false, true])
                .show(ui, |ui| {
                    ui.add_enabled_ui(!self.is_busy(), |ui| self.choices(ui, palette, checked));
                });
            ui.add_space(6.0);
            let name = if self.is_folder() { "Folder" } else { "File" };
            ui.label(RichText::new(name).color(palette.dim));
            let field = TextEdit::singleline(&mut self.path)
                .font(egui::TextStyle::Monospace)
                .desired_width(f32::INFINITY)
                .interactive(!self.work.is_busy());
            if ui.add(field).accessible_name(name).changed() {
                self.occupied = None;
            }
            ui.add_space(6.0);
            self.outcome(ui, palette);
            self.buttons(ui, checked);
        });
        if modal.should_close() && !self.is_busy() {
            self.open = false;
        }
    }

    fn choices(&mut self, ui: &mut Ui, palette: &Palette, checked: &CompiledScore) {
        let before = (self.kind, self.is_folder());
        ui.horizontal_wrapped(|ui| {
            for (kind, name, _, hint) in Kind::ALL {
                ui.selectable_value(&mut self.kind, kind, name)
                    .on_hover_text(hint);
            }
        });
        ui.add_space(4.0);
        if self.kind.is_pages() {
            choices::pages(ui, &mut self.choices.pages);
        } else if self.kind != Kind::MusicXml {
            choices::sound(
                ui,
                palette,
                self.kind,
                &checked.timeline,
                &mut self.choices.playing,
                &mut self.choices.audio,
                &mut self.font,
            );
        }
        let sample = &mut self.choices.audio.format.sample;
        if self.kind == Kind::Flac && *sample == SampleFormat::Float32 {
            *sample = SampleFormat::Int24;
        }
        if before != (self.kind, self.is_folder()) {
            let path = PathBuf::from(&self.path);
            self.named(&path);
        }
    }

    fn outcome(&self, ui: &mut Ui, palette: &Palette) {
        if self.work.is_busy() {
            ui.add(ProgressBar::new(self.shared.share()).show_percentage());
            return;
        }
        if let Some(there) = &self.occupied {
            let text = "A file of that name exists.";
            ui.label(RichText::new(text).color(palette.error));
            let path = there.display().to_string();
            if path != self.path.trim() {
                ui.add(egui::Label::new(RichText::new(path).color(palette.ink)).wrap());
            }
        }
        match &self.said {
            None => {}
            Some(Ok(text)) => {
                ui.label(RichText::new(format!("Done. {text}")).color(palette.good));
            }
            Some(Err(text)) => {
                ui.label(RichText::new(text).color(palette.error));
            }
        }
    }

    fn buttons(&mut self, ui: &mut Ui, checked: &CompiledScore) {
        ui.horizontal(|ui| {
            if self.work.is_busy() {
                if ui.button("Stop").clicked() {
                    self.shared.stop();
                }
                return;
            }
            let label = match self.occupied {
                Some(_) => "Replace it",
                None => "Write",
            };
            if ui.button(label).clicked() {
                self.start(ui.ctx(), checked);
            }
            if ui.button("Close").on_hover_text("Esc").clicked() {
                self.open = false;
            }
        });
    }

    fn start(&mut self, ctx: &Context, checked: &CompiledScore) {
        let path = PathBuf::from(self.path.trim());
        self.said = None;
        let sounds = match self.font.sounds() {
            Ok(sounds) => sounds,
            Err(error) if self.kind.is_audio() => {
                self.said = Some(Err(error));
                return;
            }
            Err(_) => Sounds::Kit,
        };
        let folder = self.is_folder();
        if path.file_name().is_none() || (!folder && path.is_dir()) {
            let what = if folder { "folder" } else { "file" };
            self.said = Some(Err(format!("Type the name of a {what}.")));
            return;
        }
        if !folder && self.occupied.is_none() && path.exists() {
            self.occupied = Some(path);
            return;
        }
        let (kind, mut choices) = (self.kind, self.choices.clone());
        choices.audio.sounds = sounds;
        let overwrite = Overwrite::if_asked(self.occupied.take().is_some());
        self.shared = Arc::default();
        let (ctx, mut watch, score) = (ctx.clone(), self.shared.clone(), checked.clone());
        let work = move || {
            let mut target = Target::file(path, overwrite);
            make(kind, &choices, &score, &mut target, &mut watch)
        };
        let started = self
            .work
            .start("export", work, move || ctx.request_repaint());
        if let Err(error) = started {
            self.said = Some(Err(format!("Nothing was written: {error}.")));
        }
    }

    fn poll(&mut self) {
        match self.work.poll() {
            None => {}
            Some(Ok(Ok(report))) => self.said = Some(Ok(report.to_string().trim_end().to_owned())),
            Some(Ok(Err(OrderError::Exists(path)))) => self.occupied = Some(path),
            Some(Ok(Err(error))) => self.said = Some(Err(error.to_string())),
            Some(Err(_)) => self.said = Some(Err("Nothing was written.".to_owned())),
        }
    }
}

impl Drop for ExportPanel {
    /// The window is gone: its work need not be finished.
    fn drop(&mut self) {
        self.shared.stop();
    }
}

/// A file name that every system takes.
fn file_name(title: &str) -> String {
    let plain = |c: char| if c.is_alphanumeric() { c } else { '-' };
    let name: String = title.chars().take(60).map(plain).collect();
    let name = name.trim_matches('-');
    if name.is_empty() {
        "untitled".to_owned()
    } else {
        name.to_owned()
    }
}
