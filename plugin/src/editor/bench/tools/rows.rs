//! Rows and proposals as they are drawn.

use barform_app::answers::{Proposal, Row};
use barform_app::music::Letter;
use barform_app::words;
use egui::{Button, Label, RichText, Role, Sense, Ui, WidgetInfo, vec2};

use super::super::super::engraved::Picture;
use super::super::super::palette::Palette;

/// Room beneath a picture for the wedge that marks the moment, in points.
const WEDGE: f32 = 8.0;

/// What a click on a proposal asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Act {
    /// To hear it, or no longer.
    Hear,
    /// To put it in the place of the cell.
    Use,
    /// To add it as a variation.
    Keep,
    /// To choose a slot.
    Show(usize),
}

/// What drawing a proposal needs.
pub struct Rows<'a> {
    /// Colours.
    pub palette: &'a Palette,
    /// The letter a proposal would be kept under.
    pub prime: Option<&'a Letter>,
    /// The proposal that is heard, by its name, and where, in beats.
    pub hearing: Option<(&'a str, Option<f64>)>,
}

impl Rows<'_> {
    /// Something found, with a button that shows where.
    pub fn row(&self, ui: &mut Ui, row: &Row) -> Option<Act> {
        let mut act = None;
        ui.horizontal_wrapped(|ui| {
            let name = RichText::new(&row.name).strong().color(self.palette.ink);
            ui.add(Label::new(name).wrap());
            if let Some(slot) = row.slot {
                let show = ui
                    .small_button("Show")
                    .on_hover_text("Selects its first slot");
                if show.clicked() {
                    act = Some(Act::Show(slot));
                }
                show.accessible_name(format!("Show: {}", row.name));
            }
        });
        let text = RichText::new(&row.text).small().color(self.palette.dim);
        ui.add(Label::new(text).wrap());
        ui.add_space(2.0);
        act
    }

    /// A proposal with its buttons; `open` is the one whose reasons are told.
    pub fn proposal(
        &self,
        ui: &mut Ui,
        proposal: &Proposal,
        picture: Option<&Picture>,
        open: &mut Option<String>,
    ) -> Option<Act> {
        let mut act = None;
        let hearing = self.hearing.filter(|(name, _)| *name == proposal.name);
        ui.separator();
        let name = RichText::new(&proposal.name)
            .strong()
            .color(self.palette.ink);
        ui.add(Label::new(name).wrap());
        if !proposal.summary.is_empty() {
            let said = RichText::new(&proposal.summary).color(self.palette.dim);
            ui.add(Label::new(said).wrap());
        }
        match picture {
            Some(picture) => self.picture(ui, proposal, picture, hearing.and_then(|h| h.1)),
            None => written(ui, &proposal.lines, self.palette),
        }
        ui.horizontal_wrapped(|ui| {
            let named = |response: egui::Response, what: &str, hint: &str| {
                let response = response.on_hover_text(hint);
                let clicked = response.clicked();
                response.accessible_name(format!("{what}: {}", proposal.name));
                clicked
            };
            let used = ui.button(proposal.verb);
            if named(
                used,
                proposal.verb,
                "Replaces the cell with it (Ctrl+Z undoes it)",
            ) {
                act = Some(Act::Use);
            }
            if proposal.audible {
                let heard = hearing.is_some();
                let word = if heard { "Stop" } else { "Hear" };
                let hear = ui.add(Button::new(word).selected(heard));
                if named(hear, word, "Loops it by itself") {
                    act = Some(Act::Hear);
                }
            }
            if let Some(prime) = self.prime {
                let word = format!("Keep as {}", words::letter(prime));
                let keep = ui.button(&word);
                if named(
                    keep,
                    "Keep",
                    "Adds it as a variation; the cell stays as it is",
                ) {
                    act = Some(Act::Keep);
                }
            }
            if !proposal.reasons.is_empty() {
                let is_open = open.as_deref() == Some(proposal.name.as_str());
                let why = ui.add(Button::new("Why").selected(is_open));
                if named(why, "Why", "Slot by slot, in words") {
                    *open = (!is_open).then(|| proposal.name.clone());
                }
            }
        });
        if open.as_deref() == Some(proposal.name.as_str()) {
            for line in &proposal.reasons {
                let line = RichText::new(line).small().color(self.palette.dim);
                ui.add(Label::new(line).wrap());
            }
        }
        act
    }

    /// The proposal on a staff; its lines as text are told on hovering.
    fn picture(&self, ui: &mut Ui, proposal: &Proposal, picture: &Picture, at: Option<f64>) {
        let (rect, response) =
            ui.allocate_exact_size(picture.size + vec2(0.0, WEDGE), Sense::hover());
        picture.paint(ui.painter(), rect.min, self.palette.ink);
        if let Some(at) = at {
            let (left, bottom) = (rect.left(), rect.bottom());
            picture.mark(ui.painter(), left, bottom, at, self.palette.accent);
        }
        let lines = || proposal.lines.join("\n");
        response.widget_info(|| WidgetInfo::labeled(Role::Image, true, lines()));
        response.on_hover_ui(|ui| written(ui, &proposal.lines, self.palette));
    }
}

/// Sticking and voices as text, column under column.
fn written(ui: &mut Ui, lines: &[String], palette: &Palette) {
    for line in lines {
        let line = RichText::new(line).monospace().size(12.0);
        ui.add(Label::new(line.color(palette.ink)).extend());
    }
}
