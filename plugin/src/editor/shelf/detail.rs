//! The chosen item: its name, tags and note to be changed, its facts, and what
//! can be done with it.
//!
//! What was typed is kept when the field is left or Enter pressed; Esc puts
//! back what was there. What cannot be kept is said under its field.

use barform_app::shelf::Item;
use barform_app::words;
use egui::{Id, Key, Response, RichText, Sense, TextEdit, Ui, vec2};

use super::fields::Fields;
use super::previews::{CELLS, Previews};
use crate::editor::desk::{Desk, Spot};
use crate::editor::palette::Palette;
use barform_app::shelf::{EditKind, ShelfEdit};

/// Height of the picture in points.
const PICTURE: f32 = 124.0;

/// Height of the pictures of a form's cells.
const CELL_PICTURE: f32 = 104.0;

/// Where an item goes in the score.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Where {
    /// Its cells to the score's cells; the form stays as it is.
    Cells,
    /// Into the form after the chosen blocks.
    After,
    /// Into the form at its end.
    End,
}

impl Where {
    /// Where an item goes if nothing is said: after what is chosen.
    pub fn usual(desk: &Desk) -> Where {
        if desk.chosen.run.is_some() {
            Where::After
        } else {
            Where::End
        }
    }
}

/// What is asked for.
#[derive(Debug)]
pub enum Wish {
    /// Into the score.
    Insert(Where),
    /// To be heard, or no longer.
    Hear,
    /// To be changed on the shelf.
    Edit(ShelfEdit),
}

/// How an item is heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Hearing {
    /// With a click.
    pub click: bool,
    /// At its own tempo instead of this score's.
    pub own_tempo: bool,
}

/// What the pane needs besides the item.
pub struct Detail<'a> {
    /// Pictures.
    pub previews: &'a mut Previews,
    /// The fields.
    pub fields: &'a mut Fields,
    /// How it is heard.
    pub hearing: &'a mut Hearing,
    /// The moment it stands at, in beats, if it is heard; within the first cell
    /// only where it is one cell.
    pub heard: Option<Option<f64>>,
    /// The present moment.
    pub now: barform_app::shelf::Stamp,
    /// Colours.
    pub palette: &'a Palette,
}

