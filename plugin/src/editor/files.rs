//! Opening and saving score files, inside the window: a dialog of the system
//! would be a thread that may outlive this library in its host, and some hosts
//! stand still while one is open.
//!
//! The typed path is completed from what lies in its folder; what was opened or
//! saved last is offered (`recent`).

mod recent;

use std::path::{Path, PathBuf};

use barform_app::shelf::{Folders, Recent};
use egui::{Id, Key, Modal, RichText, ScrollArea, TextEdit, Ui};
use recent::RecentFiles;

use super::palette::Palette;
use barform_app::session::{ENDING, OPENS, SaveError, SavedFile, has_ending, import_file, list};

/// What the panel is open for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Purpose {
    Open,
    SaveAs,
}

/// The panel, and what is known of the file on disk.
#[derive(Default)]
pub struct Files {
    on_disk: SavedFile,
    recent: RecentFiles,
    purpose: Option<Purpose>,
    /// Path as typed.
    path: String,
    error: Option<String>,
    /// Asked whether to overwrite this.
    occupied: Option<PathBuf>,
    fresh: bool,
}

/// What came of it.
#[derive(Debug, PartialEq, Eq)]
pub enum Outcome {
    /// This text was read from this file.
    Opened(String, String),
    /// This text was made of another program's file; what could not be kept.
    Read(String, String),
    /// The text was written to this file.
    Saved(String),
}

impl Files {
    /// The panel, with the files that lately were opened or saved by this user.
    pub fn of_user(folders: Option<&Folders>) -> Files {
        Files {
            recent: RecentFiles::new(folders.map(|f| Recent::at(f.recent()))),
            ..Files::default()
        }
    }

    /// Whether the text is what the file holds.
    pub fn is_saved(&self, path: &str, text: &str) -> bool {
        self.on_disk.is_saved(path, text)
    }

    /// Whether the panel is open.
    pub fn is_open(&self) -> bool {
        self.purpose.is_some() || self.occupied.is_some()
    }

    /// Asks for a file to open.
    pub fn ask_open(&mut self, file: Option<&str>) {
        self.ask(
            Purpose::Open,
            start_folder(file) + std::path::MAIN_SEPARATOR_STR,
        );
    }

    /// Asks for a name to save under.
    pub fn ask_save_as(&mut self, file: Option<&str>) {
        let name = file.map_or_else(
            || start_folder(None) + std::path::MAIN_SEPARATOR_STR + "untitled." + ENDING,
            str::to_owned,
        );
        self.ask(Purpose::SaveAs, name);
    }

    fn ask(&mut self, purpose: Purpose, path: String) {
        self.recent.look();
        *self = Files {
            on_disk: std::mem::take(&mut self.on_disk),
            recent: std::mem::take(&mut self.recent),
            purpose: Some(purpose),
            path,
            fresh: true,
            ..Files::default()
        };
    }

    /// Saves under the name the score has, or asks for one.
    pub fn save(&mut self, file: Option<&str>, text: &str) -> Option<Outcome> {
        match file {
            Some(file) => self.write(Path::new(file), text, false),
            None => {
                self.ask_save_as(None);
                None
            }
        }
    }

    fn write(&mut self, path: &Path, text: &str, overwrite: bool) -> Option<Outcome> {
        self.error = None;
        match self.on_disk.save(path, text, overwrite) {
            Ok(()) => {
                self.purpose = None;
                self.occupied = None;
                self.recent.enter(path);
                Some(Outcome::Saved(path.display().to_string()))
            }
            Err(SaveError::Occupied) => {
                self.occupied = Some(path.to_owned());
                None
            }
            Err(SaveError::Io(error)) => {
                let message = format!("{} was not saved: {error}.", path.display());
                if self.purpose.is_none() {
                    self.ask_save_as(Some(&path.display().to_string()));
                }
                self.error = Some(message);
                None
            }
        }
    }

    fn open(&mut self, path: &Path) -> Option<Outcome> {
        if has_ending(path, &OPENS[1..]) {
            return match import_file(path) {
                Ok((text, remarks)) => {
                    self.purpose = None;
                    self.recent.enter(path);
                    Some(Outcome::Read(text, remarks))
                }
                Err(error) => {
                    self.error = Some(error);
                    None
                }
            };
        }
        match self.on_disk.open(path) {
            Ok(text) => {
                self.purpose = None;
                self.recent.enter(path);
                Some(Outcome::Opened(path.display().to_string(), text))
            }
            Err(error) => {
                self.error = Some(error);
                None
            }
        }
    }

