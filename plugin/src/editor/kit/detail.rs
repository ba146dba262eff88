//! The chosen voice: its place, the key of each of its strokes, its channel, how
//! loud its three levels are.
//!
//! What is odd about a value is said beside it; nothing here stops playing.

use barform_app::music::{Articulation, Channel, Key, Kit, Level, Velocity, Voice};
use egui::{DragValue, Grid, Response, RichText, Slider, Ui, vec2};

use super::heads::{self, Heads};
use super::learn::{Learn, Struck};
use super::{hear, order};
use crate::editor::desk::{Desk, Spot};
use crate::editor::palette::Palette;
use barform_app::answers::{KitUse, other_strokes};
use barform_app::words::{full_name, key_name, listed, played_by, stroke_name};

/// Points to a staff space of the large picture.
const LARGE: f32 = 7.0;

/// Points to a staff space beside a key.
const SMALL: f32 = 2.7;

/// Shows a voice.
pub struct Detail<'a> {
    /// Pictures.
    pub heads: &'a mut Heads,
    /// What the score does with it.
    pub facts: &'a KitUse,
    /// What is learning.
    pub learn: &'a mut Option<Learn>,
    /// Colours.
    pub palette: &'a Palette,
}

impl Detail<'_> {
    /// Shows it.
    pub fn show(mut self, ui: &mut Ui, desk: &mut Desk, voice: Voice) {
        self.head(ui, desk, voice);
        if let Some(problem) = desk.refused_at(Spot::Kit) {
            ui.label(RichText::new(problem.to_string()).color(self.palette.error));
        }
        if let Some(learn) = self.learn.clone()
            && learn.show(ui, desk, self.palette)
        {
            Learn::end(desk);
            *self.learn = None;
        }
        ui.add_space(4.0);
        self.keys(ui, desk, voice);
        self.channel(ui, desk, voice);
        ui.add_space(4.0);
        self.levels(ui, desk, voice);
        ui.add_space(4.0);
        let differs = desk.score().kit.voice(voice) != Kit::general_midi().voice(voice);
        let button = egui::Button::new("Voice as in General MIDI");
        let hint =
            "MIDI note, channel and levels of this voice as in the General MIDI percussion map";
        if ui
            .add_enabled(differs, button)
            .on_hover_text(hint)
            .on_disabled_hover_text("Already set that way")
            .clicked()
        {
            let label = format!("{} as in General MIDI", voice.title());
            desk.change(Spot::Kit, &label, None, |score| {
                *score.kit.voice_mut(voice) = *Kit::general_midi().voice(voice);
                Ok(())
            });
        }
    }

    /// Name, place, limb, and the buttons for the order.
    fn head(&mut self, ui: &mut Ui, desk: &mut Desk, voice: Voice) {
        ui.horizontal_top(|ui| {
            let (rect, _) = ui.allocate_exact_size(heads::size(LARGE), egui::Sense::hover());
            let stroke = (voice, Articulation::Plain);
            let painter = ui.painter_at(rect);
            self.heads
                .paint(&painter, rect.min, LARGE, stroke, self.palette.ink);
            ui.vertical(|ui| {
                let name = RichText::new(voice.title()).size(18.0);
                ui.label(name.color(self.palette.accent));
                let mut text = played_by(voice).to_owned();
                if let Some(reach) = self.facts.reach_line(voice) {
                    text += " ";
                    text += &reach;
                }
                let dim = |text: String| RichText::new(text).color(self.palette.dim);
                ui.label(dim(text));
                ui.label(dim(self.facts.use_line(voice)));
                order::buttons(ui, desk, voice, self.facts);
            });
        });
    }

    /// The key of each way to strike it.
    fn keys(&mut self, ui: &mut Ui, desk: &mut Desk, voice: Voice) {
        let grid = Grid::new("keys").num_columns(4).spacing([12.0, 6.0]);
        grid.show(ui, |ui| {
            for (title, hint) in [
                ("Stroke", "How the voice is struck"),
                ("MIDI note", "0 to 127, and its General MIDI name"),
            ] {
                let title = RichText::new(title).color(self.palette.accent);
                ui.label(title).on_hover_text(hint);
            }
            ui.end_row();
            for way in voice.articulations() {
                self.key(ui, desk, (voice, *way));
                ui.end_row();
            }
        });
    }

    fn key(&mut self, ui: &mut Ui, desk: &mut Desk, (voice, way): Struck) {
        let name = full_name(voice, way);
        ui.horizontal(|ui| {
            let (rect, _) = ui.allocate_exact_size(heads::size(SMALL), egui::Sense::hover());
            let painter = ui.painter_at(rect);
            let ink = self.palette.ink;
            self.heads
                .paint(&painter, rect.min, SMALL, (voice, way), ink);
            ui.label(stroke_name(voice, way));
        });
        let side = *desk.score().kit.voice(voice);
        let own = side.keys[way.index()];
        ui.horizontal(|ui| match own {
            Some(key) => self.own_key(ui, desk, (voice, way), key),
            None => {
                let plain = side.keys[Articulation::Plain.index()];
                let number = plain.map_or(0, Key::number);
                ui.label(RichText::new(format!("as plain: {number}")).color(self.palette.dim));
            }
        });
        ui.horizontal(|ui| {
            let learn = ui
                .button("Learn")
                .on_hover_text("Takes the next MIDI note that comes in (L for the first)");
            if learn.accessible_name(format!("Learn {name}")).clicked() {
                *self.learn = Some(Learn::begin(desk, (voice, way)));
            }
            let sound = ui.button("Hear").on_hover_text("Plays one normal stroke");
            if sound.accessible_name(format!("Hear {name}")).clicked() {
                hear(desk, (voice, way), Level::Normal);
            }
            if way == Articulation::Plain {
                return;
            }
            let (text, hint) = match own {
                Some(_) => ("As plain", "Plays the MIDI note of the plain stroke"),
                None => ("Own note", "Gives it a MIDI note of its own"),
            };
            let button = ui.button(text).on_hover_text(hint);
            if button.accessible_name(format!("{text}: {name}")).clicked() {
                let plain = side.keys[Articulation::Plain.index()];
                let key = own.map_or(plain, |_| None);
                let label = format!("MIDI note of {name}");
                desk.change(Spot::Kit, &label, None, |score| {
                    score.kit.voice_mut(voice).keys[way.index()] = key;
                    Ok(())
                });
            }
        });
        let shared =
            own.map(|key| other_strokes(&desk.score().kit, side.channel, key, (voice, way)));
        let shared = shared.filter(|others| !others.is_empty());
        if let Some(others) = shared {
            let names: Vec<String> = others.iter().map(|(v, a)| full_name(*v, *a)).collect();
            let text = format!("also {}", listed(&names));
            ui.add(egui::Label::new(RichText::new(text).color(self.palette.dim)).truncate())
                .on_hover_text("Plays the same MIDI note. An incoming note counts for the first.");
        }
    }

    fn own_key(&self, ui: &mut Ui, desk: &mut Desk, (voice, way): Struck, key: Key) {
        let name = full_name(voice, way);
        let mut number = key.number();
        let drag = DragValue::new(&mut number).range(0..=127).speed(0.2);
        let response = ui
            .add_sized(vec2(44.0, 22.0), drag)
            .on_hover_text("MIDI note, 0 to 127: drag, or click and type")
            .accessible_name(format!("MIDI note of {name}"));
        ui.label(RichText::new(key_name(key)).color(self.palette.dim));
        let label = format!("MIDI note of {name}");
        follow(desk, &response, &label, |kit| {
            kit.voice_mut(voice).keys[way.index()] = Key::new(number).or(Some(key));
        });
    }

    fn channel(&self, ui: &mut Ui, desk: &mut Desk, voice: Voice) {
        ui.horizontal(|ui| {
            ui.label("MIDI channel")
                .on_hover_text("Of all strokes of the voice; drums are on 10 in General MIDI");
            let channel = desk.score().kit.voice(voice).channel;
            let mut number = channel.number();
            let drag = DragValue::new(&mut number).range(1..=16).speed(0.1);
            let name = voice.title();
            let response = ui
                .add_sized(vec2(44.0, 22.0), drag)
                .accessible_name(format!("Channel of {name}"));
            let label = format!("Channel of {name}");
            follow(desk, &response, &label, |kit| {
                kit.voice_mut(voice).channel = Channel::new(number).unwrap_or(channel);
            });
        });
    }

    /// The velocity of each level.
    fn levels(&self, ui: &mut Ui, desk: &mut Desk, voice: Voice) {
        let title = RichText::new("Velocities").color(self.palette.accent);
        ui.label(title)
            .on_hover_text("How hard the note of each level is, 1 to 127: the velocity curve");
        let name = voice.title();
        Grid::new("levels").num_columns(3).show(ui, |ui| {
            for (level, text, key) in [
                (Level::Ghost, "Ghost note", "G"),
                (Level::Normal, "Normal stroke", "N"),
                (Level::Accent, "Accent", "A"),
            ] {
                ui.label(text);
                let curve = desk.score().kit.voice(voice).curve;
                let mut value = curve.at(level).value();
                let response = ui
                    .add(Slider::new(&mut value, 1..=127))
                    .accessible_name(format!("{text} of {name}"));
                let label = format!("{text} of {name}");
                follow(desk, &response, &label, |kit| {
                    let curve = &mut kit.voice_mut(voice).curve;
                    let velocity = Velocity::clamped(f64::from(value));
                    match level {
                        Level::Ghost => curve.ghost = velocity,
                        Level::Normal => curve.normal = velocity,
                        Level::Accent => curve.accent = velocity,
                    }
                });
                let sound = ui
                    .button("Hear")
                    .on_hover_text(format!("Plays it ({key})"))
                    .accessible_name(format!("Hear {}", text.to_lowercase()));
                if sound.clicked() {
                    hear(desk, (voice, Articulation::Plain), level);
                }
                ui.end_row();
            }
        });
        let curve = desk.score().kit.voice(voice).curve;
        if curve.ghost >= curve.normal || curve.normal >= curve.accent {
            let text = "A ghost note should be softer than a normal stroke, and that softer than \
                        an accent: as it is they cannot be told apart.";
            ui.label(RichText::new(text).color(self.palette.error));
        }
    }
}

/// A value that changed under a control: one drag is one step, and so is typing.
fn follow(desk: &mut Desk, response: &Response, label: &str, change: impl FnOnce(&mut Kit)) {
    if response.changed() {
        let group = if response.dragged() {
            desk.drag(label)
        } else {
            desk.typing(label)
        };
        desk.change(Spot::Kit, label, Some(&group), |score| {
            change(&mut score.kit);
            Ok(())
        });
    }
    if response.drag_stopped() || response.lost_focus() {
        desk.seal();
    }
}
