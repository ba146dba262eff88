//! A mouse and a keyboard on the screen: what is done here reaches a window as
//! it would from real ones (the X server's XTEST extension).

use std::collections::HashMap;

use anyhow::{Context, Result};
use x11rb::connection::Connection;
use x11rb::protocol::Event;
use x11rb::protocol::xproto::{
    BUTTON_PRESS_EVENT, BUTTON_RELEASE_EVENT, ChangeWindowAttributesAux, ConnectionExt as _,
    EventMask, KEY_PRESS_EVENT, KEY_RELEASE_EVENT, MOTION_NOTIFY_EVENT,
};
use x11rb::protocol::xtest::ConnectionExt as _;

use crate::display::{Display, Window};

/// Keysyms that are no character (`keysymdef.h` of the X Consortium).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u32)]
pub enum Named {
    /// Return.
    Return = 0xff0d,
    /// Escape.
    Escape = 0xff1b,
    /// The tabulator.
    Tab = 0xff09,
    /// To the end.
    End = 0xff57,
    /// F5.
    F5 = 0xffc2,
    /// F6.
    F6 = 0xffc3,
}

const SHIFT: u32 = 0xffe1;
const CONTROL: u32 = 0xffe3;

/// The left button.
const LEFT: u8 = 1;

/// A pair of them.
pub struct Hands {
    display: Display,
    /// Keycode of each keysym, and whether Shift is needed.
    keys: HashMap<u32, (u8, bool)>,
}

impl Hands {
    /// Learns the keyboard.
    ///
    /// # Errors
    /// If the server lacks the extension or has no keyboard.
    pub fn new(display: &Display) -> Result<Hands> {
        let c = &display.connection;
        c.xtest_get_version(2, 2)?
            .reply()
            .context("the X server takes no events from tests")?;
        let (first, last) = (c.setup().min_keycode, c.setup().max_keycode);
        let map = c.get_keyboard_mapping(first, last - first + 1)?.reply()?;
        let mut keys = HashMap::new();
        let width = usize::from(map.keysyms_per_keycode);
        for (code, syms) in (first..=last).zip(map.keysyms.chunks(width)) {
            for (column, sym) in syms.iter().take(2).enumerate() {
                keys.entry(*sym).or_insert((code, column == 1));
            }
        }
        Ok(Hands {
            display: display.clone(),
            keys,
        })
    }

    /// Clicks `x`, `y` pixels into a window with the left button.
    ///
    /// # Errors
    /// If the server refuses.
    pub fn click(&self, window: &Window, x: i16, y: i16) -> Result<()> {
        self.move_to(window, x, y)?;
        self.send(BUTTON_PRESS_EVENT, LEFT, 0, 0)?;
        self.send(BUTTON_RELEASE_EVENT, LEFT, 0, 0)
    }

    /// Drags with the left button from one place in a window to another.
    ///
    /// # Errors
    /// If the server refuses.
    pub fn drag(&self, window: &Window, from: (i16, i16), to: (i16, i16)) -> Result<()> {
        self.move_to(window, from.0, from.1)?;
        self.send(BUTTON_PRESS_EVENT, LEFT, 0, 0)?;
        self.move_to(
            window,
            i16::midpoint(from.0, to.0),
            i16::midpoint(from.1, to.1),
        )?;
        self.move_to(window, to.0, to.1)?;
        self.send(BUTTON_RELEASE_EVENT, LEFT, 0, 0)
    }

    /// Moves the pointer to `x`, `y` pixels into a window.
    ///
    /// # Errors
    /// If the server refuses.
    pub fn move_to(&self, window: &Window, x: i16, y: i16) -> Result<()> {
        let c = &self.display.connection;
        let root = c.setup().roots[self.display.screen].root;
        let at = c.translate_coordinates(window.id(), root, x, y)?.reply()?;
        self.send(MOTION_NOTIFY_EVENT, 0, at.dst_x, at.dst_y)
    }

    /// Types a text; a line's end is Return.
    ///
    /// # Errors
    /// If the keyboard lacks a character.
    pub fn type_text(&self, text: &str) -> Result<()> {
        for character in text.chars() {
            match character {
                '\n' => self.key(Named::Return)?,
                // Keysyms of Latin-1 are its code points.
                _ => self.stroke(u32::from(character), false)?,
            }
        }
        Ok(())
    }

    /// Presses a key.
    ///
    /// # Errors
    /// If the keyboard lacks it.
    pub fn key(&self, key: Named) -> Result<()> {
        self.stroke(key as u32, false)
    }

    /// Presses a key with Ctrl.
    ///
    /// # Errors
    /// If the keyboard lacks it.
    pub fn control(&self, key: Named) -> Result<()> {
        self.stroke(key as u32, true)
    }

    /// Presses a character's key with Ctrl.
    ///
    /// # Errors
    /// If the keyboard lacks it.
    pub fn control_character(&self, character: char) -> Result<()> {
        self.stroke(u32::from(character), true)
    }

    /// From now on the window listens to the keyboard, as a host's own does.
    ///
    /// # Errors
    /// If the server refuses.
    pub fn listen(&self, window: &Window) -> Result<()> {
        let keys = ChangeWindowAttributesAux::new().event_mask(EventMask::KEY_PRESS);
        let c = &self.display.connection;
        Ok(c.change_window_attributes(window.id(), &keys)?.check()?)
    }

    /// What was pressed in a window that listens, since the last call: the signs of
    /// the keys, without Shift.
    ///
    /// # Errors
    /// If the server refuses.
    pub fn heard(&self, window: &Window) -> Result<Vec<char>> {
        let mut heard = Vec::new();
        while let Some(event) = self.display.connection.poll_for_event()? {
            if let Event::KeyPress(press) = event
                && press.event == window.id()
            {
                let of_code =
                    |(_, (code, shifted)): &(&u32, &(u8, bool))| *code == press.detail && !shifted;
                let sign = self.keys.iter().find(of_code);
                heard.extend(sign.and_then(|(sym, _)| char::from_u32(*sym)));
            }
        }
        Ok(heard)
    }

    fn stroke(&self, keysym: u32, control: bool) -> Result<()> {
        let code = |sym: &u32| {
            let found = self.keys.get(sym).copied();
            found.with_context(|| format!("the keyboard lacks keysym {sym:#x}"))
        };
        let (key, shifted) = code(&keysym)?;
        let mut held = Vec::new();
        if control {
            held.push(code(&CONTROL)?.0);
        }
        if shifted {
            held.push(code(&SHIFT)?.0);
        }
        held.push(key);
        for key in &held {
            self.send(KEY_PRESS_EVENT, *key, 0, 0)?;
        }
        for key in held.iter().rev() {
            self.send(KEY_RELEASE_EVENT, *key, 0, 0)?;
        }
        Ok(())
    }

    fn send(&self, kind: u8, detail: u8, x: i16, y: i16) -> Result<()> {
        let c = &self.display.connection;
        let root = c.setup().roots[self.display.screen].root;
        c.xtest_fake_input(kind, detail, x11rb::CURRENT_TIME, root, x, y, 0)?
            .check()?;
        Ok(())
    }
}
