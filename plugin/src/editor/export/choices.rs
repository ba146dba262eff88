//! What can be chosen in the panel for each kind of file: paper, what is played,
//! how it sounds.

use barform_app::export::audio::{Grouping, Part, SampleFormat};
use barform_app::export::{MAX_EMPTY_BARS, MAX_PASSES};
use barform_app::music::Beats;
use barform_app::orders::{AudioOptions, Kind, MidiOptions, SheetOptions, Stems};
use barform_app::sheet::engrave::{Paper, Style};
use barform_app::sheet::notate::Fold;
use barform_app::timeline::Timeline;
use barform_app::words;
use egui::{ComboBox, DragValue, Grid, Ui};

use super::super::palette::Palette;
use super::font::Font;

/// Loudness that is offered first, LUFS: what streaming services play at.
/// Common practice, no source.
const LOUDNESS_LUFS: f64 = -16.0;

/// Paper and how much of the form is written out.
pub fn pages(ui: &mut Ui, pages: &mut SheetOptions) {
    let style = &mut pages.style;
    ui.horizontal_wrapped(|ui| {
        ui.selectable_value(&mut style.paper, Paper::A4, "A4")
            .on_hover_text("210 by 297 mm");
        ui.selectable_value(&mut style.paper, Paper::LETTER, "US Letter")
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
            ui.selectable_value(&mut pages.fold, fold, name)
                .on_hover_text(hint);
        }
        ui.separator();
        let mut large = style.staff_height_mm == Style::LARGE_STAFF_MM;
        ui.checkbox(&mut large, "Large print")
            .on_hover_text("Half as large again");
        style.staff_height_mm = if large {
            Style::LARGE_STAFF_MM
        } else {
            Style::NORMAL_STAFF_MM
        };
    });
}

/// What is played, and for audio how it sounds.
pub fn sound(
    ui: &mut Ui,
    palette: &Palette,
    kind: Kind,
    timeline: &Timeline,
    playing: &mut MidiOptions,
    audio: &mut AudioOptions,
    font: &mut Font,
) {
    let is_audio = kind.is_audio();
    Grid::new("sound")
        .num_columns(2)
        .spacing([14.0, 6.0])
        .show(ui, |ui| {
            ui.label("Play");
            ui.horizontal(|ui| what(ui, is_audio, timeline, playing, audio));
            ui.end_row();
            ui.label("Before");
            ui.horizontal(|ui| before(ui, playing));
            ui.end_row();
            ui.label("Tempo");
            ui.horizontal(|ui| tempo(ui, timeline, playing));
            ui.end_row();
            ui.label("Leave out");
            ui.horizontal(|ui| {
                let mute = &mut playing.mute;
                ui.checkbox(&mut mute.hands, "Hands")
                    .on_hover_text("The hands' strokes: play them yourself over the feet");
                ui.checkbox(&mut mute.feet, "Feet")
                    .on_hover_text("The feet of the form; ostinatos go on");
                ui.checkbox(&mut mute.ostinato, "Ostinatos")
                    .on_hover_text("Patterns on a cycle of their own under the whole form");
            });
            ui.end_row();
            if is_audio {
                how(ui, palette, kind, audio, font);
            }
        });
}

fn what(
    ui: &mut Ui,
    is_audio: bool,
    timeline: &Timeline,
    playing: &mut MidiOptions,
    audio: &mut AudioOptions,
) {
    if is_audio {
        let name = |part: &Part| match part {
            Part::Form => "the form".to_owned(),
            Part::Letter(letter) => format!("letter {}", words::letter(letter)),
        };
        if let Part::Letter(letter) = &audio.part
            && !timeline.letters.contains(letter)
        {
            audio.part = Part::Form;
        }
        let letters = timeline.letters.iter().cloned().map(Part::Letter);
        let list = ComboBox::from_id_salt("what")
            .selected_text(name(&audio.part))
            .show_ui(ui, |ui| {
                for part in [Part::Form].into_iter().chain(letters) {
                    let name = name(&part);
                    ui.selectable_value(&mut audio.part, part, name);
                }
            });
        list.response
            .on_hover_text("The whole form, or one letter looped")
            .accessible_name("What is played");
    } else {
        ui.label("the form");
    }
    ui.add(DragValue::new(&mut playing.passes).range(1..=MAX_PASSES))
        .accessible_name("Times")
        .on_hover_text("How often it is played");
    ui.label(if playing.passes == 1 { "time" } else { "times" });
}

