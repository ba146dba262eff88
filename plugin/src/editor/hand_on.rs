//! The panel that hands a score on as a file: sheet, hand-out, MusicXML, MIDI,
//! audio, stems.
//!
//! In: clicks, a typed path. Out: a file, made by [`super::produce`] on a thread
//! that ends with the window. Never here: what is in a file, and never a file
//! replaced unasked.

mod choices;
mod font;

use std::ops::ControlFlow;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering::Relaxed};

use barform_app::export::audio::{SampleFormat, Sounds};
use egui::{Context, Id, Modal, ProgressBar, RichText, ScrollArea, TextEdit, Ui};

use super::errand::Errand;
use super::palette::Palette;
use super::produce::{Audio, Failure, Order, Playing, Print, make};
use super::product::Product;
use crate::state::Checked;
use font::Font;

type Outcome = Result<String, Failure>;

/// The panel.
#[derive(Debug, Default)]
pub struct HandOn {
    open: bool,
    product: Product,
    print: Print,
    playing: Playing,
    audio: Audio,
    font: Font,
    /// Path as typed.
    path: String,
    /// This is there; asked whether to replace it.
    occupied: Option<PathBuf>,
    /// What came of the last order.
    said: Option<Result<String, String>>,
    work: Errand<Outcome>,
    /// What the work and the panel share.
    shared: Arc<Shared>,
}

#[derive(Debug, Default)]
struct Shared {
    stop: AtomicBool,
    /// Share done, in thousandths.
    share: AtomicU32,
}

impl HandOn {
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
        self.product.is_audio() && self.audio.stems.is_some()
    }

    /// The path with the usual ending of what is made; a folder has none.
    fn named(&mut self, path: &std::path::Path) {
        let ending = if self.is_folder() {
            ""
        } else {
            self.product.ending()
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
    pub fn show(&mut self, ui: &mut Ui, palette: &Palette, checked: &Checked) {
        self.poll();
        if !self.open {
            return;
        }
        let modal = Modal::new(Id::unique("hand on")).show(ui.ctx(), |ui| {
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

    fn choices(&mut self, ui: &mut Ui, palette: &Palette, checked: &Checked) {
        let before = (self.product, self.is_folder());
        ui.horizontal_wrapped(|ui| {
            for (product, name, _, hint) in Product::ALL {
                ui.selectable_value(&mut self.product, product, name)
                    .on_hover_text(hint);
            }
        });
        ui.add_space(4.0);
        if self.product.is_printed() {
            choices::print(ui, &mut self.print);
        } else if self.product != Product::MusicXml {
            let timeline = &checked.timeline;
            let gone = |letter| !timeline.letters.contains(letter);
            if self.audio.letter.as_ref().is_some_and(gone) {
                self.audio.letter = None;
            }
            choices::sound(
                ui,
                palette,
                self.product,
                timeline,
                &mut self.playing,
                &mut self.audio,
                &mut self.font,
            );
        }
        if self.product == Product::Flac && self.audio.sample == SampleFormat::Float32 {
            self.audio.sample = SampleFormat::Int24;
        }
        if before != (self.product, self.is_folder()) {
            let path = PathBuf::from(&self.path);
            self.named(&path);
        }
    }

    fn outcome(&self, ui: &mut Ui, palette: &Palette) {
        if self.work.is_busy() {
            let share = self.shared.share.load(Relaxed) as f32 / 1_000.0;
            ui.add(ProgressBar::new(share).show_percentage());
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

    fn buttons(&mut self, ui: &mut Ui, checked: &Checked) {
        ui.horizontal(|ui| {
            if self.work.is_busy() {
                if ui.button("Stop").clicked() {
                    self.shared.stop.store(true, Relaxed);
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

    fn start(&mut self, ctx: &Context, checked: &Checked) {
        let path = PathBuf::from(self.path.trim());
        self.said = None;
        let sounds = match self.font.sounds() {
            Ok(sounds) => sounds,
            Err(error) if self.product.is_audio() => {
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
        let order = Order {
            checked: checked.clone(),
            product: self.product,
            print: self.print,
            playing: self.playing.clone(),
            audio: Audio {
                sounds,
                ..self.audio.clone()
            },
            path,
            replace: self.occupied.take().is_some(),
        };
        self.shared = Arc::default();
        let (ctx, shared) = (ctx.clone(), self.shared.clone());
        let work = move || {
            make(&order, |share: f64| {
                shared.share.store((share * 1_000.0) as u32, Relaxed);
                if shared.stop.load(Relaxed) {
                    ControlFlow::Break(())
                } else {
                    ControlFlow::Continue(())
                }
            })
        };
        let started = self
            .work
            .start("hand on", work, move || ctx.request_repaint());
        if let Err(error) = started {
            self.said = Some(Err(format!("Nothing was written: {error}.")));
        }
    }

    fn poll(&mut self) {
        match self.work.poll() {
            None => {}
            Some(Ok(Ok(said))) => self.said = Some(Ok(said)),
            Some(Ok(Err(Failure::Said(said)))) => self.said = Some(Err(said)),
            Some(Ok(Err(Failure::Occupied(path)))) => self.occupied = Some(path),
            Some(Err(_)) => self.said = Some(Err("Nothing was written.".to_owned())),
        }
    }
}

impl Drop for HandOn {
    /// The window is gone: its work need not be finished.
    fn drop(&mut self) {
        self.shared.stop.store(true, Relaxed);
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
