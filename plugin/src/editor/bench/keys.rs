//! Keys of the Bench. None of them acts while a text field has the focus, but
//! those with Ctrl.

use barform_app::music::Limb;
use egui::{Event, Id, Key, Modifiers, Rect, Ui};

use super::act::Act;
use super::stroke::Ornament;

/// What keys ask for.
#[derive(Debug, Clone, PartialEq)]
pub enum Wish {
    /// To do something to the cell.
    Act(Act),
    /// To hear it, or no longer.
    Hear,
    /// To copy it.
    Copy,
    /// To copy it and delete it.
    Cut,
    /// To put text in.
    Paste(String),
}

const HEAR: egui::KeyboardShortcut = egui::KeyboardShortcut::new(Modifiers::COMMAND, Key::Space);

/// Takes the keys that are the Bench's: those pressed while nothing has the
/// focus, or something on the page.
pub fn read(ui: &Ui, staff: Id, page: Rect) -> Vec<Wish> {
    let mut wishes = Vec::new();
    if ui.input_mut(|i| i.consume_shortcut(&HEAR)) {
        wishes.push(Wish::Hear);
    }
    let ctx = ui.ctx();
    let open = egui::Popup::is_any_open(ctx) || ctx.memory(|m| m.top_modal_layer().is_some());
    if open || ctx.text_edit_focused() {
        return wishes;
    }
    let focus = ctx.memory(|m| m.focused());
    let on_page = |id: Id| {
        let response = ctx.read_response(id);
        id == staff || response.is_some_and(|r| page.contains(r.rect.center()))
    };
    if !focus.is_none_or(on_page) {
        return wishes;
    }
    // A button with the focus needs these for itself.
    let free = focus.is_none() || focus == Some(staff);
    ui.input_mut(|i| {
        let held = i.modifiers;
        i.events.retain(|event| {
            let wish = match event {
                Event::Copy => Some(Wish::Copy),
                Event::Cut => Some(Wish::Cut),
                Event::Paste(text) => Some(Wish::Paste(text.clone())),
                // How some windows hand over the clipboard.
                Event::Text(text) if held.command && !held.alt => Some(Wish::Paste(text.clone())),
                Event::Text(text) => sign(text).map(Wish::Act),
                Event::Key {
                    key,
                    pressed: true,
                    modifiers,
                    ..
                } if !modifiers.command && !modifiers.ctrl && !modifiers.alt => {
                    key_act(*key, modifiers.shift, free).map(Wish::Act)
                }
                _ => None,
            };
            let ours = wish.is_some();
            wishes.extend(wish);
            !ours
        });
    });
    wishes
}

/// Signs, on whatever key a layout has them.
fn sign(text: &str) -> Option<Act> {
    match text {
        ">" => Some(Act::Accent),
        "(" | ")" => Some(Act::Ghost),
        _ => None,
    }
}

fn key_act(key: Key, shift: bool, free: bool) -> Option<Act> {
    let limb = |limb| {
        Some(if shift {
            Act::Add(limb)
        } else {
            Act::Put(limb)
        })
    };
    match key {
        Key::R => limb(Limb::RightHand),
        Key::L => limb(Limb::LeftHand),
        Key::K => limb(Limb::KickFoot),
        Key::H => limb(Limb::HatFoot),
        Key::Minus => Some(Act::Rest),
        Key::Delete | Key::Backspace => Some(Act::Remove),
        Key::F => Some(Act::Ornament(Ornament::Flam)),
        Key::D => Some(Act::Ornament(Ornament::Drag)),
        Key::U => Some(Act::Ornament(Ornament::Ruff)),
        Key::Z => Some(Act::Ornament(Ornament::Buzz)),
        Key::A => Some(Act::NextWay),
        Key::V => Some(Act::Round { back: shift }),
        Key::X => Some(Act::Swap),
        Key::ArrowLeft if free => Some(Act::Step(-1)),
        Key::ArrowRight if free => Some(Act::Step(1)),
        Key::ArrowUp if free => Some(Act::Round { back: true }),
        Key::ArrowDown if free => Some(Act::Round { back: false }),
        Key::Home => Some(Act::Go(0)),
        Key::End => Some(Act::Last),
        Key::CloseBracket | Key::Plus => Some(Act::AddBeat),
        Key::OpenBracket => Some(Act::RemoveBeat),
        _ if shift => None,
        Key::Num0 => Some(Act::Slots(10)),
        _ => {
            let digits = [
                Key::Num1,
                Key::Num2,
                Key::Num3,
                Key::Num4,
                Key::Num5,
                Key::Num6,
                Key::Num7,
                Key::Num8,
                Key::Num9,
            ];
            let digit = digits.iter().position(|d| *d == key)?;
            Some(Act::Slots(u8::try_from(digit + 1).ok()?))
        }
    }
}
