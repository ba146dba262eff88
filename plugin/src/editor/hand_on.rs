//! The panel that hands a score on as a file: sheet, hand-out, MusicXML, MIDI,
//! audio.
//!
//! In: clicks, a typed path. Out: a file, made by [`super::produce`] on a thread
//! that ends with the window.

use std::ops::ControlFlow;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering::Relaxed};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::thread::JoinHandle;

use barform_core::sheet::notate::Fold;
use egui::{Context, Id, Modal, ProgressBar, RichText, TextEdit, Ui};

use super::palette::Palette;
use super::produce::{Order, Print, make};
use super::product::Product;
use crate::state::Checked;

/// The panel.
#[derive(Debug, Default)]
pub struct HandOn {
    open: bool,
    product: Product,
    print: Print,
    /// Path as typed.
    path: String,
    /// A file of that name is there; asked whether to replace it.
    occupied: bool,
    /// What came of the last order.
    said: Option<Result<String, String>>,
    work: Option<Work>,
}

#[derive(Debug)]
struct Work {
    shared: Arc<Shared>,
    outcome: Receiver<Result<String, String>>,
    thread: JoinHandle<()>,
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
        self.occupied = false;
        let path = file.map_or_else(
            || {
                let home = std::env::home_dir().unwrap_or_else(|| PathBuf::from("."));
                home.join(file_name(title))
            },
            PathBuf::from,
        );
        self.path = path
            .with_extension(self.product.ending())
            .display()
            .to_string();
    }

    /// Whether a file is being made.
    pub fn is_busy(&self) -> bool {
        self.work.is_some()
    }

    /// Shows the panel, if it is open.
    pub fn show(&mut self, ui: &mut Ui, palette: &Palette, checked: &Checked) {
        self.poll();
        if !self.open {
            return;
        }
        let modal = Modal::new(Id::unique("hand on")).show(ui.ctx(), |ui| {
            ui.set_width(560.0);
            ui.label(RichText::new("Hand on").size(18.0).color(palette.ink));
            ui.label(
                RichText::new("The score as it plays now, for paper, another program or the ear")
                    .color(palette.dim),
            );
            ui.add_space(6.0);
            self.choices(ui);
            ui.add_space(6.0);
            let field = TextEdit::singleline(&mut self.path)
                .font(egui::TextStyle::Monospace)
                .desired_width(f32::INFINITY);
            if ui.add(field).accessible_name("File").changed() {
                self.occupied = false;
            }
            ui.add_space(6.0);
            self.outcome(ui, palette);
            self.buttons(ui, checked);
        });
        if modal.should_close() && !self.is_busy() {
            self.open = false;
        }
    }

    fn choices(&mut self, ui: &mut Ui) {
        ui.horizontal_wrapped(|ui| {
            for (product, name, ending, hint) in Product::ALL {
                let chosen = self.product == product;
                if ui
                    .selectable_label(chosen, name)
                    .on_hover_text(hint)
                    .clicked()
                    && !chosen
                {
                    self.product = product;
                    self.occupied = false;
                    self.said = None;
                    let path = PathBuf::from(&self.path).with_extension(ending);
                    self.path = path.display().to_string();
                }
            }
        });
        if !self.product.is_printed() {
            return;
        }
        ui.horizontal_wrapped(|ui| {
            ui.selectable_value(&mut self.print.us_letter, false, "A4")
                .on_hover_text("210 by 297 mm");
            ui.selectable_value(&mut self.print.us_letter, true, "US Letter")
                .on_hover_text("8½ by 11 inches");
            ui.separator();
            for (fold, name, hint) in [
                (Fold::Repeats, "Repeat signs", "Repeated bars stand once"),
                (Fold::Full, "Every bar", "The form written out"),
                (
                    Fold::Letters,
                    "Each letter once",
                    "The cells, with the form as letters above",
                ),
            ] {
                ui.selectable_value(&mut self.print.fold, fold, name)
                    .on_hover_text(hint);
            }
            ui.separator();
            ui.checkbox(&mut self.print.large, "Large print")
                .on_hover_text("Half as large again");
        });
    }

    fn outcome(&self, ui: &mut Ui, palette: &Palette) {
        if let Some(work) = &self.work {
            let share = work.shared.share.load(Relaxed) as f32 / 1_000.0;
            ui.add(ProgressBar::new(share).show_percentage());
            return;
        }
        if self.occupied {
            let text = "A file of that name is there.";
            ui.label(RichText::new(text).color(palette.error));
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
            if let Some(work) = &self.work {
                if ui.button("Stop").clicked() {
                    work.shared.stop.store(true, Relaxed);
                }
                return;
            }
            let label = if self.occupied { "Replace it" } else { "Write" };
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
        if path.file_name().is_none() || path.is_dir() {
            self.said = Some(Err("Type the name of a file.".to_owned()));
            return;
        }
        if path.exists() && !self.occupied {
            self.occupied = true;
            return;
        }
        let order = Order {
            checked: checked.clone(),
            product: self.product,
            print: self.print,
            path,
            replace: std::mem::take(&mut self.occupied),
        };
        let shared = Arc::new(Shared::default());
        let (send, outcome) = channel();
        let (ctx, of_thread) = (ctx.clone(), shared.clone());
        let thread = std::thread::Builder::new()
            .name("hand on".to_owned())
            .spawn(move || {
                let step = |share: f64| {
                    of_thread.share.store((share * 1_000.0) as u32, Relaxed);
                    if of_thread.stop.load(Relaxed) {
                        ControlFlow::Break(())
                    } else {
                        ControlFlow::Continue(())
                    }
                };
                // The window may have gone meanwhile.
                let _ = send.send(make(&order, step));
                ctx.request_repaint();
            });
        match thread {
            Ok(thread) => {
                self.work = Some(Work {
                    shared,
                    outcome,
                    thread,
                });
            }
            Err(error) => self.said = Some(Err(format!("Nothing was written: {error}."))),
        }
    }

    fn poll(&mut self) {
        let Some(work) = &self.work else { return };
        self.said = Some(match work.outcome.try_recv() {
            Ok(outcome) => outcome,
            Err(TryRecvError::Empty) => return,
            Err(TryRecvError::Disconnected) => Err("Nothing was written.".to_owned()),
        });
        self.join();
    }

    fn join(&mut self) {
        if let Some(work) = self.work.take() {
            let _ = work.thread.join();
        }
    }
}

impl Drop for HandOn {
    /// A host may unload this library as soon as the window is gone: no thread
    /// may be left in it.
    fn drop(&mut self) {
        if let Some(work) = &self.work {
            work.shared.stop.store(true, Relaxed);
        }
        self.join();
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
