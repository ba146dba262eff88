//! The row of letters to choose from, and what is done to a cell as a whole.

use barform_app::music::{Grid, Letter};
use barform_app::score::edit::{Owner, Uses};
use barform_app::words;
use egui::{Button, CornerRadius, FontId, Id, Key, Modal, RichText, ScrollArea, Sense, Stroke};
use egui::{StrokeKind, TextEdit, Ui, WidgetInfo, vec2};

use super::super::desk::{Desk, Spot};
use super::super::palette::{Palette, text_on};
use super::act::Act;
use super::known::Known;
use super::whole::{copy, cut, delete_cell, new_cell, new_ostinato, rename, vary};

/// What waits for an answer.
#[derive(Debug, Default)]
enum Asked {
    #[default]
    Nothing,
    /// The new name as typed.
    Rename(String),
    /// Whether a cell goes with its places in the form.
    Delete(Letter, usize),
}

/// The row.
#[derive(Debug, Default)]
pub struct Letters {
    asked: Asked,
    fresh: bool,
    /// What was in view last frame, in a row how wide in points.
    chosen: Option<Owner>,
    width: f32,
}

impl Letters {
    /// The letters, in the space that is left of the row.
    pub fn choose(&mut self, ui: &mut Ui, desk: &mut Desk, palette: &Palette) {
        let now = desk.owner();
        let width = ui.available_width();
        let moved = self.chosen != now || self.width != width;
        self.chosen.clone_from(&now);
        self.width = width;
        let mut wish = None;
        let height = ui.spacing().interact_size.y;
        ScrollArea::horizontal()
            .id_salt("bench letters")
            .auto_shrink([false, true])
            .max_height(height)
            .scroll_bar_visibility(egui::scroll_area::ScrollBarVisibility::AlwaysHidden)
            .show(ui, |ui| {
                ui.horizontal(|ui| {
                    ui.spacing_mut().item_spacing.x = 4.0;
                    for (index, def) in desk.score().cells.iter().enumerate() {
                        let owner = Owner::Cell(def.letter.clone());
                        let chosen = now.as_ref() == Some(&owner);
                        let colour = desk.shown.colours.get(index).copied();
                        let colour = colour.unwrap_or(palette.raised);
                        let text = words::letter(&def.letter);
                        let name = format!("Cell {}", def.letter);
                        if badge(ui, &text, &name, colour, chosen, moved, palette) {
                            wish = Some(owner);
                        }
                    }
                    for ostinato in &desk.score().ostinatos {
                        let owner = Owner::Ostinato(ostinato.name.clone());
                        let chosen = now.as_ref() == Some(&owner);
                        let name = format!("Ostinato {}", ostinato.name);
                        let ground = palette.raised;
                        if badge(ui, &ostinato.name, &name, ground, chosen, moved, palette) {
                            wish = Some(owner);
                        }
                    }
                });
            });
        if let Some(owner) = wish {
            desk.chosen.owner = Some(owner);
            desk.chosen.slot = 0;
        }
    }

    /// The buttons of a cell as a whole.
    pub fn buttons(&mut self, ui: &mut Ui, desk: &mut Desk, known: Option<&Known>) -> Option<Act> {
        let new = ui
            .button("New cell")
            .on_hover_text("A cell of rests under the next free letter, on the grid of this one")
            .accessible_name("New cell");
        if new.clicked() {
            let grid = known.map(|known| known.cell.grid.clone());
            new_cell(desk, grid.or_else(|| Grid::per_beat(4)));
        }
        let known = known?;
        let letter = match &known.owner {
            Owner::Cell(letter) => Some(letter.clone()),
            Owner::Ostinato(_) => None,
        };
        let prime = ui
            .add_enabled(letter.is_some(), Button::new("New prime"))
            .on_hover_text(
                "A variation of this cell: it takes from it what you do not change in it",
            )
            .on_disabled_hover_text("An ostinato has no variations");
        if let Some(letter) = letter.as_ref().filter(|_| prime.clicked()) {
            vary(desk, letter);
        }
        let rename = ui.button("Rename").on_hover_text(match letter {
            Some(_) => "Another letter, wherever the form plays it",
            None => "Another name",
        });
        let rename = rename.accessible_name("Rename this cell");
        if rename.clicked() {
            self.asked = Asked::Rename(match &known.owner {
                Owner::Cell(letter) => letter.as_str().to_owned(),
                Owner::Ostinato(name) => name.clone(),
            });
            self.fresh = true;
        }
        let delete = ui
            .button("Delete")
            .on_hover_text("Deletes the cell from the score; asks first where the form plays it")
            .accessible_name("Delete this cell");
        if delete.clicked() {
            self.delete(desk, known);
        }
        self.more(ui, desk, known)
    }