impl Detail<'_> {
    /// Shows it.
    pub fn show(mut self, ui: &mut Ui, desk: &Desk, item: &Item) -> Vec<Wish> {
        self.fields.follow(item);
        // One click may leave a field and press a button.
        let mut wishes = self.texts(ui, item);
        wishes.extend(self.insert(ui, desk, item));
        wishes.extend(self.hear(ui, desk, item));
        ui.add_space(4.0);
        let remove = ui
            .button("Remove from the shelf")
            .on_hover_text("It can be put back under Removed (Delete)");
        if remove.clicked() {
            wishes.push(Wish::Edit(ShelfEdit::Remove(item.id.clone())));
        }
        self.why_not(ui, item, EditKind::Remove);
        ui.add_space(4.0);
        self.facts(ui, item);
        wishes
    }

    /// Name, tags, note.
    fn texts(&mut self, ui: &mut Ui, item: &Item) -> Vec<Wish> {
        let mut wishes = Vec::new();
        let kinds = [
            (EditKind::Name, "Name", "Of the item and of its file (F2)"),
            (EditKind::Tags, "Tags", "Between commas"),
            (EditKind::Note, "Note", "Free text"),
        ];
        for (at, (kind, label, hint)) in kinds.into_iter().enumerate() {
            let response = ui
                .horizontal_top(|ui| {
                    let text = RichText::new(label).color(self.palette.dim);
                    ui.add_sized(vec2(38.0, 22.0), egui::Label::new(text));
                    let typed = &mut self.fields.typed[at];
                    let field = if kind == EditKind::Note {
                        TextEdit::multiline(typed).desired_rows(1)
                    } else {
                        TextEdit::singleline(typed)
                    };
                    let field = field
                        .id(field_id(label))
                        .desired_width(f32::INFINITY)
                        .hint_text(hint);
                    ui.add(field)
                        .accessible_name(format!("{label} of the item"))
                })
                .inner;
            if kind == EditKind::Name && std::mem::take(&mut self.fields.rename) {
                response.request_focus();
            }
            let edit = self.left(ui, &response, at, kind);
            wishes.extend(edit.map(Wish::Edit));
            self.why_not(ui, item, kind);
        }
        wishes
    }

    /// A field was left: what was typed is to be kept, if it is another.
    fn left(
        &mut self,
        ui: &Ui,
        response: &Response,
        at: usize,
        kind: EditKind,
    ) -> Option<ShelfEdit> {
        if response.changed() {
            self.fields.refused = None;
            self.fields.sent[at] = None;
        }
        if !response.lost_focus() {
            return None;
        }
        if ui.input(|i| i.key_pressed(Key::Escape)) {
            if let Some((_, before)) = &self.fields.of {
                self.fields.typed[at].clone_from(&before[at]);
            }
            self.fields.refused = None;
            return None;
        }
        self.fields.edit(at, kind)
    }

    fn picture(&mut self, ui: &mut Ui, height: f32, (item, nth): (&Item, usize)) {
        let (room, _) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::hover());
        if !ui.is_rect_visible(room) {
            return;
        }
        let painter = ui.painter_at(room);
        painter.rect_filled(room, 3.0, self.palette.panel);
        let inner = room.shrink2(vec2(8.0, 2.0));
        let alone = item.cells.len() == 1 && !item.has_form;
        let at = self.heard.flatten().filter(|_| alone);
        let ink = self.palette.ink;
        let cell = (&item.id, nth);
        if self.previews.paint(&painter, inner, cell, ink, at) {
            ui.ctx().request_repaint();
        }
    }

    fn insert(&mut self, ui: &mut Ui, desk: &Desk, item: &Item) -> Option<Wish> {
        let mut wish = None;
        let chosen = desk.chosen.run.is_some();
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new("Into the score:").color(self.palette.dim));
            let after = egui::Button::new("After the selected block");
            let after = ui
                .add_enabled(chosen, after)
                .on_hover_text("Into the form behind what is selected in the strip (Enter)")
                .on_disabled_hover_text("No block of the form is selected in the strip");
            let key = if chosen { "" } else { " (Enter)" };
            let end = ui
                .button("At the end")
                .on_hover_text(format!("Into the form behind its last letter{key}"));
            let cells = ui
                .button("Only its cells")
                .on_hover_text("To the score's cells; the form stays as it is (Shift+Enter)");
            for (button, place) in [
                (after, Where::After),
                (end, Where::End),
                (cells, Where::Cells),
            ] {
                if button.clicked() {
                    wish = Some(Wish::Insert(place));
                }
            }
        });
        self.why_not(ui, item, EditKind::Used);
        if let Some(problem) = desk.refused_at(Spot::Shelf) {
            ui.label(RichText::new(problem.to_string()).color(self.palette.error));
        }
        wish
    }

    fn hear(&mut self, ui: &mut Ui, desk: &Desk, item: &Item) -> Option<Wish> {
        let mut wish = None;
        ui.horizontal_wrapped(|ui| {
            let text = if self.heard.is_some() { "Stop" } else { "Loop" };
            let hint = "Loops it by itself on this score's kit (H)";
            let hear = ui.button(text).on_hover_text(hint);
            // The transport has a Stop of its own.
            if hear
                .accessible_name(format!("{text} {}", item.name))
                .clicked()
            {
                wish = Some(Wish::Hear);
            }
            ui.checkbox(&mut self.hearing.click, "with click")
                .on_hover_text("The metronome click plays along");
            let tempo = desk.score().tempo;
            ui.checkbox(&mut self.hearing.own_tempo, "own tempo")
                .on_hover_text(format!(
                    "At the tempo it was kept with instead of this score's {tempo}"
                ));
        });
        wish
    }

    fn facts(&mut self, ui: &mut Ui, item: &Item) {
        let colour = self.palette.dim;
        let dim = |text: String| RichText::new(text).color(colour);
        if item.has_form {
            ui.label(dim(words::item(item)));
        }
        for (nth, cell) in item.cells.iter().enumerate().take(CELLS) {
            let voices = cell.voices.iter();
            let voices: Vec<String> = voices.map(|v| v.said().to_owned()).collect();
            let text = format!(
                "{}: {}, {}; {}",
                words::letter(&cell.letter),
                words::beats(cell.length),
                words::grid(&cell.grid),
                voices.join(", ")
            );
            ui.label(dim(text));
            let alone = item.cells.len() == 1;
            let height = if alone { PICTURE } else { CELL_PICTURE };
            self.picture(ui, height, (item, nth));
        }
        if let Some(more) = item.cells.len().checked_sub(CELLS + 1) {
            ui.label(dim(format!("and {} cells more", more + 1)));
        }
        let kept = words::ago(item.added, self.now);
        let text = format!(
            "Kept {kept}, {}. File: {}",
            words::last_used(item, self.now),
            item.id
        );
        ui.label(dim(text));
    }

    fn why_not(&self, ui: &mut Ui, item: &Item, kind: EditKind) {
        if let Some(why) = self.fields.why(item, kind) {
            ui.label(RichText::new(why).color(self.palette.error));
        }
    }
}

fn field_id(label: &str) -> Id {
    Id::unique(("shelf field", label))
}
