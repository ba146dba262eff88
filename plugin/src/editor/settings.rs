//! Every parameter with its unit, in groups, each with a word on what it does.

use std::sync::Arc;

use barform_app::shelf::MAX_LATENCY_MS;
use egui::{DragValue, Grid, RichText, ScrollArea, Ui};

use super::app::scale;
use super::desk::Desk;
use super::keys;
use super::palette::Palette;
use super::widgets::{Host, choice, number, slider, switch, unmute};
use crate::params::BarformParams;
use crate::state::{EditorPrefs, SCALE_RANGE, Theme};

/// Shows all settings.
pub fn show(ui: &mut Ui, desk: &mut Desk, palette: &Palette) {
    let params: Arc<BarformParams> = desk.params.clone();
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        ui.add_space(4.0);
        let two_columns = ui.available_width() > 860.0;
        let columns = if two_columns { 2 } else { 1 };
        ui.columns(columns, |ui| {
            look(&mut ui[0], desk, palette);
            playing_in(&mut ui[0], desk, palette);
            let host = &mut desk.host;
            playing(&mut ui[0], &params, host, palette);
            let last = columns - 1;
            clock(&mut ui[last], &params, host, palette);
            muting(&mut ui[last], &params, host, palette);
            letters(&mut ui[last], &params, host, palette);
            sound(&mut ui[last], &params, host, palette);
        });
    });
}

fn group(ui: &mut Ui, palette: &Palette, title: &str, add: impl FnOnce(&mut Ui)) {
    egui::Frame::new()
        .fill(palette.panel)
        .inner_margin(12)
        .outer_margin(4)
        .show(ui, |ui| {
            ui.set_width(ui.available_width());
            ui.label(RichText::new(title).size(16.0).color(palette.accent));
            ui.add_space(4.0);
            Grid::new(title)
                .num_columns(2)
                .spacing([16.0, 8.0])
                .show(ui, add);
        });
}

/// A row: name, control, and a hint on both.
fn row(ui: &mut Ui, name: &str, hint: &str, add: impl FnOnce(&mut Ui) -> egui::Response) {
    ui.label(name).on_hover_text(hint);
    add(ui).on_hover_text(hint);
    ui.end_row();
}

fn playing(ui: &mut Ui, p: &BarformParams, host: &mut Host, palette: &Palette) {
    group(ui, palette, "Playing", |ui| {
        row(
            ui,
            "Rate",
            "Speed of the whole form against the beat: ×1/2 is half time, ×2 double time.",
            |ui| choice(ui, host, &p.rate),
        );
        row(
            ui,
            "Start bar",
            "The host's bar where the form's first bar line falls, counted in the score's own \
             meter. A pickup comes before it.",
            |ui| number(ui, host, &p.start_bar, 1..=999),
        );
        row(
            ui,
            "At the end",
            "Whether the form starts over at its end.",
            |ui| switch(ui, host, &p.repeat, "Repeat form"),
        );
        row(
            ui,
            "Note length",
            "Time from each note-on to its note-off. Drum samplers mostly ignore it; some choke \
             a cymbal at the note-off.",
            |ui| slider(ui, host, &p.note_ms, 5.0..=1000.0, true),
        );
        row(
            ui,
            "Grace note spacing",
            "Time between the grace notes of a flam, drag or four-stroke ruff, and from the last \
             to its main stroke. Tight is 15 to 25 ms, open 35 and more.",
            |ui| slider(ui, host, &p.grace_ms, 0.0..=100.0, false),
        );
        row(
            ui,
            "Buzz spacing",
            "Time between the bounces of a buzz stroke (z). Smaller is denser.",
            |ui| slider(ui, host, &p.buzz_ms, 10.0..=100.0, false),
        );
    });
}

fn muting(ui: &mut Ui, p: &BarformParams, host: &mut Host, palette: &Palette) {
    group(ui, palette, "Mute", |ui| {
        let hands = "Leaves out all strokes of the hands: play them yourself over the feet.";
        row(ui, "Hands", hands, |ui| {
            switch(ui, host, &p.mute_hands, "Mute hands")
        });
        let feet = "Leaves out the feet of the form; ostinatos go on.";
        row(ui, "Feet", feet, |ui| {
            switch(ui, host, &p.mute_feet, "Mute feet")
        });
        let ostinato = "Leaves out all ostinatos, the patterns on a cycle of their own that run \
                        under the whole form.";
        row(ui, "Ostinatos", ostinato, |ui| {
            switch(ui, host, &p.mute_ostinato, "Mute ostinatos")
        });
        let bypass = "Silence; notes that come in still pass through.";
        row(ui, "Plugin", bypass, |ui| {
            switch(ui, host, &p.bypass, "Bypass")
        });
    });
}

fn clock(ui: &mut Ui, p: &BarformParams, host: &mut Host, palette: &Palette) {
    group(ui, palette, "Clock", |ui| {
        row(
            ui,
            "Follow",
            "Host clock: position and tempo come from the DAW. Internal clock: the built-in \
             transport, also used where a host reports no position.",
            |ui| choice(ui, host, &p.clock),
        );
        let run = "Starts and stops the internal clock (F5 or Ctrl+R).";
        row(ui, "Internal clock", run, |ui| {
            switch(ui, host, &p.own_run, "Playing")
        });
        let from = "The internal clock takes the tempo written in the score.";
        row(ui, "Its tempo", from, |ui| {
            switch(ui, host, &p.own_score_tempo, "From the score")
        });
        row(
            ui,
            "",
            "Tempo of the internal clock in quarter-note beats per minute.",
            |ui| {
                ui.add_enabled_ui(!p.own_score_tempo.value(), |ui| {
                    slider(ui, host, &p.own_tempo, 20.0..=400.0, false)
                })
                .inner
            },
        );
    });
}

