//! The Stand: what plays now, as large as the window allows, for a class, a
//! lesson or a camera.
//!
//! Gives the letter, the one that follows, count, hand, bar and beat, and the
//! staff with its running mark; one key gives it the full window, where nothing
//! can be clicked.

mod layout;
mod moment;
mod paint;

use std::time::Duration;

use barform_app::words;
use egui::{Align2, FontId, Rect, Sense, Ui};

use super::cell;
use super::desk::Desk;
use super::keys;
use super::palette::Palette;
use crate::handover::Reading;
use layout::{Layout, Wants};
pub use moment::bar_and_beat;
use moment::{Moment, Slots};

/// Seconds for which the way out of the full window is told, and in which it
/// then fades.
const TOLD_S: (f64, f64) = (5.0, 1.5);

/// Seconds between frames while it fades.
const FADE_FRAME_S: f64 = 0.04;

/// What the page keeps between frames.
#[derive(Default)]
pub struct Stand {
    full: bool,
    /// When the full window began, seconds on the window's clock.
    full_since_s: f64,
    /// Counts and hands of a place of a score.
    slots: Option<((u64, usize), Slots)>,
}

impl Stand {
    /// Whether it has the full window.
    pub fn is_full(&self) -> bool {
        self.full
    }

    /// Takes the keys to the full window and back. A widget that has the focus
    /// keeps its Enter.
    pub fn keys(&mut self, ui: &Ui, now_s: f64) {
        let [always, enter] = keys::FULL;
        let focused = ui.memory(|m| m.focused().is_some());
        let pressed = |key| ui.input_mut(|i| i.consume_shortcut(key));
        if self.full && pressed(&keys::LEAVE) {
            self.full = false;
        } else if pressed(&always) || ((self.full || !focused) && pressed(&enter)) {
            self.full = !self.full;
            self.full_since_s = now_s;
            if let Some(id) = ui.memory(|m| m.focused()) {
                ui.memory_mut(|m| m.surrender_focus(id));
            }
        }
    }

    /// Shows the page in the space that is left of a window of a height.
    pub fn show(
        &mut self,
        ui: &mut Ui,
        desk: &mut Desk,
        palette: &Palette,
        reading: &Reading,
        window_height: f32,
    ) {
        let (room, response) = ui.allocate_exact_size(ui.available_size(), Sense::hover());
        if !self.full {
            let [always, enter] = keys::FULL.map(|key| ui.ctx().format_shortcut(&key));
            response
                .clone()
                .on_hover_text(format!("{always} or {enter}: the full window"));
        }
        paint::prepare(ui.ctx());
        let painter = ui.painter_at(room);
        painter.rect_filled(room, 0.0, palette.panel);
        let moment = Moment::of(&desk.shown, reading, desk.params.repeat.value());
        let timeline = desk.shown.checked.timeline.clone();
        let Some(place) = timeline.places.get(moment.place) else {
            let text = "The form has no letters yet. Add some in the Form strip.";
            paint::line(
                &painter,
                room.shrink(40.0),
                Align2::CENTER_CENTER,
                text,
                palette.ink,
            );
            return;
        };
        let letter = |number: u32| words::letter(&timeline.letters[number as usize]);
        let next = moment.next.and_then(|next| timeline.places.get(next));
        let next = next.map(|next| {
            (
                letter(next.letter),
                desk.shown.colours[next.letter as usize],
            )
        });
        let name = letter(place.letter);
        let wants = Wants {
            letter: paint::width(&painter, &name),
            next: next
                .as_ref()
                .map(|(letter, _)| paint::width(&painter, letter)),
            window_height,
            full: self.full,
        };
        let layout = Layout::of(room, &wants);
        let colour = desk.shown.colours[place.letter as usize];
        paint::badge(&painter, layout.letter, layout.letter_cap, &name, colour);
        let of_letter = ui.interact(layout.letter, ui.scope_id().with("letter"), Sense::hover());
        of_letter.widget_info(|| {
            egui::WidgetInfo::labeled(egui::Role::Label, true, format!("Letter {name}"))
        });

        let (count, hand) = self.now(desk, &moment);
        let left = Align2::LEFT_CENTER;
        let section = &timeline.sections[place.section as usize].name;
        let section = if moment.by_key {
            "Played from a key"
        } else {
            section.as_str()
        };
        paint::line(&painter, layout.section, left, section, palette.dim);
        paint::line(&painter, layout.count, left, count, palette.ink);
        paint::line(&painter, layout.hand, left, hand, palette.accent);
        let bar = moment.bar.map_or(String::new(), |(bar, beat)| {
            format!("Bar {bar}   Beat {beat}")
        });
        paint::line(&painter, layout.place, left, &bar, palette.ink);
        if let Some((letter, colour)) = &next {
            let words = ahead(moment.left_beats);
            paint::line(
                &painter,
                layout.ahead,
                Align2::RIGHT_CENTER,
                &words,
                palette.dim,
            );
            paint::badge(&painter, layout.next, layout.next_cap, letter, *colour);
        }
        response.widget_info(|| {
            let next = next.as_ref().map_or("the end", |(letter, _)| letter);
            let said = format!("Stand: {name}. {bar}. {count} {hand}. Next {next}.");
            egui::WidgetInfo::labeled(egui::Role::Canvas, true, said)
        });
        let input = cell_input(&moment, palette, desk.reduced_motion());
        let mut staff = layout.staff;
        staff.max.y -= cell::WEDGE.min(staff.height());
        cell::staff(ui, &mut desk.gallery, &desk.shown, &input, staff);
        if self.full {
            self.hint(ui, desk, palette, layout.hint);
        }
    }

