//! The scale of the window: the keys that change it, and its being applied.
//!
//! Gives the library's zoom, which also asks the host for a window of the same
//! size in points.

use egui::Ui;

use super::super::desk::Desk;
use super::super::keys;
use super::App;
use crate::state::{EditorPrefs, SCALE_RANGE};

/// Scales that the keys and the buttons step through, in percent.
pub const STEPS: [u32; 10] = [75, 90, 100, 110, 125, 150, 175, 200, 225, 250];

/// The next scale upwards or downwards; the same at the end of the range.
pub fn step(percent: u32, up: bool) -> u32 {
    let next = if up {
        STEPS.iter().find(|s| **s > percent)
    } else {
        STEPS.iter().rev().find(|s| **s < percent)
    };
    let (least, most) = SCALE_RANGE;
    next.copied().unwrap_or(percent).clamp(least, most)
}

/// Changes the look of this window, and how new instances begin.
pub fn look(desk: &mut Desk, prefs: EditorPrefs) {
    desk.session().set_prefs(prefs);
    let kept = desk.session().prefs();
    desk.prefs.look(kept);
}

impl App {
    /// Takes the keys, and applies what the session says.
    pub(super) fn scale(&mut self, ui: &Ui) {
        // The library's own keys know another range.
        ui.ctx().options_mut(|o| o.zoom_with_keyboard = false);
        let prefs = self.desk.session().prefs();
        let pressed = |shortcut| ui.input_mut(|i| i.consume_shortcut(shortcut));
        let mut percent = prefs.zoom_percent;
        if keys::LARGER.iter().any(pressed) {
            percent = step(percent, true);
        } else if keys::SMALLER.iter().any(pressed) {
            percent = step(percent, false);
        } else if pressed(&keys::NORMAL) {
            percent = 100;
        }
        if percent != prefs.zoom_percent {
            let zoom_percent = percent;
            look(
                &mut self.desk,
                EditorPrefs {
                    zoom_percent,
                    ..prefs
                },
            );
        }
        let factor = percent as f32 / 100.0;
        if (ui.ctx().zoom_factor() - factor).abs() > 1e-3 {
            ui.ctx().set_zoom_factor(factor);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_go_through_the_range_and_stay_in_it() {
        let (least, most) = SCALE_RANGE;
        assert_eq!((STEPS[0], STEPS[STEPS.len() - 1]), (least, most));
        assert!(STEPS.is_sorted());
        assert_eq!(step(100, true), 110);
        assert_eq!(step(100, false), 90);
        assert_eq!(step(120, true), 125, "from between two steps");
        assert_eq!(step(120, false), 110);
        assert_eq!((step(least, false), step(most, true)), (least, most));
    }
}
