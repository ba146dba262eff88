//! Learning a key: the next note that comes in is the one.
//!
//! Where another stroke has the key already, nothing is changed before the user
//! has said what is meant.

use barform_app::music::{Articulation, Channel, Key, Voice};
use egui::{Modifiers, RichText, Ui};

use crate::editor::desk::{Desk, Spot};
use crate::editor::palette::Palette;
use barform_app::answers::other_strokes;
use barform_app::words::{full_name, listed, note};

/// A stroke: a voice and how it is struck.
pub type Struck = (Voice, Articulation);

/// A stroke that learns its key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Learn {
    /// Which.
    pub stroke: Struck,
    /// A key that came in and that others have already.
    taken: Option<(Channel, Key, Vec<Struck>)>,
}

impl Learn {
    /// Begins to listen.
    pub fn begin(desk: &Desk, stroke: Struck) -> Learn {
        let audition = &desk.session().audition;
        // What came in before is not meant.
        audition.listen(false);
        audition.listen(true);
        Learn {
            stroke,
            taken: None,
        }
    }

    /// Stops listening.
    pub fn end(desk: &Desk) {
        desk.session().audition.listen(false);
    }

    /// Looks at what has come in. Returns whether the learning is over.
    pub fn listen(&mut self, desk: &mut Desk) -> bool {
        if self.taken.is_some() {
            return false;
        }
        let Some(heard) = desk.session().audition.heard() else {
            return false;
        };
        let channel = Channel::new(heard.channel.saturating_add(1));
        let (Some(channel), Some(key)) = (channel, Key::new(heard.key)) else {
            return false;
        };
        let others = other_strokes(&desk.score().kit, channel, key, self.stroke);
        if others.is_empty() {
            take(desk, self.stroke, channel, key);
            return true;
        }
        self.taken = Some((channel, key, others));
        Learn::end(desk);
        false
    }

    /// Shows what is going on. Returns whether the learning is over.
    pub fn show(&self, ui: &mut Ui, desk: &mut Desk, palette: &Palette) -> bool {
        let name = full_name(self.stroke.0, self.stroke.1);
        let escape = ui.input_mut(|i| i.consume_key(Modifiers::NONE, egui::Key::Escape));
        let mut over = escape;
        let frame = egui::Frame::new()
            .fill(palette.raised)
            .stroke(egui::Stroke::new(2.0, palette.accent))
            .inner_margin(8);
        frame.show(ui, |ui| {
            ui.set_width(ui.available_width());
            let Some((channel, key, others)) = &self.taken else {
                ui.horizontal_wrapped(|ui| {
                    let text = format!("Strike the pad or press the key for {name} now.");
                    ui.label(RichText::new(text).color(palette.ink));
                    over |= ui.button("Cancel").on_hover_text("Esc").clicked();
                });
                return;
            };
            let names: Vec<String> = others.iter().map(|(v, a)| full_name(*v, *a)).collect();
            let who = listed(&names);
            let plays = if others.len() == 1 { "plays" } else { "play" };
            let text = format!(
                "{who} already {plays} {} on channel {}.",
                note(*key),
                channel.number()
            );
            ui.label(RichText::new(text).color(palette.error));
            ui.horizontal_wrapped(|ui| {
                let both = ui
                    .button("Both play it")
                    .on_hover_text(format!("{name} plays the note as well"));
                if both.clicked() {
                    take(desk, self.stroke, *channel, *key);
                    over = true;
                }
                let side = desk.score().kit.voice(self.stroke.0);
                let old = side.keys[self.stroke.1.index()];
                if let Some(old) = old.filter(|old| old != key) {
                    let swap = ui
                        .button("Swap the notes")
                        .on_hover_text(format!("{name} plays the note, and {who} {}", note(old)));
                    if swap.clicked() {
                        swap_keys(desk, self.stroke, (*channel, *key), others, old);
                        over = true;
                    }
                }
                let leave = ui.button("Leave it").on_hover_text("Changes nothing (Esc)");
                over |= leave.clicked();
            });
        });
        over
    }
}

/// Gives a stroke its key, and its voice the channel.
fn take(desk: &mut Desk, (voice, way): Struck, channel: Channel, key: Key) {
    let before = *desk.score().kit.voice(voice);
    let name = full_name(voice, way);
    let label = format!("Learn the MIDI note of {name}");
    let done = desk.change(Spot::Kit, &label, None, |score| {
        let side = score.kit.voice_mut(voice);
        side.keys[way.index()] = Some(key);
        side.channel = channel;
        Ok(())
    });
    if done.is_none() {
        return;
    }
    let mut line = format!(
        "{name} plays {} on channel {}.",
        note(key),
        channel.number()
    );
    let more = before.keys.iter().flatten().count() > 1;
    if before.channel != channel && more {
        line += " All strokes of the voice are on that channel now.";
    }
    desk.tell(line);
}

fn swap_keys(desk: &mut Desk, stroke: Struck, to: (Channel, Key), others: &[Struck], old: Key) {
    let (channel, key) = to;
    let name = full_name(stroke.0, stroke.1);
    let label = format!("Swap the MIDI note of {name}");
    desk.change(Spot::Kit, &label, None, |score| {
        for (voice, way) in others {
            score.kit.voice_mut(*voice).keys[way.index()] = Some(old);
        }
        let side = score.kit.voice_mut(stroke.0);
        side.keys[stroke.1.index()] = Some(key);
        side.channel = channel;
        Ok(())
    });
}
