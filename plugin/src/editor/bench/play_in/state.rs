//! What was played so far, and how well in time.

use barform_app::played::to_ms;
use barform_app::words;
use barform_app::words::count;
use egui::{Label, RichText, Ui};

use super::super::super::palette::Palette;
use super::recording::Recording;
use super::ruler;

/// Strokes that are listed.
const LISTED: usize = 4;

/// Shows it; `bpm` is the tempo in quarter-note beats per minute, `position` the
/// beats into the round. Returns whether the latency offset is to make up for
/// what all strokes have in common.
pub fn show(
    ui: &mut Ui,
    recording: Option<&Recording>,
    bpm: f64,
    position: Option<f64>,
    palette: &Palette,
) -> bool {
    let Some(recording) = recording else {
        let about = "Strike your pads, or let the computer keyboard play: each stroke goes \
                         to the nearest slot of the cell's grid.";
        ui.add(Label::new(RichText::new(about).color(palette.dim)).wrap());
        return false;
    };
    let state = if recording.running && position.is_none() {
        "Not running yet: is the host's audio running?".to_owned()
    } else if recording.counts_in() {
        let left = recording.rounds_ahead - recording.clock.round();
        match left {
            1 => "Count-in: you begin with the next round.".to_owned(),
            _ => format!("Count-in: you begin in {left} rounds."),
        }
    } else if recording.running {
        "Play.".to_owned()
    } else {
        "Stopped.".to_owned()
    };
    ui.add(Label::new(RichText::new(&state).strong().color(palette.ink)).wrap());
    let median = recording.take.median_off().map(|off| to_ms(off, bpm));
    let strokes = count(recording.take.hits().len(), "stroke");
    let whole = match median {
        Some(ms) => format!("{strokes}, on average {}", words::lateness(ms)),
        None => "Nothing played yet".to_owned(),
    };
    let label = format!("Strokes in the round: {whole}");
    ruler::show(ui, palette, &recording.take, position, &label);
    let mut wanted = false;
    let late = median.map(f64::round).filter(|ms| ms.abs() >= 1.0);
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new(&whole).color(palette.ink));
        if late.is_some() {
            let make_up = ui.small_button("Compensate");
            let hint = "Adds it to the latency offset, for all strokes from now on";
            if make_up.on_hover_text(hint).clicked() {
                wanted = true;
            }
        }
    });
    for hit in recording.newest(LISTED) {
        let line = RichText::new(words::hit(hit, bpm)).small();
        ui.add(Label::new(line.color(palette.dim)).wrap());
    }
    if let Some(played) = &recording.played {
        for line in &recording.lines {
            let line = RichText::new(line).monospace().size(12.0);
            ui.add(Label::new(line.color(palette.ink)).extend());
        }
        for told in &played.told {
            ui.add(Label::new(RichText::new(told).small().color(palette.dim)).wrap());
        }
    }
    let problems = recording.problem.iter().cloned();
    for line in problems.chain(recording.unknown_told()) {
        ui.add(Label::new(RichText::new(line).small().color(palette.error)).wrap());
    }
    wanted
}
