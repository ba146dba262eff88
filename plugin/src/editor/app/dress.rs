//! Colours, type and spacing of the whole window.

use egui::Ui;

use super::super::fonts;
use super::super::palette::Palette;
use super::App;
use crate::state::Theme;

impl App {
    /// Colours, when the theme changes.
    pub(super) fn dress(&mut self, ui: &mut Ui) -> &'static Palette {
        let theme = self.desk.params.session.prefs().theme;
        let palette = Palette::of(theme);
        fonts::prepare(ui.ctx());
        if self.theme != Some(theme) {
            self.theme = Some(theme);
            let base = match theme {
                Theme::Dark => egui::Theme::Dark,
                Theme::Light => egui::Theme::Light,
            };
            ui.ctx().set_theme(base);
            ui.ctx().set_visuals_of(base, palette.visuals(theme));
            ui.ctx().all_styles_mut(|style| {
                use egui::{FontFamily, FontId, TextStyle};
                for (kind, size, family) in [
                    (TextStyle::Body, 14.0, FontFamily::Proportional),
                    (TextStyle::Button, 14.0, FontFamily::Proportional),
                    (TextStyle::Small, 12.0, FontFamily::Proportional),
                    (TextStyle::Monospace, 14.0, FontFamily::Monospace),
                ] {
                    style.text_styles.insert(kind, FontId::new(size, family));
                }
                style.spacing.item_spacing = egui::vec2(8.0, 5.0);
                style.spacing.button_padding = egui::vec2(8.0, 3.0);
                style.spacing.slider_width = 150.0;
                style.spacing.menu_margin = egui::Margin::same(10);
            });
            let style = ui.ctx().style_of(base);
            ui.set_style(style);
        }
        palette
    }
}
