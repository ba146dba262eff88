//! The Kit page: which voices there are, in what order round the kit, and which
//! MIDI key, channel and velocities each of them plays.
//!
//! Gives changes of the score's kit, single strokes to hear, key maps in the
//! user's folder. Left the voices, right the chosen one or the kept maps.

mod detail;
mod heads;
mod learn;
mod list;
mod maps;
mod order;

use std::time::Duration;

use barform_app::music::{Articulation, Kit, Level, Limb, Voice};
use barform_app::timeline::Note;
use egui::{Key, Modifiers, Panel, ScrollArea, Ui};

use super::desk::{Desk, Spot};
use super::palette::Palette;
use super::shelf::is_covered;
use crate::handover::Reading;
use barform_app::answers::KitUse;
use detail::Detail;
use heads::Heads;
use learn::{Learn, Struck};
use list::List;
use maps::Maps;

/// Time between looks at the notes that come in while a key is learned.
const LISTEN: Duration = Duration::from_millis(30);

/// What the page keeps between frames.
pub struct KitPage {
    chosen: Voice,
    /// The chosen row is to be brought into view.
    reveal: bool,
    learn: Option<Learn>,
    heads: Heads,
    /// Worked out of the score of this stamp.
    facts: Option<(u64, KitUse)>,
    maps: Maps,
    /// The right side shows the kept maps.
    shows_maps: bool,
    /// Whether the page was in view in the last frame.
    in_view: bool,
}

impl Default for KitPage {
    fn default() -> Self {
        KitPage {
            chosen: Voice::Snare,
            reveal: false,
            learn: None,
            heads: Heads::default(),
            facts: None,
            maps: Maps::default(),
            shows_maps: false,
            in_view: false,
        }
    }
}