    /// What is counted and struck now.
    fn now(&mut self, desk: &Desk, moment: &Moment) -> (&str, &str) {
        let key = (desk.stamp(), moment.place);
        if self.slots.as_ref().is_none_or(|(of, _)| *of != key) {
            let slots = Slots::of(&desk.shown.checked.timeline, moment.place);
            self.slots = Some((key, slots));
        }
        let slots = self.slots.as_ref();
        let now = moment.into_beats.zip(slots);
        now.map_or(("", ""), |(into, (_, slots))| slots.at(into))
    }

    /// Says how to leave the full window, then fades; with reduced motion it
    /// stays.
    fn hint(&self, ui: &Ui, desk: &Desk, palette: &Palette, rect: Rect) {
        let shown_s = desk.now_s - self.full_since_s;
        let (told, fades) = TOLD_S;
        let left = (1.0 - (shown_s - told) / fades).min(1.0);
        let strength = if desk.reduced_motion() { 1.0 } else { left };
        if strength <= 0.0 {
            return;
        }
        if !desk.reduced_motion() {
            let whole = Duration::from_secs_f64((told - shown_s).max(FADE_FRAME_S));
            ui.ctx().request_repaint_after(whole);
        }
        let [a, b] = keys::FULL.map(|key| ui.ctx().format_shortcut(&key));
        let c = ui.ctx().format_shortcut(&keys::LEAVE);
        let text = format!("{a}, {b} or {c} leaves the full window");
        let place = ui.interact(rect, ui.scope_id().with("hint"), Sense::hover());
        place.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Label, true, &text));
        let font = FontId::proportional((rect.height() * 0.7).clamp(6.0, 15.0));
        let colour = palette.dim.gamma_multiply(strength as f32);
        let painter = ui.painter();
        painter.text(rect.center(), Align2::CENTER_CENTER, text, font, colour);
    }
}

/// The words above the letter that follows.
fn ahead(left_beats: Option<f64>) -> String {
    match left_beats.map(|left| left.max(0.0).ceil() as u32) {
        None | Some(0) => "next".to_owned(),
        Some(1) => "in 1 beat".to_owned(),
        Some(beats) => format!("in {beats} beats"),
    }
}

fn cell_input<'a>(moment: &Moment, palette: &'a Palette, reduced_motion: bool) -> cell::Input<'a> {
    cell::Input {
        palette,
        place: moment.place,
        into_beats: moment.into_beats,
        next: moment.next,
        by_key: moment.by_key,
        reduced_motion,
    }
}

/// The cell that plays, or the one a key plays, or the first, in a small place.
pub fn small(ui: &mut Ui, desk: &mut Desk, palette: &Palette, reading: &Reading) {
    let moment = Moment::of(&desk.shown, reading, desk.params.repeat.value());
    let input = cell_input(&moment, palette, desk.reduced_motion());
    cell::show(ui, &mut desk.gallery, &desk.shown, &input);
}
