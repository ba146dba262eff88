//! Keeping something: the chosen cell, the chosen run of the form, or all of it,
//! under a name with tags and a note.
//!
//! Where an item of that name is there, the user says whether both are meant to
//! stay.

use std::sync::Arc;

use barform_app::music::{Beats, Letter};
use barform_app::score::edit::{Loosened, Owner};
use barform_app::score::{CellDef, FormItem, Overrides, Score, Section, form_text};
use barform_app::shelf::{Item, ItemId, Label, fold, pick, pick_run};
use egui::{Key, RichText, TextEdit, Ui};

use crate::editor::desk::Desk;
use crate::editor::palette::Palette;
use barform_app::shelf::{NewContent, ShelfEdit};
use barform_app::words::{self, suggested_name};

/// What is to be kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// The cell on the Bench.
    Cell,
    /// The chosen blocks of the form.
    Run,
    /// The whole score.
    Form,
}

/// The form that is filled in.
#[derive(Debug, Clone)]
pub struct Keep {
    what: What,
    name: String,
    /// The name it began with; as long as it stands it follows what is chosen.
    suggested: String,
    tags: String,
    note: String,
    /// Why it was not kept.
    pub refused: Option<String>,
    /// It is on its way to the disk.
    pub sent: bool,
    /// The item of the name typed, as last looked for.
    same: Option<Same>,
    fresh: bool,
}

/// An item of a name, worked out once for each name and list.
#[derive(Debug, Clone)]
struct Same {
    name: String,
    among: Arc<Vec<Item>>,
    item: Option<ItemId>,
}

/// What the form came to in a frame.
pub enum Outcome {
    /// It is still open.
    Open,
    /// This is to be done.
    Edit(ShelfEdit),
    /// It was given up.
    Closed,
    /// What it is about is no longer chosen; what was typed is to stay.
    Left,
}

/// A name to begin with.
fn name_for(desk: &Desk, what: What) -> String {
    let score = desk.score();
    match what {
        What::Form => suggested_name(score, ""),
        What::Cell => match desk.owner() {
            Some(Owner::Cell(letter)) => suggested_name(score, &words::letter(&letter)),
            Some(Owner::Ostinato(name)) => suggested_name(score, &name),
            None => String::new(),
        },
        What::Run => {
            let run = desk.chosen.run.as_ref();
            let items = run.and_then(|run| run.items(score));
            let text = items.map(form_text);
            let text: String = text.unwrap_or_default().chars().take(40).collect();
            suggested_name(score, &text)
        }
    }
}

