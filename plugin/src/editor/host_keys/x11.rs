//! Keys to the window around ours, under X11. There a window that listens to the
//! keyboard keeps what it hears, and the library's always does: what is the host's
//! is sent on, as the server itself would have passed it up to the first window that
//! listens (X Window System Protocol, `SendEvent` with `propagate`).

use std::collections::HashMap;
use std::time::{Duration, Instant};

use egui::{Key, Modifiers};
use raw_window_handle::{HasWindowHandle, RawWindowHandle};
use x11rb::connection::Connection;
use x11rb::errors::ReplyError;
use x11rb::protocol::xproto::{
    ConnectionExt, EventMask, KEY_PRESS_EVENT, KEY_RELEASE_EVENT, KeyButMask, KeyPressEvent,
};
use x11rb::rust_connection::RustConnection;

use super::Stroke;

/// A host may hand what it is sent to the window with the focus, which is ours. What
/// comes again within a few frames goes round no further.
const ECHO: Duration = Duration::from_millis(60);

/// The window that ours lies in.
pub struct Parent {
    connection: RustConnection,
    /// Ours.
    window: u32,
    root: u32,
    /// Keycode of each keysym.
    codes: HashMap<u32, u8>,
    /// When each was sent last.
    sent: HashMap<Stroke, Instant>,
}

impl Parent {
    /// The way to the window around `window`; `None` without an X server.
    pub fn of(window: &impl HasWindowHandle) -> Option<Parent> {
        let window = match window.window_handle().ok()?.as_raw() {
            RawWindowHandle::Xcb(handle) => handle.window.get(),
            RawWindowHandle::Xlib(handle) => u32::try_from(handle.window).ok()?,
            _ => return None,
        };
        let (connection, screen) = x11rb::connect(None).ok()?;
        let setup = connection.setup();
        let root = setup.roots.get(screen)?.root;
        let (first, last) = (setup.min_keycode, setup.max_keycode);
        let map = connection.get_keyboard_mapping(first, last - first + 1);
        let map = map.ok()?.reply().ok()?;
        let mut codes = HashMap::new();
        let width = usize::from(map.keysyms_per_keycode).max(1);
        for (code, syms) in (first..=last).zip(map.keysyms.chunks(width)) {
            for sym in syms {
                codes.entry(*sym).or_insert(code);
            }
        }
        Some(Parent {
            connection,
            window,
            root,
            codes,
            sent: HashMap::new(),
        })
    }

    /// Sends keys on, in order.
    ///
    /// # Errors
    /// If the server is gone.
    pub fn send(&mut self, strokes: &[Stroke]) -> Result<(), ReplyError> {
        // Hosts put their windows into others while ours is open.
        let parent = self.connection.query_tree(self.window)?.reply()?.parent;
        for stroke in strokes {
            if self.sent.get(stroke).is_some_and(|at| at.elapsed() < ECHO) {
                continue;
            }
            let code = keysym(stroke.key).and_then(|sym| self.codes.get(&sym));
            let Some(code) = code else { continue };
            let (kind, mask) = if stroke.pressed {
                (KEY_PRESS_EVENT, EventMask::KEY_PRESS)
            } else {
                (KEY_RELEASE_EVENT, EventMask::KEY_RELEASE)
            };
            let event = KeyPressEvent {
                response_type: kind,
                detail: *code,
                sequence: 0,
                time: x11rb::CURRENT_TIME,
                root: self.root,
                event: parent,
                child: self.window,
                root_x: 0,
                root_y: 0,
                event_x: 0,
                event_y: 0,
                state: held(stroke.modifiers),
                same_screen: true,
            };
            self.connection.send_event(true, parent, mask, event)?;
            self.sent.insert(*stroke, Instant::now());
        }
        self.connection.flush()?;
        Ok(())
    }
}

fn held(modifiers: Modifiers) -> KeyButMask {
    let mut mask = KeyButMask::default();
    for (held, bit) in [
        (modifiers.shift, KeyButMask::SHIFT),
        (modifiers.ctrl, KeyButMask::CONTROL),
        (modifiers.alt, KeyButMask::MOD1),
    ] {
        if held {
            mask |= bit;
        }
    }
    mask
}

/// The keysym of a key that the library passes on (`keysymdef.h` of the X
/// Consortium); those of Latin-1 are its code points.
fn keysym(key: Key) -> Option<u32> {
    use Key::*;
    Some(match key {
        Backspace => 0xff08,
        Enter => 0xff0d,
        Home => 0xff50,
        ArrowLeft => 0xff51,
        ArrowUp => 0xff52,
        ArrowRight => 0xff53,
        ArrowDown => 0xff54,
        PageUp => 0xff55,
        PageDown => 0xff56,
        End => 0xff57,
        Insert => 0xff63,
        Delete => 0xffff,
        Space => 0x20,
        Plus => 0x2b,
        Minus => 0x2d,
        Equals => 0x3d,
        OpenBracket => 0x5b,
        CloseBracket => 0x5d,
        _ => {
            let mut signs = key.name().chars();
            let (Some(sign), None) = (signs.next(), signs.next()) else {
                return None;
            };
            u32::from(sign.to_ascii_lowercase())
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_have_the_keysyms_of_the_x_consortium() {
        for (key, sym) in [
            (Key::Space, 0x20),
            (Key::A, 0x61),
            (Key::Z, 0x7a),
            (Key::Num0, 0x30),
            (Key::Plus, 0x2b),
            (Key::Minus, 0x2d),
        ] {
            assert_eq!(keysym(key), Some(sym), "{key:?}");
        }
        // The library passes no function keys on.
        assert_eq!(keysym(Key::F5), None);
    }
}
