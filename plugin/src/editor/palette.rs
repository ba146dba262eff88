//! Colours: a dark and a light look, and one colour per letter.

use barform_app::timeline::Timeline;
use egui::{Color32, CornerRadius, Stroke, Visuals};

use crate::state::Theme;

/// The colour-blind-safe set of Okabe and Ito, "Color Universal Design" (2008),
/// without its black: the eighth colour of the set is used for text.
pub const OKABE_ITO: [Color32; 7] = [
    Color32::from_rgb(0xE6, 0x9F, 0x00), // orange
    Color32::from_rgb(0x56, 0xB4, 0xE9), // sky blue
    Color32::from_rgb(0x00, 0x9E, 0x73), // bluish green
    Color32::from_rgb(0xF0, 0xE4, 0x42), // yellow
    Color32::from_rgb(0x00, 0x72, 0xB2), // blue
    Color32::from_rgb(0xD5, 0x5E, 0x00), // vermilion
    Color32::from_rgb(0xCC, 0x79, 0xA7), // reddish purple
];

/// The colours of one look.
#[derive(Debug, Clone, Copy)]
pub struct Palette {
    /// Behind everything.
    pub ground: Color32,
    /// Behind a strip, a staff, a text.
    pub panel: Color32,
    /// Buttons and the mark of the running slot.
    pub raised: Color32,
    /// Text.
    pub ink: Color32,
    /// Text of second rank; still readable.
    pub dim: Color32,
    /// Lines and frames.
    pub line: Color32,
    /// What is chosen or in focus.
    pub accent: Color32,
    /// Something is wrong.
    pub error: Color32,
    /// Something is right.
    pub good: Color32,
}

const DARK: Palette = Palette {
    ground: Color32::from_rgb(0x12, 0x15, 0x1A),
    panel: Color32::from_rgb(0x1B, 0x1F, 0x26),
    raised: Color32::from_rgb(0x2D, 0x33, 0x3D),
    ink: Color32::from_rgb(0xF2, 0xEF, 0xE6),
    dim: Color32::from_rgb(0xBD, 0xBA, 0xB0),
    line: Color32::from_rgb(0x6C, 0x72, 0x7E),
    accent: OKABE_ITO[1],
    error: Color32::from_rgb(0xFF, 0x9A, 0x76),
    good: Color32::from_rgb(0x5F, 0xD3, 0xAE),
};

const LIGHT: Palette = Palette {
    ground: Color32::from_rgb(0xEE, 0xEA, 0xDF),
    panel: Color32::from_rgb(0xFC, 0xFA, 0xF3),
    raised: Color32::from_rgb(0xDD, 0xD8, 0xC9),
    ink: Color32::from_rgb(0x1A, 0x1A, 0x1A),
    dim: Color32::from_rgb(0x4C, 0x4A, 0x44),
    line: Color32::from_rgb(0x85, 0x80, 0x74),
    accent: Color32::from_rgb(0x00, 0x4F, 0x7C),
    error: Color32::from_rgb(0x9A, 0x2C, 0x00),
    good: Color32::from_rgb(0x00, 0x58, 0x40),
};

impl Palette {
    /// The colours of a theme.
    pub const fn of(theme: Theme) -> &'static Palette {
        match theme {
            Theme::Dark => &DARK,
            Theme::Light => &LIGHT,
        }
    }

    /// Behind what is chosen; its text has the accent colour.
    pub fn selected(&self) -> Color32 {
        self.ground.lerp_to_gamma(self.accent, 0.2)
    }

    /// The same for the library's own widgets. Focus shows as a frame in the
    /// accent colour, two points wide.
    pub fn visuals(&self, theme: Theme) -> Visuals {
        let mut visuals = match theme {
            Theme::Dark => Visuals::dark(),
            Theme::Light => Visuals::light(),
        };
        visuals.panel_fill = self.ground;
        visuals.window_fill = self.panel;
        visuals.window_stroke = Stroke::new(1.0, self.line);
        visuals.extreme_bg_color = self.panel;
        visuals.text_edit_bg_color = Some(self.panel);
        visuals.faint_bg_color = self.panel;
        visuals.code_bg_color = self.panel;
        visuals.weak_text_color = Some(self.dim);
        visuals.hyperlink_color = self.accent;
        visuals.warn_fg_color = self.error;
        visuals.error_fg_color = self.error;
        visuals.selection.bg_fill = self.selected();
        visuals.selection.stroke = Stroke::new(2.0, self.accent);
        let radius = CornerRadius::same(3);
        let widgets = &mut visuals.widgets;
        for (state, fill, frame) in [
            (
                &mut widgets.noninteractive,
                self.panel,
                Stroke::new(1.0, self.line),
            ),
            (
                &mut widgets.inactive,
                self.raised,
                Stroke::new(1.0, self.line),
            ),
            (
                &mut widgets.hovered,
                self.raised,
                Stroke::new(1.5, self.ink),
            ),
            (
                &mut widgets.active,
                self.raised,
                Stroke::new(2.0, self.accent),
            ),
            (&mut widgets.open, self.raised, Stroke::new(1.0, self.ink)),
        ] {
            state.bg_fill = fill;
            state.weak_bg_fill = fill;
            state.bg_stroke = frame;
            state.fg_stroke = Stroke::new(1.0, self.ink);
            state.corner_radius = radius;
        }
        visuals
    }
}

/// Black or white, whichever reads better on `ground`.
pub fn text_on(ground: Color32) -> Color32 {
    let by_contrast =
        |a: &&Color32, b: &&Color32| contrast(**a, ground).total_cmp(&contrast(**b, ground));
    *[Color32::BLACK, Color32::WHITE]
        .iter()
        .max_by(by_contrast)
        .unwrap_or(&Color32::BLACK)
}

/// Contrast ratio of two colours, 1 to 21 (WCAG 2.2, definitions of "contrast
/// ratio" and "relative luminance").
pub fn contrast(a: Color32, b: Color32) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

fn luminance(colour: Color32) -> f64 {
    let [r, g, b] = [colour.r(), colour.g(), colour.b()].map(linear);
    0.2126 * r + 0.7152 * g + 0.0722 * b
}

/// A channel of sRGB made linear, 0 to 1.
fn linear(channel: u8) -> f64 {
    let c = f64::from(channel) / 255.0;
    if c <= 0.04045 {
        c / 12.92
    } else {
        ((c + 0.055) / 1.055).powf(2.4)
    }
}

/// Colour of each letter of a timeline: letters in the order written take the
/// set in its order; a variation has its parent letter's colour.
pub fn letter_colours(timeline: &Timeline) -> Vec<Color32> {
    let mut roots: Vec<&str> = Vec::new();
    timeline
        .letters
        .iter()
        .map(|letter| {
            let root = letter.as_str().trim_end_matches('\'');
            let number = roots.iter().position(|r| *r == root).unwrap_or_else(|| {
                roots.push(root);
                roots.len() - 1
            });
            OKABE_ITO[number % OKABE_ITO.len()]
        })
        .collect()
}

#[cfg(test)]
mod test;