/// The three things that can be kept, with their names; `None` where there is
/// nothing of the kind.
pub fn choices(desk: &Desk) -> [(What, Option<String>, &'static str); 3] {
    let cell = desk.owner().map(|owner| match owner {
        Owner::Cell(letter) => format!("cell {}", words::letter(&letter)),
        Owner::Ostinato(name) => format!("ostinato {name} as a cell"),
    });
    let run = desk.chosen.run.as_ref();
    let items = run.and_then(|run| run.items(desk.score()));
    let blocks = items.map(|items| match items.len() {
        1 => "the selected block".to_owned(),
        n => format!("the {n} selected blocks"),
    });
    [
        (
            What::Cell,
            cell,
            "The cell on the Bench, by itself (Ctrl+K)",
        ),
        (
            What::Run,
            blocks,
            "The selected part of the Form strip with the cells it needs",
        ),
        (
            What::Form,
            Some("the whole form".to_owned()),
            "The score as it is, comments and all",
        ),
    ]
}

impl Keep {
    /// A form for one of them.
    pub fn begin(desk: &Desk, what: What) -> Keep {
        let name = name_for(desk, what);
        Keep {
            what,
            name: name.clone(),
            suggested: name,
            tags: String::new(),
            note: String::new(),
            refused: None,
            sent: false,
            same: None,
            fresh: true,
        }
    }

    /// What it is to keep.
    pub fn what(&self) -> What {
        self.what
    }

    /// Whether anything would be lost with it.
    pub fn is_filled(&self) -> bool {
        self.sent || self.name != self.suggested || !(self.tags.is_empty() && self.note.is_empty())
    }

    /// It comes into view again.
    pub fn resume(&mut self) {
        self.fresh = true;
    }

    /// Shows it.
    pub fn show(
        &mut self,
        ui: &mut Ui,
        desk: &Desk,
        items: &Arc<Vec<Item>>,
        tags: &[(String, usize)],
        palette: &Palette,
    ) -> Outcome {
        let choices = choices(desk);
        let what = choices.iter().find(|(what, ..)| *what == self.what);
        let what = what.and_then(|(_, name, _)| name.clone());
        let Some(what) = what else {
            // It is no longer chosen.
            return match self.is_filled() {
                true => Outcome::Left,
                false => Outcome::Closed,
            };
        };
        if self.name == self.suggested {
            self.suggested = name_for(desk, self.what);
            self.name.clone_from(&self.suggested);
        }
        let title = RichText::new(format!("Keep {what}")).size(18.0);
        ui.label(title.color(palette.accent));
        let enter = self.fields(ui, tags, palette);
        if let Some(why) = &self.refused {
            ui.label(RichText::new(why).color(palette.error));
        }
        let same = self.same(items);
        if same.is_some() && !self.sent {
            let text = "There is an item of this name on the shelf.";
            ui.label(RichText::new(text).color(palette.error));
        }
        let mut outcome = Outcome::Open;
        ui.horizontal_wrapped(|ui| {
            let text = if same.is_some() { "Keep both" } else { "Keep" };
            let hint = "Puts it on the shelf (Enter in the name)";
            let keep = ui.add_enabled(!self.sent, egui::Button::new(text));
            let keep = keep.on_hover_text(hint).clicked() || (enter && !self.sent);
            if keep && let Some(edit) = self.edit(desk, None) {
                outcome = Outcome::Edit(edit);
            }
            if let Some(id) = same {
                let replace = ui.button("Replace it").on_hover_text(
                    "Replaces the other's music with this; its name, tags and note stay",
                );
                if replace.clicked()
                    && let Some(edit) = self.edit(desk, Some(id))
                {
                    outcome = Outcome::Edit(edit);
                }
            }
            if ui.button("Cancel").on_hover_text("Esc").clicked() {
                outcome = Outcome::Closed;
            }
        });
        outcome
    }

    /// The item that has the name already.
    fn same(&mut self, items: &Arc<Vec<Item>>) -> Option<ItemId> {
        let known = |s: &&Same| s.name == self.name && Arc::ptr_eq(&s.among, items);
        if let Some(same) = self.same.as_ref().filter(known) {
            return same.item.clone();
        }
        let folded = fold(self.name.trim());
        let item = items.iter().find(|item| fold(&item.name) == folded);
        let item = item.map(|item| item.id.clone());
        self.same = Some(Same {
            name: self.name.clone(),
            among: items.clone(),
            item: item.clone(),
        });
        item
    }

    /// Name, tags, note. Returns whether Enter was pressed in the name.
    fn fields(&mut self, ui: &mut Ui, tags: &[(String, usize)], palette: &Palette) -> bool {
        let label = |ui: &mut Ui, text: &str| {
            ui.label(RichText::new(text).color(palette.dim));
        };
        label(ui, "Name");
        let field = TextEdit::singleline(&mut self.name).desired_width(f32::INFINITY);
        let field = ui.add(field).accessible_name("Item name");
        if std::mem::take(&mut self.fresh) {
            field.request_focus();
        }
        let enter = field.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter));
        label(ui, "Tags, between commas");
        let field = TextEdit::singleline(&mut self.tags)
            .desired_width(f32::INFINITY)
            .hint_text("toms, warm-up");
        ui.add(field).accessible_name("Item tags");
        if !tags.is_empty() {
            ui.horizontal_wrapped(|ui| {
                let here = words::tags(&self.tags);
                let known = tags.iter().map(|(tag, _)| tag);
                let free = known.filter(|t| !here.iter().any(|h| fold(h) == fold(t)));
                for tag in free.take(8).cloned().collect::<Vec<_>>() {
                    if ui
                        .small_button(format!("+ {tag}"))
                        .on_hover_text("Adds this tag")
                        .clicked()
                    {
                        let mut all = here.clone();
                        all.push(tag);
                        self.tags = all.join(", ");
                    }
                }
            });
        }
        label(ui, "Note");
        let field = TextEdit::multiline(&mut self.note)
            .desired_rows(2)
            .desired_width(f32::INFINITY);
        ui.add(field).accessible_name("Item note");
        enter
    }

    /// What is to be done; `None`, with the reason kept, if it cannot be.
    fn edit(&mut self, desk: &Desk, replaced: Option<ItemId>) -> Option<ShelfEdit> {
        self.refused = None;
        let label = Label::named(self.name.trim())
            .tagged(words::tags(&self.tags))
            .noted(self.note.trim());
        let score = match (self.what, &replaced) {
            (What::Form, None) => {
                self.sent = true;
                let text = desk.shown.checked.text().to_owned();
                return Some(ShelfEdit::Keep(label, NewContent::Text(text)));
            }
            (What::Form, Some(_)) => Ok(desk.score().clone()),
            (What::Cell, _) => cell(desk),
            (What::Run, _) => run(desk),
        };
        match score {
            Ok(score) => {
                self.sent = true;
                let score = Box::new(score);
                Some(match replaced {
                    Some(id) => ShelfEdit::Replace(id, score),
                    None => ShelfEdit::Keep(label, NewContent::Score(score)),
                })
            }
            Err(why) => {
                self.refused = Some(why);
                None
            }
        }
    }
}

fn cell(desk: &Desk) -> Result<Score, String> {
    match desk.owner() {
        None => Err("The score has no cell.".to_owned()),
        Some(Owner::Cell(letter)) => pick(desk.score(), &[letter]).map_err(|e| e.to_string()),
        Some(Owner::Ostinato(name)) => ostinato(desk, &name),
    }
}

/// An ostinato's pattern as a cell.
fn ostinato(desk: &Desk, name: &str) -> Result<Score, String> {
    let from = desk.score();
    let ostinato = from.ostinatos.iter().find(|o| o.name == name);
    let letter = Letter::new("O");
    let (Some(ostinato), Some(letter)) = (ostinato, letter) else {
        return Err(format!("There is no ostinato {name} any more."));
    };
    let score = Score {
        title: String::new(),
        pickup: Beats::ZERO,
        sections: vec![Section {
            name: String::new(),
            meter: None,
            overrides: Overrides::default(),
            items: vec![FormItem::Letter {
                letter: letter.clone(),
                overrides: Overrides::default(),
            }],
        }],
        cells: vec![CellDef {
            letter,
            like: None,
            grid: Some(ostinato.grid.clone()),
            sticking: Some(ostinato.sticking.clone()),
            voices: ostinato.voices.clone(),
        }],
        ostinatos: Vec::new(),
        voicings: Vec::new(),
        ..from.clone()
    };
    score.check().map_err(|e| e.to_string())?;
    Ok(score)
}

fn run(desk: &Desk) -> Result<Score, String> {
    let Some(run) = &desk.chosen.run else {
        return Err("No block of the form is selected.".to_owned());
    };
    let picked: (Score, Vec<Loosened>) = pick_run(desk.score(), run).map_err(|e| e.to_string())?;
    Ok(picked.0)
}
