//! The right side of the page.

use barform_app::shelf::Stamp;
use egui::{RichText, ScrollArea, Ui};

use super::detail::{Detail, Wish};
use super::keep::{Keep, Outcome, What};
use super::{Pane, ShelfPage, Wanted, aside, keep};
use crate::editor::desk::Desk;
use crate::editor::palette::Palette;

impl ShelfPage {
    /// What can be kept.
    pub(super) fn keep_buttons(&mut self, ui: &mut Ui, desk: &Desk, palette: &Palette) {
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new("Keep:").color(palette.dim));
            for (what, name, hint) in keep::choices(desk) {
                let none = "No block of the form is selected in the strip";
                let text = name.as_deref().unwrap_or("the selected block");
                let begun = self.put_by.iter().any(|keep| keep.what() == what);
                let (dots, hint) = match begun {
                    true => (" …", "What you typed before is still there"),
                    false => ("", hint),
                };
                let button = egui::Button::new(format!("{text}{dots}"));
                let button = ui
                    .add_enabled(name.is_some(), button)
                    .on_hover_text(hint)
                    .on_disabled_hover_text(none)
                    .accessible_name(format!("Keep {text}"));
                if button.clicked() {
                    self.keep(desk, what);
                }
            }
        });
    }

    /// Begins to keep something, or goes on where that was left.
    pub(super) fn keep(&mut self, desk: &Desk, what: What) {
        self.turn_to(Pane::Item);
        let begun = self.put_by.iter().position(|keep| keep.what() == what);
        let keep = match begun {
            Some(n) => {
                let mut keep = self.put_by.swap_remove(n);
                keep.resume();
                keep
            }
            None => Keep::begin(desk, what),
        };
        self.pane = Pane::Keep(Box::new(keep));
    }

    /// Shows something else on the right. What was typed to keep something is
    /// put by, one for each thing that can be kept.
    pub(super) fn turn_to(&mut self, pane: Pane) {
        if let Pane::Keep(keep) = std::mem::replace(&mut self.pane, pane)
            && keep.is_filled()
        {
            self.put_by.retain(|other| other.what() != keep.what());
            self.put_by.push(*keep);
        }
    }

    /// What was sent to be kept, wherever it is.
    pub(super) fn sent(&mut self) -> Option<&mut Keep> {
        let open = match &mut self.pane {
            Pane::Keep(keep) => Some(&mut **keep),
            _ => None,
        };
        let mut all = open.into_iter().chain(&mut self.put_by);
        all.find(|keep| keep.sent)
    }

    /// What is being kept, what was taken off, or the chosen item.
    pub(super) fn right(&mut self, ui: &mut Ui, desk: &mut Desk, now: Stamp, palette: &Palette) {
        match &mut self.pane {
            Pane::Keep(keep) => {
                let (all, tags) = (self.found.all.clone(), self.found.tags.clone());
                let area = ScrollArea::vertical().id_salt("keep").auto_shrink(false);
                let outcome = area
                    .show(ui, |ui| keep.show(ui, desk, &all, &tags, palette))
                    .inner;
                match outcome {
                    Outcome::Open => {}
                    Outcome::Closed => self.pane = Pane::Item,
                    Outcome::Left => self.turn_to(Pane::Item),
                    Outcome::Edit(edit) => self.act(edit),
                }
            }
            Pane::Removed => {
                if let Some(edit) = aside::removed(ui, &self.found, &self.dir, now, palette) {
                    self.act(edit);
                }
            }
            Pane::Damaged => {
                if let Some(edit) = aside::damaged(ui, &self.found, palette) {
                    self.act(edit);
                }
            }
            Pane::Item => self.chosen_item(ui, desk, now, palette),
        }
    }

    fn chosen_item(&mut self, ui: &mut Ui, desk: &mut Desk, now: Stamp, palette: &Palette) {
        let Some(item) = self.item().cloned() else {
            if !self.found.all.is_empty() {
                let text = "Select an item to see it, loop it or put it into the score.";
                ui.label(RichText::new(text).color(palette.dim));
            }
            return;
        };
        if self.previews.wants(&item.id) {
            self.read(item.id.clone());
        }
        let is_heard = self.is_heard(desk) && self.heard.as_ref() == Some(&item.id);
        let before = self.hearing;
        let detail = Detail {
            previews: &mut self.previews,
            fields: &mut self.fields,
            hearing: &mut self.hearing,
            heard: is_heard.then(|| desk.session().audition.position_beats()),
            now,
            palette,
        };
        let area = ScrollArea::vertical().id_salt("item").auto_shrink(false);
        let wishes = area.show(ui, |ui| detail.show(ui, desk, &item)).inner;
        if is_heard && before != self.hearing {
            self.heard_otherwise(desk, &item.id);
        }
        for wish in wishes {
            match wish {
                Wish::Insert(place) => self.want(desk, Wanted::Insert(place)),
                Wish::Hear => self.want(desk, Wanted::Hear),
                Wish::Edit(edit) => self.act(edit),
            }
        }
    }
}
