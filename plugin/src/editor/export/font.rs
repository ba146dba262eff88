//! A SoundFont of the user's, chosen in the panel.
//!
//! Loading takes seconds for a large file, so a thread does it, which ends with
//! the window.

use std::path::PathBuf;
use std::sync::Arc;

use barform_app::export::audio::Sounds;
use barform_app::sound::soundfont::SoundFont;
use egui::{ComboBox, RichText, TextEdit, Ui};

use super::super::palette::Palette;
use barform_app::background::Job;

type Loaded = Result<Arc<SoundFont>, String>;

/// What is known of the SoundFont.
#[derive(Debug, Default)]
pub struct Font {
    /// The notes go to a SoundFont, not to the embedded kit.
    pub on: bool,
    path: String,
    loading: Job<Loaded>,
    loaded: Option<Loaded>,
    /// Bank and program; `None` for its drum kit.
    preset: Option<(u16, u16)>,
}

impl Font {
    /// What is played on.
    ///
    /// # Errors
    /// What is missing, in words.
    pub fn sounds(&self) -> Result<Sounds, String> {
        if !self.on {
            return Ok(Sounds::Kit);
        }
        match &self.loaded {
            Some(Ok(font)) => Ok(Sounds::Font {
                font: font.clone(),
                preset: self.preset,
            }),
            Some(Err(error)) => Err(error.clone()),
            None if self.loading.is_busy() => Err("The SoundFont is still being read.".to_owned()),
            None => Err("Read a SoundFont first, or select the embedded kit.".to_owned()),
        }
    }

    /// Shows the choice between the kit and a SoundFont.
    pub fn choice(&mut self, ui: &mut Ui) {
        ui.selectable_value(&mut self.on, false, "Embedded kit")
            .on_hover_text("The kit that plays in the window");
        ui.selectable_value(&mut self.on, true, "SoundFont")
            .on_hover_text("Your own sounds from a SoundFont 2 file (.sf2)");
    }

    /// Shows which file and which of its presets.
    pub fn file(&mut self, ui: &mut Ui, palette: &Palette) {
        self.poll();
        ui.horizontal(|ui| {
            let field = TextEdit::singleline(&mut self.path)
                .desired_width(270.0)
                .hint_text("Path of an .sf2 file");
            let field = ui.add(field).accessible_name("SoundFont file");
            if field.changed() && !self.loading.is_busy() {
                self.loaded = None;
                self.preset = None;
            }
            let idle = !self.loading.is_busy() && !self.path.trim().is_empty();
            let read = ui.add_enabled(idle, egui::Button::new("Read it"));
            let enter = field.lost_focus() && ui.input(|i| i.key_pressed(egui::Key::Enter));
            if read.clicked() || (enter && idle) {
                self.load(ui.ctx());
            }
        });
        match &self.loaded {
            Some(Ok(font)) => presets(ui, font, &mut self.preset),
            Some(Err(error)) => {
                ui.label(RichText::new(error).color(palette.error));
            }
            None if self.loading.is_busy() => {
                ui.label(RichText::new("Reading…").color(palette.dim));
            }
            None => {}
        }
    }

    fn load(&mut self, ctx: &egui::Context) {
        let path = PathBuf::from(self.path.trim());
        let ctx = ctx.clone();
        let read = move || {
            let loaded = SoundFont::open(&path).map(Arc::new);
            loaded.map_err(|error| format!("{}: {error}", path.display()))
        };
        self.preset = None;
        let started = self
            .loading
            .start("soundfont", read, move || ctx.request_repaint());
        self.loaded = started.err().map(|error| Err(error.to_string()));
    }

    fn poll(&mut self) {
        if let Some(loaded) = self.loading.poll() {
            let lost = || Err("The SoundFont was not read.".to_owned());
            self.loaded = Some(loaded.unwrap_or_else(|_| lost()));
        }
    }
}

fn presets(ui: &mut Ui, font: &SoundFont, chosen: &mut Option<(u16, u16)>) {
    let name = |at: &Option<(u16, u16)>| match at {
        None => "Its drum kit".to_owned(),
        Some((bank, program)) => {
            let found = font.presets().iter();
            let mut found = found.filter(|p| (p.bank, p.program) == (*bank, *program));
            let name = found.next().map_or("", |p| p.name.as_str());
            format!("{bank}:{program} {name}")
        }
    };
    let list = ComboBox::from_id_salt("preset")
        .width(270.0)
        .selected_text(name(chosen))
        .show_ui(ui, |ui| {
            ui.selectable_value(chosen, None, name(&None));
            for preset in font.presets() {
                let at = Some((preset.bank, preset.program));
                ui.selectable_value(chosen, at, name(&at));
            }
        });
    list.response
        .on_hover_text("Bank and program; drum kits are in bank 128")
        .accessible_name("Preset");
}