    /// Shows the panel, if it is open.
    pub fn show(&mut self, ui: &mut Ui, palette: &Palette, text: &str) -> Option<Outcome> {
        self.recent.tick(ui.ctx());
        if let Some(path) = self.occupied.clone() {
            return self.confirm(ui, palette, &path, text);
        }
        let purpose = self.purpose?;
        let mut outcome = None;
        let modal = Modal::new(Id::unique("files")).show(ui.ctx(), |ui| {
            ui.set_width(560.0);
            let title = match purpose {
                Purpose::Open => "Open a score",
                Purpose::SaveAs => "Save the score as",
            };
            ui.label(RichText::new(title).size(18.0).color(palette.ink));
            ui.add_space(6.0);
            let field = ui.add(
                TextEdit::singleline(&mut self.path)
                    .font(egui::TextStyle::Monospace)
                    .desired_width(f32::INFINITY)
                    .hint_text("Path of a .barform file, or a MIDI or MusicXML file to read"),
            );
            let field = field.accessible_name("Path");
            if std::mem::take(&mut self.fresh) {
                field.request_focus();
            }
            let enter = field.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter));
            ui.add_space(4.0);
            let mut recent = None;
            if purpose == Purpose::Open {
                recent = self.recent.show(ui, palette);
                ui.add_space(4.0);
            }
            let picked = self.listing(ui, palette);
            if let Some(error) = &self.error {
                ui.label(RichText::new(error).color(palette.error));
            }
            ui.add_space(6.0);
            ui.horizontal(|ui| {
                let label = if purpose == Purpose::Open {
                    "Open"
                } else {
                    "Save"
                };
                let go = ui.button(label).clicked();
                let cancel = ui.button("Cancel").on_hover_text("Esc").clicked();
                if go || enter || picked {
                    let path = PathBuf::from(self.path.trim());
                    outcome = match purpose {
                        _ if path.is_dir() => None,
                        Purpose::Open => self.open(&path),
                        Purpose::SaveAs => self.write(&with_ending(path), text, false),
                    };
                } else if cancel {
                    self.purpose = None;
                }
            });
            if let Some(path) = recent {
                outcome = self.open(&path);
            }
        });
        if modal.should_close() {
            self.purpose = None;
        }
        outcome
    }

    /// What lies in the typed path's folder and begins like its name. Returns
    /// whether a file was double-clicked.
    fn listing(&mut self, ui: &mut Ui, palette: &Palette) -> bool {
        let (folder, name) = split(&self.path);
        let mut double = false;
        let mut to = None;
        ScrollArea::vertical()
            .auto_shrink(false)
            .max_height(230.0)
            .show(ui, |ui| {
                let endings = match self.purpose {
                    Some(Purpose::Open) => &OPENS[..],
                    _ => &[ENDING],
                };
                let (folders, scores) = match list(&folder, endings) {
                    Ok(found) => found,
                    Err(error) => {
                        let text = format!("{} cannot be listed: {error}.", folder.display());
                        ui.label(RichText::new(text).color(palette.dim));
                        return;
                    }
                };
                if let Some(parent) = folder.parent().filter(|p| !p.as_os_str().is_empty())
                    && ui.selectable_label(false, "(one folder up)").clicked()
                {
                    to = Some(parent.join(""));
                }
                // A name that is one of the files is a choice, no beginning.
                let chosen = scores.contains(&name);
                let begins =
                    |n: &String| chosen || n.to_lowercase().starts_with(&name.to_lowercase());
                for score in scores.iter().filter(|n| begins(n)) {
                    let response = ui.selectable_label(*score == name, score);
                    if response.clicked() || response.double_clicked() {
                        to = Some(folder.join(score));
                    }
                    double |= response.double_clicked();
                }
                if scores.is_empty() {
                    let text = "No such file in this folder.";
                    ui.label(RichText::new(text).color(palette.dim));
                }
                for folder_name in folders.iter().filter(|n| begins(n)) {
                    let label = format!("{folder_name}{}", std::path::MAIN_SEPARATOR);
                    if ui.selectable_label(false, label).clicked() {
                        to = Some(folder.join(folder_name).join(""));
                    }
                }
            });
        if let Some(to) = to {
            self.path = to.display().to_string();
        }
        double
    }

    fn confirm(
        &mut self,
        ui: &mut Ui,
        palette: &Palette,
        path: &Path,
        text: &str,
    ) -> Option<Outcome> {
        let mut outcome = None;
        let modal = Modal::new(Id::unique("overwrite")).show(ui.ctx(), |ui| {
            ui.set_width(460.0);
            ui.label(
                RichText::new("Overwrite this file?")
                    .size(18.0)
                    .color(palette.ink),
            );
            ui.label(format!(
                "{} already exists, or was changed outside Barform since you opened it.",
                path.display()
            ));
            ui.add_space(6.0);
            ui.horizontal(|ui| {
                if ui.button("Overwrite").clicked() {
                    outcome = self.write(path, text, true);
                }
                if ui.button("Cancel").on_hover_text("Esc").clicked() {
                    self.occupied = None;
                }
            });
        });
        if modal.should_close() {
            self.occupied = None;
        }
        outcome
    }
}

/// Where a dialog starts: the score's folder, else the home folder.
fn start_folder(file: Option<&str>) -> String {
    let folder = file.and_then(|f| Path::new(f).parent().map(Path::to_owned));
    let folder = folder
        .or_else(std::env::home_dir)
        .unwrap_or_else(|| PathBuf::from("."));
    folder.display().to_string()
}

/// A typed path as its folder and the beginning of a name.
fn split(path: &str) -> (PathBuf, String) {
    let typed = Path::new(path);
    if path.ends_with(std::path::MAIN_SEPARATOR) || typed.is_dir() {
        return (typed.to_owned(), String::new());
    }
    let name = typed
        .file_name()
        .map(|n| n.to_string_lossy().into_owned())
        .unwrap_or_default();
    let folder = typed.parent().filter(|p| !p.as_os_str().is_empty());
    (folder.unwrap_or(Path::new(".")).to_owned(), name)
}

fn with_ending(path: PathBuf) -> PathBuf {
    if path.extension().is_some() {
        path
    } else {
        path.with_extension(ENDING)
    }
}