impl KitPage {
    /// Shows the page in the space that is left.
    pub fn show(&mut self, ui: &mut Ui, desk: &mut Desk, palette: &Palette, _: &Reading) {
        if !std::mem::replace(&mut self.in_view, true) {
            self.maps.look(ui.ctx(), desk);
        }
        self.maps.poll(desk);
        self.listen(ui, desk);
        let stamp = desk.stamp();
        let facts = match self.facts.take() {
            Some((at, facts)) if at == stamp => facts,
            _ => KitUse::of(desk.score()),
        };
        self.keys(ui, desk, &facts);

        let width = (ui.available_width() * 0.36).clamp(250.0, 380.0);
        Panel::left("kit voices")
            .resizable(false)
            .exact_size(width)
            .show(ui, |ui| self.list(ui, desk, palette));
        egui::CentralPanel::default().show(ui, |ui| {
            self.head(ui, desk);
            ui.separator();
            if self.shows_maps {
                self.maps.show(ui, desk, palette);
                return;
            }
            ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
                let detail = Detail {
                    heads: &mut self.heads,
                    facts: &facts,
                    learn: &mut self.learn,
                    palette,
                };
                detail.show(ui, desk, self.chosen);
            });
        });
        self.facts = Some((stamp, facts));
    }

    /// The page is not in view: nothing listens.
    pub fn away(&mut self, desk: &Desk) {
        if std::mem::take(&mut self.in_view) && self.learn.take().is_some() {
            Learn::end(desk);
        }
    }

    fn list(&mut self, ui: &mut Ui, desk: &mut Desk, palette: &Palette) {
        let before = self.chosen;
        let list = List {
            kit: &desk.score().kit,
            heads: &mut self.heads,
            chosen: &mut self.chosen,
            reveal: std::mem::take(&mut self.reveal),
            palette,
        };
        if let Some(voice) = list.show(ui) {
            self.shows_maps = false;
            let accent = ui.input(|i| i.modifiers.shift);
            let level = if accent { Level::Accent } else { Level::Normal };
            hear(desk, (voice, Articulation::Plain), level);
        }
        if before != self.chosen {
            self.drop_learning(desk);
        }
    }

    /// What the right side shows, and the whole kit as it was at first.
    fn head(&mut self, ui: &mut Ui, desk: &mut Desk) {
        let before = self.shows_maps;
        ui.horizontal_wrapped(|ui| {
            for (maps, text, hint) in [
                (false, "Voice", "The selected voice"),
                (true, "Key maps", "Kits kept for every score"),
            ] {
                let label = ui.selectable_label(self.shows_maps == maps, text);
                if label.on_hover_text(hint).clicked() {
                    self.shows_maps = maps;
                }
            }
            ui.separator();
            let differs = desk.score().kit != Kit::general_midi();
            let button = egui::Button::new("Whole kit as in General MIDI");
            let hint = "Order, MIDI notes, channels and velocities of General MIDI Level 1; undo \
                        restores it";
            let response = ui.add_enabled(differs, button).on_hover_text(hint);
            let response = response.on_disabled_hover_text("Already set that way");
            if response.clicked() {
                desk.change(Spot::Kit, "Kit as in General MIDI", None, |score| {
                    score.kit = Kit::general_midi();
                    Ok(())
                });
            }
        });
        if before != self.shows_maps {
            self.drop_learning(desk);
        }
    }

    /// The next note that comes in, while a key is learned.
    fn listen(&mut self, ui: &Ui, desk: &mut Desk) {
        let Some(learn) = &mut self.learn else {
            return;
        };
        ui.ctx().request_repaint_after(LISTEN);
        if learn.listen(desk) {
            Learn::end(desk);
            self.learn = None;
        }
    }

    fn drop_learning(&mut self, desk: &Desk) {
        if self.learn.take().is_some() {
            Learn::end(desk);
        }
    }

    /// Keys, while the list or nothing has the focus.
    fn keys(&mut self, ui: &Ui, desk: &mut Desk, facts: &KitUse) {
        let row = list::row_id(self.chosen);
        let focused = ui.memory(|m| m.focused());
        if focused.is_some_and(|id| id != row) || is_covered(ui.ctx()) {
            return;
        }
        let pressed = |key, modifiers| ui.input_mut(|i| i.consume_key(modifiers, key));
        // Shortcuts with more keys first: the plain ones would match them too.
        for (key, up) in [(Key::ArrowUp, true), (Key::ArrowDown, false)] {
            if pressed(key, Modifiers::ALT) {
                order::shift(desk, self.chosen, up);
                self.reveal = true;
            } else if pressed(key, Modifiers::NONE) {
                self.go(ui, desk, up, focused.is_some());
            }
        }
        for (with, level) in [
            (Modifiers::SHIFT, Level::Accent),
            (Modifiers::NONE, Level::Normal),
        ] {
            if pressed(Key::Enter, with) {
                hear(desk, (self.chosen, Articulation::Plain), level);
            }
        }
        if ui.input(|i| i.modifiers.any()) {
            return;
        }
        for (key, level) in [
            (Key::G, Level::Ghost),
            (Key::N, Level::Normal),
            (Key::A, Level::Accent),
        ] {
            if pressed(key, Modifiers::NONE) {
                hear(desk, (self.chosen, Articulation::Plain), level);
            }
        }
        if pressed(Key::L, Modifiers::NONE) {
            self.shows_maps = false;
            let stroke = (self.chosen, Articulation::Plain);
            self.learn = Some(Learn::begin(desk, stroke));
        }
        let there = desk.score().kit.order.contains(&self.chosen);
        if pressed(Key::Delete, Modifiers::NONE) && there {
            order::remove(desk, self.chosen, facts);
        }
    }

    /// Chooses the voice above or below.
    fn go(&mut self, ui: &Ui, desk: &Desk, up: bool, focus: bool) {
        let groups = list::groups(&desk.score().kit);
        let all: Vec<Voice> = groups.iter().flat_map(|g| g.voices.clone()).collect();
        let at = all.iter().position(|v| *v == self.chosen).unwrap_or(0);
        let to = if up {
            at.saturating_sub(1)
        } else {
            (at + 1).min(all.len().saturating_sub(1))
        };
        let Some(voice) = all.get(to) else { return };
        if *voice != self.chosen {
            self.drop_learning(desk);
        }
        self.chosen = *voice;
        self.reveal = true;
        if focus {
            ui.memory_mut(|m| m.request_focus(list::row_id(*voice)));
        }
    }
}

/// Sounds a stroke at a level.
fn hear(desk: &Desk, (voice, way): Struck, level: Level) {
    let kit = &desk.score().kit;
    let Some(key) = kit.key(voice, way) else {
        return;
    };
    let side = kit.voice(voice);
    desk.session().audition.strike(Note {
        key,
        channel: side.channel,
        velocity: side.curve.at(level),
        voice,
        articulation: way,
        limb: match voice {
            Voice::Kick => Some(Limb::KickFoot),
            Voice::HatFoot => Some(Limb::HatFoot),
            Voice::Click => None,
            _ => Some(Limb::RightHand),
        },
    });
}
