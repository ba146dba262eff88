//! The row of buttons for the slot under the cursor.

use barform_app::music::{Articulation, Level, Limb, Stroke};
use egui::{Button, ComboBox, Response, RichText, Ui};

use super::super::desk::Desk;
use super::super::palette::Palette;
use super::act::{Act, Doing};
use super::known::Known;
use super::staff::CLICKS;
use super::stroke::{Ornament, has, voices_of};

/// Button, name, act, and what it is.
const LIMBS: [(Limb, &str); 4] = [
    (
        Limb::RightHand,
        "A stroke of the right hand; typed, the next one goes to the next slot (R; Shift+R adds \
         it)",
    ),
    (
        Limb::LeftHand,
        "A stroke of the left hand; typed, the next one goes to the next slot (L; Shift+L adds it)",
    ),
    (
        Limb::KickFoot,
        "The foot on the bass drum pedal (K; Shift+K adds it)",
    ),
    (
        Limb::HatFoot,
        "The foot on the hi-hat pedal (H; Shift+H adds it)",
    ),
];

const ORNAMENTS: [(Ornament, &str, &str); 4] = [
    (
        Ornament::Flam,
        "Flam",
        "One grace note by the other hand, close before the stroke (F)",
    ),
    (
        Ornament::Drag,
        "Drag",
        "Two grace notes by the other hand, close before the stroke (D)",
    ),
    (
        Ornament::Ruff,
        "Ruff",
        "Four-stroke ruff: three grace notes hand to hand, close before the stroke (U)",
    ),
    (
        Ornament::Buzz,
        "Buzz",
        "The stick pressed so that it bounces until the next slot (Z)",
    ),
];

/// A button that looks pressed while what it sets is so.
pub fn toggle(ui: &mut Ui, on: bool, text: &str, name: &str, hint: &str) -> Response {
    ui.add(Button::selectable(on, text).frame_when_inactive(true))
        .on_hover_text(hint)
        .accessible_name(name)
}

/// Shows the row; returns what was pressed.
pub fn show(
    ui: &mut Ui,
    desk: &Desk,
    known: &Known,
    doing: &Doing,
    palette: &Palette,
) -> Option<Act> {
    let slot = desk.chosen.slot;
    let target = doing.target(known, slot).copied();
    let strokes = known.cell.slots.get(slot).map_or(&[][..], Vec::as_slice);
    let mut act = None;
    let shift = ui.input(|i| i.modifiers.shift);
    for (limb, hint) in LIMBS {
        let on = strokes.iter().any(|s| s.limb == limb);
        let text = limb.letter().to_string();
        if toggle(ui, on, &text, limb.title(), hint).clicked() {
            act = Some(if shift {
                Act::Add(limb)
            } else {
                Act::Put(limb)
            });
        }
    }
    let hint = "Nothing on this slot; typed, the next stroke goes to the next slot (-)";
    if toggle(ui, strokes.is_empty(), "Rest", "Rest", hint).clicked() {
        act = Some(Act::Rest);
    }
    ui.separator();
    let all = |level: Level| !strokes.is_empty() && strokes.iter().all(|s| s.level == level);
    let hint = "Louder than its neighbours (>)";
    if toggle(ui, all(Level::Accent), ">", "Accent", hint).clicked() {
        act = Some(Act::Accent);
    }
    let hint = "Ghost note: hardly heard, felt as part of the groove ( ( )";
    if toggle(ui, all(Level::Ghost), "( )", "Ghost note", hint).clicked() {
        act = Some(Act::Ghost);
    }
    for (ornament, name, hint) in ORNAMENTS {
        let on = target.is_some_and(|stroke| has(&stroke, ornament));
        if toggle(ui, on, name, name, hint).clicked() {
            act = Some(Act::Ornament(ornament));
        }
    }
    ui.separator();
    let hint = "Right for left and left for right, grace notes too; voices stay (X)";
    if toggle(ui, false, "Swap", "Swap hands", hint).clicked() {
        act = Some(Act::Swap);
    }
    act = act.or(voice(ui, desk, target));
    act = act.or(struck(ui, target));
    ui.label(RichText::new("?").color(palette.dim))
        .on_hover_text(format!(
            "{CLICKS}\n\nKeys: R L K H strokes, with Shift beside what is there; - rest; > accent; \
             ( ghost note; F flam, D drag, U four-stroke ruff, Z buzz; X other hand; V, Up, Down \
             round the kit; A the next way of striking; Delete takes away; 1 to 9 and 0 for 10 \
             slots in the beat; ] adds a beat, [ takes the last one off; Left, Right, Home, End \
             move."
        ));
    act
}

/// What the stroke is played on.
fn voice(ui: &mut Ui, desk: &Desk, target: Option<Stroke>) -> Option<Act> {
    let now = target.map_or("voice", |stroke| stroke.voice.name());
    let foot = target.is_some_and(|stroke| stroke.limb.is_foot());
    let mut act = None;
    let menu = ComboBox::from_id_salt("bench voice")
        .selected_text(now)
        .width(78.0)
        .show_ui(ui, |ui| {
            let Some(stroke) = target else {
                ui.label("Put a stroke on the slot first.");
                return;
            };
            for voice in voices_of(desk, foot) {
                let on = voice == stroke.voice;
                if ui.selectable_label(on, voice.name()).clicked() {
                    act = Some(Act::Voice(voice));
                }
            }
        });
    menu.response
        .on_hover_text("What is struck (V or Down: the next round the kit, Up: the one before)")
        .accessible_name("Voice");
    act
}

/// How it is struck.
fn struck(ui: &mut Ui, target: Option<Stroke>) -> Option<Act> {
    let now = target.map_or("plain", |stroke| way(stroke.articulation));
    let mut act = None;
    let menu = ComboBox::from_id_salt("bench struck")
        .selected_text(now)
        .width(88.0)
        .show_ui(ui, |ui| {
            let Some(stroke) = target else {
                ui.label("Put a stroke on the slot first.");
                return;
            };
            for articulation in stroke.voice.articulations() {
                let on = *articulation == stroke.articulation;
                if ui.selectable_label(on, way(*articulation)).clicked() {
                    act = Some(Act::Struck(*articulation));
                }
            }
        });
    menu.response
        .on_hover_text(
            "How it is struck: rim and cross-stick on drums, open and half-open on the hi-hat, \
             bell and choke on cymbals (A: the next one)",
        )
        .accessible_name("Struck");
    act
}

/// An articulation in words.
const fn way(articulation: Articulation) -> &'static str {
    match articulation {
        Articulation::Plain => "plain",
        other => other.said(),
    }
}