fn before(ui: &mut Ui, playing: &mut MidiOptions) {
    ui.add(DragValue::new(&mut playing.empty_bars).range(0..=MAX_EMPTY_BARS))
        .accessible_name("Count-in bars")
        .on_hover_text("Bars of count-in before the form; only the click plays");
    ui.label(if playing.empty_bars == 1 {
        "count-in bar"
    } else {
        "count-in bars"
    });
    let mut click = !playing.mute.click;
    ui.checkbox(&mut click, "Click")
        .on_hover_text("The metronome plays along, in the count-in bars too");
    playing.mute.click = !click;
}

fn tempo(ui: &mut Ui, timeline: &Timeline, playing: &mut MidiOptions) {
    let tenths = |bpm: f64| Beats::new((bpm * 10.0).round() as i64, 10);
    let of_score = timeline.tempo.to_f64();
    let mut own = playing.tempo.is_none();
    if ui.checkbox(&mut own, "From the score").changed() {
        playing.tempo = (!own).then_some(tenths(of_score));
    }
    let mut bpm = playing.tempo.map_or(of_score, Beats::to_f64);
    let drag = DragValue::new(&mut bpm)
        .range(20.0..=400.0)
        .speed(0.25)
        .max_decimals(1)
        .suffix(" BPM");
    let response = ui.add_enabled(!own, drag);
    if response.changed() {
        playing.tempo = Some(tenths(bpm));
    }
    response
        .accessible_name("Tempo of the file")
        .on_hover_text("In quarter-note beats per minute");
}

fn how(ui: &mut Ui, palette: &Palette, kind: Kind, audio: &mut AudioOptions, font: &mut Font) {
    ui.label("Samples");
    ui.horizontal(|ui| {
        for (sample, name, hint) in [
            (SampleFormat::Int16, "16 bit", "As on a compact disc"),
            (SampleFormat::Int24, "24 bit", "For further production"),
            (SampleFormat::Float32, "32 bit", "Floating point, WAV only"),
        ] {
            let fits = kind == Kind::Wav || sample != SampleFormat::Float32;
            ui.add_enabled_ui(fits, |ui| {
                ui.selectable_value(&mut audio.format.sample, sample, name)
                    .on_hover_text(hint);
            });
        }
        ui.separator();
        for (hz, name) in [(44_100, "44.1 kHz"), (48_000, "48 kHz"), (96_000, "96 kHz")] {
            ui.selectable_value(&mut audio.format.rate_hz, hz, name)
                .on_hover_text("Sample rate");
        }
    });
    ui.end_row();
    ui.label("Level");
    ui.horizontal(|ui| loudness(ui, audio));
    ui.end_row();
    ui.label("End");
    let mut cut = audio.tail_s.is_some();
    ui.checkbox(&mut cut, "Cut at the end")
        .on_hover_text("For a seamless loop; otherwise the last stroke rings out");
    audio.tail_s = cut.then_some(0.0);
    ui.end_row();
    ui.label("Stems");
    ui.horizontal(|ui| {
        for (grouping, name, hint) in [
            (None, "One file", "The whole kit"),
            (
                Some(Grouping::Voices),
                "A file for each voice",
                "In a folder; all together add up to the whole kit",
            ),
            (
                Some(Grouping::Groups),
                "For each group",
                "Toms, hats and cymbals share a file each",
            ),
        ] {
            let stems = grouping.map(|grouping| Stems {
                grouping,
                name: None,
            });
            ui.selectable_value(&mut audio.stems, stems, name)
                .on_hover_text(hint);
        }
    });
    ui.end_row();
    ui.label("Sound");
    ui.horizontal(|ui| font.choice(ui));
    ui.end_row();
    if font.on {
        ui.label("");
        ui.vertical(|ui| font.file(ui, palette));
        ui.end_row();
    }
}

fn loudness(ui: &mut Ui, audio: &mut AudioOptions) {
    let mut as_it_is = audio.level.target_lufs.is_none();
    if ui.checkbox(&mut as_it_is, "As it is").changed() {
        audio.level.target_lufs = (!as_it_is).then_some(LOUDNESS_LUFS);
    }
    let mut lufs = audio.level.target_lufs.unwrap_or(LOUDNESS_LUFS);
    let drag = DragValue::new(&mut lufs)
        .range(-60.0..=-5.0)
        .speed(0.1)
        .max_decimals(1)
        .suffix(" LUFS");
    let response = ui.add_enabled(!as_it_is, drag);
    if response.changed() {
        audio.level.target_lufs = Some(lufs);
    }
    response.accessible_name("Loudness").on_hover_text(
        "Integrated loudness (EBU R 128) to reach, as far as -1 dB true peak allows",
    );
}
