//! How a cell is played in: what the user has set.
//!
//! The latency offset is the user's own, the same as on the Settings page; the
//! rest lasts as long as the window.

use barform_app::music::Velocity;
use barform_app::played::{Loudness, Over};
use barform_app::score::Score;
use barform_app::shelf::MAX_LATENCY_MS;
use egui::{DragValue, Label, RichText, Ui};

use super::super::super::desk::Desk;
use super::super::super::palette::Palette;
use super::keys;

/// All of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// What becomes of the strokes that are there.
    pub over: Over,
    /// Whether a bar goes ahead.
    pub count_in: bool,
    /// Whether a click goes along.
    pub click: bool,
    /// Whether the strokes that are in the cell so far are heard.
    pub play_back: bool,
    /// Whether what is struck on a MIDI instrument sounds here.
    pub sound: bool,
    /// Whether the computer keyboard plays.
    pub keys: bool,
    /// In quarter-note beats per minute, if not the score's.
    pub tempo_bpm: Option<f64>,
    /// How late strokes come, in milliseconds.
    pub late_ms: f64,
    /// What is a ghost note and what an accent.
    pub loudness: Loudness,
    /// That, while it is being set.
    dragged_ms: Option<f64>,
    /// How the player's kit stands, by its name in the rules.
    pub setup: String,
}

impl Default for Settings {
    fn default() -> Self {
        Settings {
            over: Over::Replace,
            count_in: true,
            click: true,
            play_back: true,
            sound: false,
            keys: false,
            tempo_bpm: None,
            late_ms: 0.0,
            loudness: Loudness::default(),
            dragged_ms: None,
            setup: "right-handed".to_owned(),
        }
    }
}

impl Settings {
    /// The tempo in quarter-note beats per minute.
    pub fn bpm(&self, score: &Score) -> f64 {
        self.tempo_bpm.unwrap_or(score.tempo.to_f64())
    }

    /// Takes the latency as the user has it, unless it is being set here.
    pub fn follow(&mut self, desk: &Desk) {
        self.late_ms = self.dragged_ms.unwrap_or(desk.latency_offset_ms());
    }

    /// Sets the latency, and keeps it in the user's folder.
    pub fn set_late(&mut self, desk: &mut Desk, ms: f64) {
        let whole = ms.round().clamp(-MAX_LATENCY_MS, MAX_LATENCY_MS);
        self.dragged_ms = None;
        self.late_ms = whole;
        desk.prefs.set(|prefs| prefs.latency_offset_ms = whole);
        if let Some(trouble) = desk.prefs.trouble() {
            let line = format!("The latency offset is not kept: {trouble}");
            desk.tell(line);
        }
    }

    /// The settings as controls. Returns whether the click changed.
    pub fn show(&mut self, ui: &mut Ui, desk: &mut Desk, palette: &Palette) -> bool {
        let mut changed = false;
        let dim = |text: &str| RichText::new(text).small().color(palette.dim);
        ui.horizontal_wrapped(|ui| {
            ui.radio_value(&mut self.over, Over::Replace, "Replace")
                .on_hover_text("What you play replaces what is there");
            ui.radio_value(&mut self.over, Over::Overdub, "Overdub")
                .on_hover_text("What you play is added to what is there");
        });
        ui.horizontal_wrapped(|ui| {
            changed |= ui
                .checkbox(&mut self.click, "Click")
                .on_hover_text("A click on each beat, at the tempo above the staff")
                .accessible_name("Click to play to")
                .changed();
            ui.checkbox(&mut self.count_in, "Count-in")
                .on_hover_text("At least one bar, in whole rounds of the cell");
        });
        ui.checkbox(&mut self.play_back, "Play it back")
            .on_hover_text("What you have played so far is heard in the next round");
        ui.checkbox(&mut self.sound, "Monitor pads").on_hover_text(
            "Plays what you strike, a little late: for pads with no sound of their own",
        );
        ui.checkbox(&mut self.keys, "Computer keyboard")
            .on_hover_text("Letter keys play while this listens");
        if self.keys {
            for line in keys::legend() {
                ui.add(Label::new(dim(&line)).wrap());
            }
        }
        self.show_latency(ui, desk, palette);
        self.show_loudness(ui, palette);
        changed
    }

    fn show_latency(&mut self, ui: &mut Ui, desk: &mut Desk, palette: &Palette) {
        ui.horizontal_wrapped(|ui| {
            ui.label("Latency");
            let mut ms = self.late_ms;
            let drag = DragValue::new(&mut ms)
                .range(-MAX_LATENCY_MS..=MAX_LATENCY_MS)
                .speed(0.5)
                .max_decimals(0)
                .suffix(" ms");
            let response = ui.add(drag);
            if response.changed() {
                self.dragged_ms = Some(ms);
            }
            if response.drag_stopped() || response.lost_focus() {
                self.set_late(desk, ms);
            }
            response
                .on_hover_text("Latency of instrument and headphones, subtracted from each stroke")
                .accessible_name("Latency offset");
        });
        let about = "Play along with the click, then see below how late you are on average.";
        let about = RichText::new(about).small().color(palette.dim);
        ui.add(Label::new(about).wrap());
    }

    fn show_loudness(&mut self, ui: &mut Ui, palette: &Palette) {
        ui.horizontal_wrapped(|ui| {
            let mut ghost = self.loudness.ghost_below.value();
            let mut accent = self.loudness.accent_from.value();
            ui.label("Ghost below");
            let below = ui.add(DragValue::new(&mut ghost).range(1..=accent).speed(0.3));
            ui.label("accent from");
            let from = ui.add(DragValue::new(&mut accent).range(ghost..=127).speed(0.3));
            if below.changed() || from.changed() {
                self.loudness = Loudness {
                    ghost_below: Velocity::clamped(f64::from(ghost)),
                    accent_from: Velocity::clamped(f64::from(accent)),
                };
            }
            below.accessible_name("Ghost notes below velocity");
            from.accessible_name("Accents from velocity");
        });
        let about = "MIDI velocities, 1 to 127. Common practice; pads differ, so set your own.";
        let about = RichText::new(about).small().color(palette.dim);
        ui.add(Label::new(about).wrap());
    }
}
