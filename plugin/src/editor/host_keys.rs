//! Keys for the host: whatever nobody in the window has a use for, and the space
//! bar while the host's clock rules.
//!
//! What a library hands back differs from system to system; see [`capture`] for
//! macOS and `x11` for Linux. On Windows it hands back nothing.

#[cfg(target_os = "linux")]
pub mod x11;

use egui::{Event, Key, Modifiers, Ui};
use nice_plug_egui::{Key as Pressed, KeyCapture};

use super::keys::{At, ROWS};
use super::pages::Page;
use super::shelf::is_covered;

/// A key that goes down or up in the host.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Stroke {
    /// Which.
    pub key: Key,
    /// What is held with it.
    pub modifiers: Modifiers,
    /// Down or up.
    pub pressed: bool,
}

/// What goes back to the host.
#[derive(Default)]
pub struct HostKeys {
    strokes: Vec<Stroke>,
    /// What is down in the host; its release goes there, too.
    down: Vec<Key>,
    /// A menu or a panel was open when the frame began.
    covered: bool,
}

impl HostKeys {
    /// At the start of a frame, before any widget sees it: the space bar, if it is
    /// the host's.
    pub fn begin(&mut self, ui: &Ui, space: bool) {
        self.covered = is_covered(ui.ctx());
        if space {
            ui.input_mut(|input| {
                input.events.retain(|event| match event {
                    Event::Text(text) if text == " " => false,
                    _ => !self.take(event, |key| key == Key::Space),
                });
            });
        }
    }

    /// At the end of a frame: what is left of it. While keys write text or strokes,
    /// they are nobody else's.
    pub fn end(&mut self, ui: &Ui, writing: bool) {
        let focused = ui.memory(|m| m.focused().is_some());
        let kept = writing || self.covered || is_covered(ui.ctx());
        ui.input(|input| {
            for event in &input.events {
                self.take(event, |key| !kept && !is_for_widgets(key, focused));
            }
        });
    }

    /// What has been left to the host since the last call.
    pub fn drain(&mut self) -> Vec<Stroke> {
        std::mem::take(&mut self.strokes)
    }

    /// Takes a key if it is wanted, or if it went down in the host; whether it was
    /// taken.
    fn take(&mut self, event: &Event, wanted: impl Fn(Key) -> bool) -> bool {
        let Event::Key {
            key,
            pressed,
            modifiers,
            ..
        } = *event
        else {
            return false;
        };
        let held = self.down.iter().position(|down| *down == key);
        // Copying is of what is in this window, if of anything.
        let clipboard = modifiers.command && [Key::C, Key::X, Key::V].contains(&key);
        match (pressed, held) {
            (true, _) if !wanted(key) || clipboard => return false,
            (true, None) => self.down.push(key),
            (true, Some(_)) => {}
            (false, Some(at)) => drop(self.down.swap_remove(at)),
            (false, None) => return false,
        }
        self.strokes.push(Stroke {
            key,
            modifiers,
            pressed,
        });
        true
    }
}

/// Keys with which the widgets of a window are walked and worked: they leave no
/// trace of having been used.
fn is_for_widgets(key: Key, focused: bool) -> bool {
    use Key::*;
    match key {
        Tab | Escape => true,
        Enter | ArrowUp | ArrowDown | ArrowLeft | ArrowRight => focused,
        _ => false,
    }
}

/// What the library is to hand back on macOS: the space bar where it is the host's,
/// and letters and digits without a meaning on `page` or, with the focus in it, in
/// the Form strip. It asks for keys, not for shortcuts, and only while a widget has
/// the focus: with none, the host hears of every key.
pub fn capture(page: Page, in_strip: bool, space: bool, writing: bool) -> KeyCapture {
    if writing {
        return KeyCapture::CaptureAll;
    }
    let means_something = |sign: char| {
        let places = [At::Everywhere, At::Page(page)];
        let name = sign.to_ascii_uppercase().to_string();
        in_strip
            || ROWS.iter().any(|row| {
                let mut keys = row.keys.iter();
                places.contains(&row.at) && keys.any(|key| key.logical_key.name() == name)
            })
    };
    let signs = ('a'..='z').chain('A'..='Z').chain('0'..='9');
    let free = signs.filter(|sign| !means_something(*sign));
    let keys = free.chain(space.then_some(' '));
    KeyCapture::IgnoreKeys(keys.map(|sign| Pressed::Character(sign.into())).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ignored(page: Page, in_strip: bool, space: bool) -> Vec<String> {
        match capture(page, in_strip, space, false) {
            KeyCapture::IgnoreKeys(keys) => keys.iter().map(ToString::to_string).collect(),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_key_with_a_meaning_here_is_kept_and_the_rest_is_not() {
        let bench = ignored(Page::Bench, false, true);
        for kept in ["r", "R", "l", "7", "c"] {
            assert!(!bench.iter().any(|key| key == kept), "{kept}");
        }
        for free in [" ", "w", "W", "q"] {
            assert!(bench.iter().any(|key| key == free), "{free}");
        }
        assert!(!ignored(Page::Bench, false, false).contains(&" ".to_owned()));
        assert_eq!(
            ignored(Page::Stand, true, true),
            [" "],
            "in the strip all is typed"
        );
    }

    #[test]
    fn what_is_typed_is_nobody_elses() {
        let all = capture(Page::Score, false, true, true);
        assert_eq!(all, KeyCapture::CaptureAll);
    }
}
