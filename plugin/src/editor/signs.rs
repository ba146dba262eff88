//! Keys that the library of the real window passes on as text alone: signs, and
//! letters with Shift.
//!
//! Nothing is added where a text field has the focus, or where the presses came.

use egui::{Event, Key, Modifiers, Ui};

/// Adds the presses that are missing.
pub fn complete(ui: &Ui) {
    if ui.ctx().text_edit_focused() {
        return;
    }
    ui.input_mut(|input| {
        let held = input.modifiers;
        if held.command || held.ctrl || held.alt {
            // Pasted, or a shortcut's.
            return;
        }
        let pressed = |event: &Event| matches!(event, Event::Key { pressed: true, .. });
        if input.events.iter().any(pressed) {
            return;
        }
        let texts = input.events.iter().filter_map(|event| match event {
            Event::Text(text) => press(text),
            _ => None,
        });
        let missing: Vec<Event> = texts.collect();
        input.events.extend(missing);
    });
}

/// The press behind a text of one sign.
fn press(text: &str) -> Option<Event> {
    let mut signs = text.chars();
    let (Some(sign), None) = (signs.next(), signs.next()) else {
        return None;
    };
    let (key, modifiers) = match sign {
        '+' => (Key::Plus, Modifiers::NONE),
        '-' => (Key::Minus, Modifiers::NONE),
        '=' => (Key::Equals, Modifiers::NONE),
        '[' => (Key::OpenBracket, Modifiers::NONE),
        ']' => (Key::CloseBracket, Modifiers::NONE),
        'A'..='Z' => (Key::from_name(text)?, Modifiers::SHIFT),
        _ => return None,
    };
    Some(Event::Key {
        key,
        physical_key: None,
        pressed: true,
        repeat: false,
        modifiers,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pressed(text: &str) -> Option<(Key, Modifiers)> {
        match press(text)? {
            Event::Key { key, modifiers, .. } => Some((key, modifiers)),
            _ => None,
        }
    }

    #[test]
    fn signs_and_letters_with_shift_are_keys() {
        assert_eq!(pressed("["), Some((Key::OpenBracket, Modifiers::NONE)));
        assert_eq!(pressed("+"), Some((Key::Plus, Modifiers::NONE)));
        for letter in 'A'..='Z' {
            let (key, modifiers) = pressed(&letter.to_string()).unwrap();
            assert_eq!(key.name(), letter.to_string());
            assert_eq!(modifiers, Modifiers::SHIFT);
        }
    }

    #[test]
    fn what_comes_as_a_press_anyway_or_is_more_than_a_sign_is_not() {
        for text in ["r", "7", "RL", "", ">", "é"] {
            assert_eq!(pressed(text), None, "{text}");
        }
    }
}