fn letters(ui: &mut Ui, p: &BarformParams, host: &mut Host, palette: &Palette) {
    group(ui, palette, "Letter keys", |ui| {
        let keys = "A held key loops its letter in place of the form; let go, \
                    and the form comes back where it is by then. Other keys pass through.";
        row(ui, "Keys", keys, |ui| {
            switch(ui, host, &p.keys, "Play letters by key")
        });
        let first = "MIDI note of the first letter; the next letters follow upwards. 84 and up \
                     lies above the General MIDI percussion notes.";
        row(ui, "First note", first, |ui| {
            number(ui, host, &p.first_key, 0..=127)
        });
        row(
            ui,
            "Start at",
            "Where a letter starts and stops once its key moves.",
            |ui| choice(ui, host, &p.letter_start),
        );
    });
}

fn sound(ui: &mut Ui, p: &BarformParams, host: &mut Host, palette: &Palette) {
    group(ui, palette, "Kit sound", |ui| {
        let on = "The embedded kit. Switch it off when the notes go to your own sampler.";
        row(ui, "Sound", on, |ui| switch(ui, host, &p.sound, "On"));
        let click = "The metronome click on every beat, higher on the first of a bar.";
        row(ui, "Click", click, |ui| {
            unmute(ui, host, &p.mute_click, "Play the click")
        });
        let level = "Level of the embedded kit. Start low: drums and clicks in headphones can \
                     damage hearing.";
        row(ui, "Level", level, |ui| {
            slider(ui, host, &p.level_db, -60.0..=0.0, false)
        });
    });
}

fn look(ui: &mut Ui, desk: &mut Desk, palette: &Palette) {
    let prefs = desk.session().prefs();
    let mut wanted = prefs;
    group(ui, palette, "Look", |ui| {
        let theme = "Dark for a stage or a control room, light for a classroom.";
        row(ui, "Theme", theme, |ui| {
            ui.horizontal(|ui| {
                ui.radio_value(&mut wanted.theme, Theme::Dark, "Dark");
                ui.radio_value(&mut wanted.theme, Theme::Light, "Light");
            })
            .response
        });
        scale_row(ui, &mut wanted);
        let motion = "No animation: nothing scrolls smoothly or fades.";
        row(ui, "Motion", motion, |ui| {
            let mut reduced = desk.reduced_motion();
            let response = ui.checkbox(&mut reduced, "Reduced motion");
            if response.changed() {
                desk.prefs.set(|prefs| prefs.reduced_motion = reduced);
            }
            response
        });
    });
    if wanted != prefs {
        scale::look(desk, wanted);
    }
    let about = "The session keeps theme, scale and size of this window. A new instance starts \
                 with the theme and scale selected last.";
    let (text, colour) = match desk.prefs.trouble() {
        Some(trouble) => (
            format!("Not kept for new instances: {trouble}"),
            palette.error,
        ),
        None => (about.to_owned(), palette.dim),
    };
    ui.indent("kept", |ui| {
        ui.label(RichText::new(text).small().color(colour));
    });
}

fn scale_row(ui: &mut Ui, wanted: &mut EditorPrefs) {
    let key = |key: &egui::KeyboardShortcut| ui.ctx().format_shortcut(key);
    let (larger, smaller) = (key(&keys::LARGER[0]), key(&keys::SMALLER[0]));
    let normal = key(&keys::NORMAL);
    let (least, most) = SCALE_RANGE;
    let hint = format!(
        "Size of everything in the window, {least} to {most} % ({larger}, {smaller}, {normal})."
    );
    row(ui, "Scale", &hint, |ui| {
        ui.horizontal(|ui| {
            let percent = wanted.zoom_percent;
            let down = ui.add_enabled(percent > least, egui::Button::new("−"));
            if down.accessible_name("Smaller").clicked() {
                wanted.zoom_percent = scale::step(percent, false);
            }
            ui.label(format!("{percent} %"));
            let up = ui.add_enabled(percent < most, egui::Button::new("+"));
            if up.accessible_name("Larger").clicked() {
                wanted.zoom_percent = scale::step(percent, true);
            }
            let normal = ui.add_enabled(percent != 100, egui::Button::new("Normal"));
            if normal.accessible_name("Scale 100 %").clicked() {
                wanted.zoom_percent = 100;
            }
        })
        .response
    });
}

/// What concerns strokes that come in.
fn playing_in(ui: &mut Ui, desk: &mut Desk, palette: &Palette) {
    group(ui, palette, "Playing in", |ui| {
        let hint = "How much later a stroke played in arrives than it was meant, in milliseconds: \
                    the way of the sound to the ear and of the stroke back. It is subtracted \
                    before a stroke is put on its slot. Negative if strokes arrive early.";
        row(ui, "Latency offset", hint, |ui| {
            let mut ms = desk.latency_offset_ms();
            let drag = DragValue::new(&mut ms)
                .range(-MAX_LATENCY_MS..=MAX_LATENCY_MS)
                .speed(0.5)
                .max_decimals(1)
                .update_while_editing(false)
                .suffix(" ms");
            let response = ui.add(drag).accessible_name("Latency offset");
            if response.changed() {
                desk.prefs.set(|prefs| prefs.latency_offset_ms = ms);
            }
            response
        });
    });
}
