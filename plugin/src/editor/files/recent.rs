//! The score files opened or saved last, in the panel that opens one.
//!
//! Gives a path to open; the list in the user's folder, kept on a thread of its
//! own (a file may lie on a disk that does not answer). Only files that are
//! there now are offered.

use std::path::{Path, PathBuf};

use barform_app::shelf::{Recent, RecentFile, ShelfError};
use egui::{Align, Button, Context, Layout, RichText, ScrollArea, Ui, vec2};

use super::super::palette::Palette;
use barform_app::background::Worker;

/// Height of the list before it scrolls, in points.
const HEIGHT: f32 = 112.0;

type Answer = Result<Vec<RecentFile>, String>;

/// The list.
#[derive(Default)]
pub struct RecentFiles {
    at: Option<Recent>,
    worker: Option<Worker<Recent, Answer>>,
    list: Vec<RecentFile>,
    /// Why the list cannot be read or kept.
    refused: Option<String>,
    /// Opened or saved, and not yet on the list.
    entered: Vec<PathBuf>,
    /// The list is to be read.
    wanted: bool,
}

impl RecentFiles {
    /// The list in a file; `None` where the user has no folder.
    pub fn new(at: Option<Recent>) -> RecentFiles {
        RecentFiles {
            at,
            ..RecentFiles::default()
        }
    }

    /// A file was opened or saved.
    pub fn enter(&mut self, path: &Path) {
        self.entered.push(path.to_owned());
    }

    /// The list is about to be shown.
    pub fn look(&mut self) {
        self.wanted = true;
    }

    /// Gives the thread what is to be done and takes what it has done.
    pub fn tick(&mut self, ctx: &Context) {
        let idle = self.entered.is_empty() && !self.wanted;
        if let Some(at) = &self.at
            && self.worker.is_none()
            && !idle
        {
            let ctx = ctx.clone();
            let wake = move || ctx.request_repaint();
            self.worker = Some(Worker::new("recent files", at.clone(), wake));
        }
        for path in std::mem::take(&mut self.entered) {
            self.ask(move |recent| recent.opened(&path).map(|_| ()));
        }
        if std::mem::take(&mut self.wanted) {
            self.ask(|_| Ok(()));
        }
        while let Some(answer) = self.worker.as_mut().and_then(Worker::answer) {
            match answer {
                Ok(list) => {
                    self.list = list;
                    self.refused = None;
                }
                Err(why) => self.refused = Some(why),
            }
        }
    }

    fn ask(&mut self, job: impl FnOnce(&Recent) -> Result<(), ShelfError> + Send + 'static) {
        if let Some(worker) = &mut self.worker {
            worker.ask(move |recent| {
                let done = job(recent).and_then(|()| recent.list());
                done.map_err(|e| e.to_string())
            });
        }
    }

    /// Shows it; returns the file that was chosen.
    pub fn show(&mut self, ui: &mut Ui, palette: &Palette) -> Option<PathBuf> {
        if let Some(why) = &self.refused {
            ui.label(RichText::new(why).color(palette.error));
        }
        if self.list.is_empty() {
            return None;
        }
        let (there, gone): (Vec<_>, Vec<_>) = self.list.iter().partition(|file| !file.missing);
        let there: Vec<PathBuf> = there.into_iter().map(|f| f.path.clone()).collect();
        let gone: Vec<PathBuf> = gone.into_iter().map(|f| f.path.clone()).collect();
        let mut picked = None;
        ui.horizontal(|ui| {
            ui.label(RichText::new("Opened or saved recently").color(palette.accent));
            let hint = "Forgets the whole list; the files themselves stay";
            if ui.small_button("Clear").on_hover_text(hint).clicked() {
                self.ask(Recent::clear);
            }
        });
        let area = ScrollArea::vertical()
            .id_salt("recent files")
            .max_height(HEIGHT)
            .auto_shrink([false, true]);
        area.show(ui, |ui| {
            for path in &there {
                if self.line(ui, palette, path) {
                    picked = Some(path.clone());
                }
            }
        });
        if !gone.is_empty() {
            self.gone(ui, palette, gone);
        }
        picked
    }

    /// One file; returns whether it was chosen.
    fn line(&mut self, ui: &mut Ui, palette: &Palette, path: &Path) -> bool {
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let folder = path.parent().unwrap_or(Path::new("")).display();
        let mut chosen = false;
        let size = vec2(ui.available_width(), 22.0);
        // From the right, so that what is left is the name's.
        ui.allocate_ui_with_layout(size, Layout::right_to_left(Align::Center), |ui| {
            let forget = ui
                .small_button("Forget")
                .on_hover_text("Removes it from this list; the file stays")
                .accessible_name(format!("Forget {name}"));
            if forget.clicked() {
                let path = path.to_owned();
                self.ask(move |recent| recent.forget(&path));
            }
            ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                let text = RichText::new(format!("{name}   in {folder}")).color(palette.ink);
                let response = ui.add(Button::selectable(false, text).truncate());
                chosen = response
                    .on_hover_text(format!("Opens {}", path.display()))
                    .accessible_name(format!("{name} in {folder}"))
                    .clicked();
            });
        });
        chosen
    }

    /// Those that are not there now.
    fn gone(&mut self, ui: &mut Ui, palette: &Palette, gone: Vec<PathBuf>) {
        let names: Vec<String> = gone.iter().map(|p| p.display().to_string()).collect();
        ui.horizontal(|ui| {
            let text = match gone.len() {
                1 => "1 more is not found now.".to_owned(),
                n => format!("{n} more are not found now."),
            };
            ui.label(RichText::new(text).color(palette.dim))
                .on_hover_text(names.join("\n"));
            let hint = "Removes them from this list; their disk may come back";
            if ui.small_button("Forget them").on_hover_text(hint).clicked() {
                self.ask(move |recent| gone.iter().try_for_each(|path| recent.forget(path)));
            }
        });
    }
}