    /// What is needed less often.
    fn more(&mut self, ui: &mut Ui, desk: &mut Desk, known: &Known) -> Option<Act> {
        let mut act = None;
        let menu = ui.menu_button("Whole cell…", |ui| {
            let item = |ui: &mut Ui, name: &str, hint: &str| {
                let clicked = ui.button(name).on_hover_text(hint).clicked();
                if clicked {
                    ui.close();
                }
                clicked
            };
            if item(ui, "Copy cell", "As text of a score file (Ctrl+C)") {
                copy(ui, desk, known);
            }
            if item(
                ui,
                "Cut cell",
                "Copies it and removes it from the score (Ctrl+X)",
            ) {
                cut(ui, desk, known);
            }
            if item(ui, "All rests", "Removes every stroke; the grid stays") {
                act = Some(Act::Clear);
            }
            let hint = "Every stroke one slot later; the last comes first";
            if item(ui, "One slot later", hint) {
                act = Some(Act::Rotate(1));
            }
            let hint = "Every stroke one slot earlier; the first comes last";
            if item(ui, "One slot earlier", hint) {
                act = Some(Act::Rotate(-1));
            }
            let hint = "A figure on a cycle of its own that runs under the whole form";
            if item(ui, "New ostinato", hint) {
                new_ostinato(desk);
            }
        });
        menu.response
            .on_hover_text("Copy, clear, turn, ostinatos. Ctrl+V puts copied cells in");
        act
    }

    /// Deletes at once what nothing plays; else asks.
    fn delete(&mut self, desk: &mut Desk, known: &Known) {
        match &known.owner {
            Owner::Cell(letter) if known.used > 0 => {
                self.asked = Asked::Delete(letter.clone(), known.used);
            }
            Owner::Cell(letter) => delete_cell(desk, letter, Uses::Refuse),
            Owner::Ostinato(name) => {
                let (label, name) = (format!("Delete ostinato {name}"), name.clone());
                let done = desk.change(Spot::Bench, &label, None, |score| {
                    score.ostinatos.retain(|o| o.name != name);
                    Ok(())
                });
                if done.is_some() {
                    desk.chosen.owner = None;
                }
            }
        }
    }

    /// Shows the question that waits for an answer.
    pub fn ask(&mut self, ui: &Ui, desk: &mut Desk, known: Option<&Known>, palette: &Palette) {
        let Some(known) = known else {
            self.asked = Asked::Nothing;
            return;
        };
        let mut close = false;
        let fresh = std::mem::take(&mut self.fresh);
        let modal = match &mut self.asked {
            Asked::Nothing => return,
            Asked::Rename(text) => Modal::new(Id::unique("bench rename")).show(ui.ctx(), |ui| {
                ui.set_width(320.0);
                let title = format!("Another name for {}", known.owner);
                ui.label(RichText::new(title).size(18.0).color(palette.ink));
                let field = ui.add(TextEdit::singleline(text).desired_width(f32::INFINITY));
                let field = field.accessible_name("New name");
                if fresh {
                    field.request_focus();
                }
                let enter = field.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter));
                if let Some(refused) = desk.refused_at(Spot::Bench) {
                    ui.label(RichText::new(refused.to_string()).color(palette.error));
                }
                ui.add_space(6.0);
                ui.horizontal(|ui| {
                    if ui.button("Give it this name").clicked() || enter {
                        close = rename(desk, &known.owner, text.trim());
                    }
                    close |= ui.button("Leave it").on_hover_text("Esc").clicked();
                });
            }),
            Asked::Delete(letter, used) => {
                let id = Id::unique("bench delete");
                Modal::new(id).show(ui.ctx(), |ui| {
                    ui.set_width(380.0);
                    let title = format!("Delete {}?", words::letter(letter));
                    ui.label(RichText::new(title).size(18.0).color(palette.ink));
                    let places = if *used == 1 {
                        "one place"
                    } else {
                        "several places"
                    };
                    ui.label(format!(
                        "The form has it at {places} ({used}); it would be taken out there too. \
                         Undo brings it all back."
                    ));
                    ui.add_space(6.0);
                    ui.horizontal(|ui| {
                        if ui.button("Delete it everywhere").clicked() {
                            delete_cell(desk, letter, Uses::Remove);
                            close = true;
                        }
                        close |= ui.button("Cancel").on_hover_text("Esc").clicked();
                    });
                })
            }
        };
        if close || modal.should_close() {
            self.asked = Asked::Nothing;
        }
    }
}

/// A letter on its colour; what is chosen is framed and underlined.
fn badge(
    ui: &mut Ui,
    text: &str,
    name: &str,
    ground: egui::Color32,
    chosen: bool,
    moved: bool,
    palette: &Palette,
) -> bool {
    let height = ui.spacing().interact_size.y;
    let ink = text_on(ground);
    let font = FontId::proportional(15.0);
    let galley = ui.painter().layout_no_wrap(text.to_owned(), font, ink);
    let size = vec2((galley.size().x + 14.0).max(height + 4.0), height);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    response.widget_info(|| WidgetInfo::selected(egui::Role::Button, true, chosen, name));
    let inner = rect.shrink(2.0);
    ui.painter()
        .rect_filled(inner, CornerRadius::same(3), ground);
    let place = inner.center() - galley.size() / 2.0;
    ui.painter().galley(place, galley, ink);
    if chosen {
        let stroke = Stroke::new(2.0, palette.ink);
        ui.painter()
            .rect_stroke(rect, CornerRadius::same(4), stroke, StrokeKind::Inside);
        if moved {
            response.scroll_to_me(None);
        }
    } else if response.hovered() || response.has_focus() {
        let stroke = Stroke::new(1.5, palette.accent);
        ui.painter()
            .rect_stroke(rect, CornerRadius::same(4), stroke, StrokeKind::Inside);
    }
    response.on_hover_text(name).clicked()
}
