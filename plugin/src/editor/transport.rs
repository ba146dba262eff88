//! The transport line: which clock rules, where it stands, and the own clock's
//! controls.

use egui::{Key, Modifiers, RichText, Ui};

use super::palette::{Palette, print_letter};
use super::shown::Shown;
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
    let mut wish = None;
    let own = reading.clock != Clock::Host;
    let run_key = ui.input_mut(|i| i.consume_key(Modifiers::NONE, Key::F5));
    let start_key = ui.input_mut(|i| i.consume_key(Modifiers::NONE, Key::F4));
    ui.horizontal(|ui| {
        clock(ui, reading, palette);
        if own {
            let runs = params.own_run.value();
            let label = if runs { "Stop" } else { "Run" };
            let hint = "Starts and stops the own clock (F5)";
            let button = egui::Button::new(label).min_size(egui::vec2(56.0, 0.0));
            if ui.add(button).on_hover_text(hint).clicked() || run_key {
                host.set(&params.own_run, !runs);
            }
            let hint = "Back to the start of the form (F4)";
            if ui.button("To start").on_hover_text(hint).clicked() || start_key {
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
        .and_then(|beats| Some((beats, timeline.bar_at(beats)?)));
    let Some((beats, bar)) = at else {
        let text = if reading.rolling {
            "Outside of the form"
        } else {
            "–"
        };
        ui.label(RichText::new(text).color(palette.dim));
        return;
    };
    let bar = &timeline.bars[bar];
    let unit = 4.0 / f64::from(bar.meter.unit());
    let mut into = beats - bar.start.to_f64();
    if bar.number == 0 {
        // A pickup is counted as the end of a full bar.
        into += bar.meter.bar().to_f64() - timeline.pickup.to_f64();
    }
    let beat = (into / unit).floor() as i64 + 1;
    let text = format!("Bar {}, beat {beat}", bar.number);
    ui.add_sized(
        [112.0, 18.0],
        egui::Label::new(text).halign(egui::Align::LEFT),
    )
    .on_hover_text(format!(
        "Bar and beat of the form, counted in {}.",
        bar.meter
    ));
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
