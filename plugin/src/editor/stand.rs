//! The Stand: what plays now, as large as the window allows, for a class, a
//! lesson or a camera.

use egui::Ui;

use super::cell;
use super::desk::Desk;
use super::palette::Palette;
use crate::handover::Reading;

/// Shows the cell that plays, or the one a key plays, or the first.
pub fn show(ui: &mut Ui, desk: &mut Desk, palette: &Palette, reading: &Reading) {
    let timeline = &desk.shown.checked.timeline;
    let by_form = reading
        .position_beats
        .and_then(|beats| timeline.place_at(beats));
    let by_key = reading.letter.and_then(|letter| {
        timeline
            .places
            .iter()
            .position(|p| p.letter as usize == letter)
    });
    let place = by_key.or(by_form).unwrap_or(0);
    let start = timeline.places.get(place).map_or(0.0, |p| p.start.to_f64());
    let at_start = reading.position_beats == Some(0.0) && !reading.rolling;
    let into = reading
        .position_beats
        .filter(|_| by_key.is_none() && by_form.is_some() && !at_start)
        .map(|beats| beats - start);
    let next = by_form
        .or(Some(0))
        .filter(|_| by_key.is_none())
        .and_then(|place| desk.shown.next_place(place, desk.params.repeat.value()));
    let input = cell::Input {
        palette,
        place,
        into_beats: into,
        next: if by_key.is_some() { by_form } else { next },
        by_key: by_key.is_some(),
    };
    cell::show(ui, &mut desk.gallery, &desk.shown, &input);
}
