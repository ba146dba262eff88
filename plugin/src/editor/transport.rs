//! The transport line: which clock rules, where it stands, and the own clock's
//! controls, tapping included.
//!
//! The line is one row at any width the window can have.

use barform_app::words;
use egui::{Align, Event, KeyboardShortcut, Layout, PointerButton, RichText, Ui};

use super::keys;
use super::palette::Palette;
use super::shown::Shown;
use super::stand::bar_and_beat;
use super::widgets::Host;
use crate::handover::{Clock, Reading};
use crate::params::{BarformParams, ClockChoice};
use barform_app::played::Taps;

/// Width of the window in points below which the line is set closer.
const NARROW: f32 = 850.0;

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
    let own = is_own(reading);
    ui.horizontal(|ui| {
        if ui.available_width() < NARROW {
            ui.spacing_mut().item_spacing.x = 4.0;
            ui.spacing_mut().button_padding.x = 4.0;
        }
        clock(ui, reading, palette);
        if own {
            let runs = params.own_run.value();
            let label = if runs { "Stop" } else { "Play" };
            let hint = "Starts and stops the internal clock (Space, F5 or Ctrl+R)";
            let button = egui::Button::new(label).min_size(egui::vec2(56.0, 0.0));
            if ui.add(button).on_hover_text(hint).clicked() {
                host.set(&params.own_run, !runs);
            }
            let hint = "Back to the start of the form (F4 or Ctrl+B)";
            if ui.button("To start").on_hover_text(hint).clicked() {
                wish = Some(Wish::ToStart);
            }
        }
        ui.separator();
        tempo(ui, params, host, shown, reading, own);
        if own {
            tap(ui, params, host);
        }
        ui.separator();
        position(ui, params, shown, reading, palette);
    });
    wish
}

/// The own clock's keys, which work where the line is not shown, too. While
/// something is typed, the space bar is a part of it.
pub fn keys(
    ui: &Ui,
    params: &BarformParams,
    host: &mut Host,
    reading: &Reading,
    writing: bool,
) -> Option<Wish> {
    if !is_own(reading) {
        return None;
    }
    let mut run = keys::RUN
        .iter()
        .filter(|key| !writing || **key != keys::RUN[0]);
    if run.any(|key| key_lands(ui, key)) {
        host.set(&params.own_run, !params.own_run.value());
    }
    let pressed = |key: &KeyboardShortcut| ui.input_mut(|i| i.consume_shortcut(key));
    keys::TO_START.iter().any(pressed).then_some(Wish::ToStart)
}

/// Whether the own clock rules.
pub fn is_own(reading: &Reading) -> bool {
    reading.clock != Clock::Host
}

