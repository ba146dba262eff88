//! The transport line: which clock rules, where it stands, and the own clock's
//! controls.

use egui::{Key, Modifiers, RichText, Ui};

use super::palette::{Palette, print_letter};
use super::shown::Shown;
use super::stand::bar_and_beat;
use super::widgets::Host;
use crate::handover::{Clock, Reading};
use crate::params::{BarformParams, ClockChoice};

/// What the line asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wish {
    /// The own clock back to the start of the form.
    ToStart,
}

/// Shows the line.
pub fn show(
    ui: &mut Ui,
    params: &BarformParams,
    host: &mut Host,
    shown: &Shown,
    reading: &Reading,
    palette: &Palette,
) -> Option<Wish> {
    let mut wish = keys(ui, params, host, reading);
    let own = reading.clock != Clock::Host;
    ui.horizontal(|ui| {
        clock(ui, reading, palette);
        if own {
            let runs = params.own_run.value();
            let label = if runs { "Stop" } else { "Run" };
            let hint = "Starts and stops the own clock (F5)";
            let button = egui::Button::new(label).min_size(egui::vec2(56.0, 0.0));
            if ui.add(button).on_hover_text(hint).clicked() {
                host.set(&params.own_run, !runs);
            }
            let hint = "Back to the start of the form (F4)";
            if ui.button("To start").on_hover_text(hint).clicked() {
                wish = Some(Wish::ToStart);
            }
        }
        ui.separator();
        tempo(ui, params, host, shown, reading, own);
        ui.separator();
        position(ui, shown, reading, palette);
        if params.bypass.value() {
            ui.separator();
            ui.label(RichText::new("Bypassed").color(palette.error))
                .on_hover_text(
                    "The plugin is silent. Switch Bypass off in the settings or in the host.",
                );
        }
    });
    wish
}

/// The own clock's keys, which work where the line is not shown, too.
pub fn keys(ui: &Ui, params: &BarformParams, host: &mut Host, reading: &Reading) -> Option<Wish> {
    let own = reading.clock != Clock::Host;
    let pressed = |key| ui.input_mut(|i| i.consume_key(Modifiers::NONE, key));
    if pressed(Key::F5) && own {
        host.set(&params.own_run, !params.own_run.value());
    }
    (pressed(Key::F4) && own).then_some(Wish::ToStart)
}

fn clock(ui: &mut Ui, reading: &Reading, palette: &Palette) {
    let (text, hint) = match reading.clock {
        Clock::Host => (
            "Host clock",
            "Position and tempo come from the host. Start its transport to hear the form.",
        ),
        Clock::Own => (
            "Own clock",
            "The built-in transport, chosen in the settings.",
        ),
        Clock::OwnForWant => (
            "Own clock",
            "No host reports a position, so the built-in transport is used.",
        ),
    };
    ui.label(RichText::new(text).strong().color(palette.accent))
        .on_hover_text(hint);
    if reading.clock == Clock::Host {
        let text = if reading.rolling { "runs" } else { "stands" };
        ui.label(RichText::new(text).color(palette.dim));
    }
}

fn tempo(
    ui: &mut Ui,
    params: &BarformParams,
    host: &mut Host,
    shown: &Shown,
    reading: &Reading,
    own: bool,
) {
    let hint = "Tempo in quarter-note beats per minute.";
    if own && params.own_score_tempo.value() {
        let bpm = shown.checked.timeline.tempo.to_f64();
        ui.label(format!("{bpm:.1} BPM (from the score)"))
            .on_hover_text(hint);
        return;
    }
    if !own {
        ui.label(format!("{:.1} BPM", reading.tempo_bpm))
            .on_hover_text(hint);
        return;
    }
    let mut bpm = params.own_tempo.value();
    let drag = egui::DragValue::new(&mut bpm)
        .range(20.0..=400.0)
        .speed(0.25)
        .max_decimals(1)
        .suffix(" BPM");
    let response = ui
        .add(drag)
        .accessible_name("Own clock tempo")
        .on_hover_text(hint);
    if response.changed() {
        host.set(&params.own_tempo, bpm);
    }
}

/// Bar, beat, section, letter by key.
fn position(ui: &mut Ui, shown: &Shown, reading: &Reading, palette: &Palette) {
    let timeline = &shown.checked.timeline;
    let at = reading
        .position_beats
        .and_then(|beats| Some((beats, bar_and_beat(timeline, beats)?)));
    let Some((beats, (bar, beat))) = at else {
        let text = if reading.rolling {
            "Outside of the form"
        } else {
            "–"
        };
        ui.label(RichText::new(text).color(palette.dim));
        return;
    };
    let text = format!("Bar {bar}, beat {beat}");
    ui.add_sized(
        [112.0, 18.0],
        egui::Label::new(text).halign(egui::Align::LEFT),
    )
    .on_hover_text("Bar and beat of the form, counted in the bar's own meter.");
    if let Some(section) = timeline.section_at(beats)
        && !timeline.sections[section].name.is_empty()
    {
        ui.separator();
        ui.label(&timeline.sections[section].name);
    }
    if let Some(letter) = reading
        .letter
        .and_then(|letter| timeline.letters.get(letter))
    {
        ui.separator();
        let text = format!("Key plays {}", print_letter(letter));
        ui.label(RichText::new(text).color(palette.accent));
    }
}

/// Whether a click in the Form strip can move the position.
pub fn can_locate(params: &BarformParams, reading: &Reading) -> bool {
    params.clock.value() == ClockChoice::Own || reading.clock != Clock::Host
}
