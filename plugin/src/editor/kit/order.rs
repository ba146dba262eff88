//! Which voices a kit has, and their order round it.

use barform_app::music::{Kit, Voice};
use egui::{Button, Ui};

use crate::editor::desk::{Desk, Spot};
use barform_app::answers::KitUse;

/// Voices in the order in which they are found round a usual kit: a voice that
/// is added goes behind those before it (common practice).
const ROUND: [Voice; 14] = [
    Voice::Hat,
    Voice::Snare,
    Voice::Tom1,
    Voice::Tom2,
    Voice::Tom3,
    Voice::Tom4,
    Voice::Tom5,
    Voice::Tom6,
    Voice::Ride,
    Voice::Crash,
    Voice::Crash2,
    Voice::Splash,
    Voice::China,
    Voice::Cowbell,
];

/// Whether a voice has a place in the order round the kit.
pub fn has_place(voice: Voice) -> bool {
    ROUND.contains(&voice)
}

/// Moves a voice by a place, up (earlier) or down.
pub fn shift(desk: &mut Desk, voice: Voice, up: bool) {
    let Some(to) = neighbour(&desk.score().kit, voice, up) else {
        return;
    };
    let label = format!("Move {} round the kit", voice.title());
    desk.change(Spot::Kit, &label, None, |score| {
        let order = &mut score.kit.order;
        if let Some(from) = order.iter().position(|v| *v == voice) {
            order.swap(from, to);
        }
        Ok(())
    });
}

/// Index of the place before or behind a voice.
fn neighbour(kit: &Kit, voice: Voice, up: bool) -> Option<usize> {
    let at = kit.order.iter().position(|v| *v == voice)?;
    let to = if up { at.checked_sub(1)? } else { at + 1 };
    (to < kit.order.len()).then_some(to)
}

/// Puts a voice on the kit.
pub fn add(desk: &mut Desk, voice: Voice) {
    let rank = |v: &Voice| ROUND.iter().position(|other| other == v);
    let label = format!("Add {} to the kit", voice.title());
    desk.change(Spot::Kit, &label, None, |score| {
        let order = &mut score.kit.order;
        let before = order.iter().rposition(|v| rank(v) < rank(&voice));
        order.insert(before.map_or(0, |at| at + 1), voice);
        Ok(())
    });
}

/// Takes a voice off the kit.
pub fn remove(desk: &mut Desk, voice: Voice, facts: &KitUse) {
    let name = voice.title();
    let label = format!("Remove {name} from the kit");
    let done = desk.change(Spot::Kit, &label, None, |score| {
        score.kit.order.retain(|v| *v != voice);
        Ok(())
    });
    if done.is_some() && facts.is_used(voice) {
        desk.tell(format!(
            "{name} is removed from the kit. {} They still play its MIDI note.",
            facts.use_line(voice)
        ));
    }
}

/// The buttons for it.
pub fn buttons(ui: &mut Ui, desk: &mut Desk, voice: Voice, facts: &KitUse) {
    let kit = &desk.score().kit;
    if !kit.order.contains(&voice) {
        if has_place(voice) {
            let hint = "Gives it a place in the order round the kit";
            if ui.button("Add to the kit").on_hover_text(hint).clicked() {
                add(desk, voice);
            }
        }
        return;
    }
    let (up, down) = (
        neighbour(kit, voice, true).is_some(),
        neighbour(kit, voice, false).is_some(),
    );
    ui.horizontal_wrapped(|ui| {
        for (name, can, is_up, key) in [
            ("Move up", up, true, "Alt+Up"),
            ("Move down", down, false, "Alt+Down"),
        ] {
            let button = ui.add_enabled(can, Button::new(name));
            let hint = format!("In the order round the kit ({key})");
            if button.on_hover_text(hint).clicked() {
                shift(desk, voice, is_up);
            }
        }
        let hint = "The kit does not have it; its MIDI note is kept (Delete)";
        if ui
            .button("Remove from the kit")
            .on_hover_text(hint)
            .clicked()
        {
            remove(desk, voice, facts);
        }
    });
}