/// Which clock rules, as a badge: filled for the own clock, outlined for the
/// host's.
fn clock(ui: &mut Ui, reading: &Reading, palette: &Palette) {
    let (text, state, hint) = match reading.clock {
        Clock::Host => (
            "Host clock",
            if reading.rolling {
                "playing"
            } else {
                "stopped"
            },
            "Position and tempo come from the host. Start its transport to hear the form.",
        ),
        Clock::Own => (
            "Internal clock",
            "",
            "The built-in transport, selected in the settings: the form does not follow the host.",
        ),
        Clock::OwnForWant => (
            "Internal clock",
            "no host transport",
            "No host reports a position and a tempo, so the built-in transport is used.",
        ),
    };
    let (fill, ink) = if is_own(reading) {
        (palette.accent, palette.ground)
    } else {
        (egui::Color32::TRANSPARENT, palette.accent)
    };
    let badge = egui::Frame::new()
        .fill(fill)
        .stroke(egui::Stroke::new(1.0, palette.accent))
        .corner_radius(4)
        .inner_margin(egui::Margin::symmetric(8, 2))
        .show(ui, |ui| {
            ui.label(RichText::new(text).strong().color(ink))
                .on_hover_text(hint)
        });
    badge.response.on_hover_text(hint);
    if !state.is_empty() {
        ui.label(RichText::new(state).color(palette.dim))
            .on_hover_text(hint);
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
        ui.label(format!("{bpm:.1} BPM (score)")).on_hover_text(
            "The score's tempo in quarter-note beats per minute. Tap another, or set one in the \
             settings.",
        );
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
        .accessible_name("Internal clock tempo")
        .on_hover_text(hint);
    if response.changed() {
        host.set(&params.own_tempo, bpm);
    }
}

/// The own clock's tempo, tapped.
fn tap(ui: &mut Ui, params: &BarformParams, host: &mut Host) {
    let hint = "Tap the beat here, on F6 or on Ctrl+U: the internal clock takes the tempo from \
                the second tap on";
    let response = ui.button("Tap").on_hover_text(hint);
    // A tap counts when it lands, not when it lets go.
    let landed = response.contains_pointer() && ui.input(|i| i.pointer.primary_pressed());
    let otherwise = response.clicked() && !response.clicked_by(PointerButton::Primary);
    let by_key = keys::TAP.iter().any(|key| key_lands(ui, key));
    if !(landed || otherwise || by_key) {
        return;
    }
    let now_s = ui.input(|i| i.time);
    // The series is kept with the button, as a scroll position would be.
    let taps = |data: &mut egui::util::IdTypeMap| {
        let taps: &mut Taps = data.get_temp_mut_or_default(response.id);
        taps.tap(now_s)
    };
    if let Some(bpm) = ui.data_mut(taps) {
        // What the control beside it shows.
        let bpm = (bpm * 10.0).round() / 10.0;
        host.set(&params.own_tempo, bpm as f32);
        if params.own_score_tempo.value() {
            host.set(&params.own_score_tempo, false);
        }
    }
}

/// Whether a key goes down; one that is held does so once.
fn key_lands(ui: &Ui, wanted: &KeyboardShortcut) -> bool {
    ui.input_mut(|input| {
        let mut landed = false;
        input.events.retain(|event| match event {
            Event::Key {
                key,
                pressed: true,
                repeat,
                modifiers,
                ..
            } if *key == wanted.logical_key && modifiers.matches_exact(wanted.modifiers) => {
                landed |= !repeat;
                false
            }
            _ => true,
        });
        landed
    })
}

/// Bar, beat, section, letter by key. What is of any length comes last and
/// gives way.
fn position(
    ui: &mut Ui,
    params: &BarformParams,
    shown: &Shown,
    reading: &Reading,
    palette: &Palette,
) {
    let timeline = &shown.checked.timeline;
    let at = reading
        .position_beats
        .and_then(|beats| Some((beats, bar_and_beat(timeline, beats)?)));
    match at {
        Some((_, (bar, beat))) => {
            let text = format!("Bar {bar}, beat {beat}");
            let hint = "Bar and beat of the form, counted in the bar's own meter.";
            // Always as wide, so that what follows stands still.
            let size = egui::vec2(112.0, 18.0);
            ui.allocate_ui_with_layout(size, Layout::left_to_right(Align::Center), |ui| {
                ui.set_min_width(size.x);
                ui.label(text).on_hover_text(hint);
            });
        }
        None => {
            let text = if reading.rolling {
                "Outside of the form"
            } else {
                "–"
            };
            ui.label(RichText::new(text).color(palette.dim));
        }
    }
    let end = Layout::right_to_left(Align::Center);
    ui.with_layout(end, |ui| {
        if params.bypass.value() {
            let text = RichText::new("Bypassed").color(palette.error);
            ui.label(text).on_hover_text(
                "The plugin is silent. Switch Bypass off in the settings or in the host.",
            );
        }
        let letter = reading
            .letter
            .and_then(|letter| timeline.letters.get(letter));
        if let Some(letter) = letter {
            let text = format!("Key plays {}", words::letter(letter));
            let text = RichText::new(text).color(palette.accent);
            ui.label(text)
                .on_hover_text("A letter key is held: its letter sounds in place of the form.");
        }
        let section = at.and_then(|(beats, _)| timeline.section_at(beats));
        let name = section.map_or("", |section| &timeline.sections[section].name);
        if !name.is_empty() {
            ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                ui.separator();
                // Shows the whole name when hovered where it is cut short.
                ui.add(egui::Label::new(name).truncate());
            });
        }
    });
}

/// Whether a click in the Form strip can move the position.
pub fn can_locate(params: &BarformParams, reading: &Reading) -> bool {
    params.clock.value() == ClockChoice::Own || is_own(reading)
}
