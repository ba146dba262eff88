//! Kept key maps: this kit under a name, other kits in its place.
//!
//! What cannot be done is said at the map it was asked of.

use barform_app::music::Kit;
use barform_app::shelf::{ItemId, KitEntry, KitListing, Kits, ShelfError};
use egui::{Align, Context, Key, Label, Layout, RichText, ScrollArea, TextEdit, Ui, vec2};

use crate::editor::desk::{Desk, Spot};
use crate::editor::palette::Palette;
use barform_app::background::Worker;

/// Points for the name of a map.
const NAME: f32 = 200.0;

/// What a job came to.
struct Answer {
    /// The map it was asked of; `None` for a new one.
    about: Option<ItemId>,
    /// What was done, or why not.
    said: Result<String, String>,
    there: Result<KitListing, String>,
    removed: Vec<KitEntry>,
}

/// The kept maps.
#[derive(Default)]
pub struct Maps {
    worker: Option<Worker<Kits, Answer>>,
    listing: KitListing,
    removed: Vec<KitEntry>,
    /// Why the folder cannot be listed.
    unlisted: Option<String>,
    /// Why something was not done, at the map it was asked of.
    refused: Option<(Option<ItemId>, String)>,
    /// A new name, as typed.
    name: String,
    renaming: Option<(ItemId, String)>,
    focus_rename: bool,
}

impl Maps {
    /// Looks again at what is there: the page has come into view.
    pub fn look(&mut self, ctx: &Context, desk: &Desk) {
        let Some(folders) = &desk.folders else {
            return;
        };
        if self.worker.is_none() {
            let ctx = ctx.clone();
            let kits = Kits::open(folders.kits());
            let wake = move || ctx.request_repaint();
            self.worker = Some(Worker::new("key maps", kits, wake));
        }
        self.ask(None, |_| Ok(String::new()));
    }

    /// Does something on the thread, then looks again.
    fn ask(
        &mut self,
        about: Option<ItemId>,
        job: impl FnOnce(&Kits) -> Result<String, ShelfError> + Send + 'static,
    ) {
        let Some(worker) = &mut self.worker else {
            return;
        };
        worker.ask(move |kits| Answer {
            about,
            said: job(kits).map_err(|e| e.to_string()),
            there: kits.list().map_err(|e| e.to_string()),
            removed: kits.removed().map(|l| l.kits).unwrap_or_default(),
        });
    }

    /// Takes what the thread has done.
    pub fn poll(&mut self, desk: &mut Desk) {
        while let Some(answer) = self.worker.as_mut().and_then(Worker::answer) {
            match answer.said {
                Ok(said) if said.is_empty() => {}
                Ok(said) => {
                    self.refused = None;
                    desk.tell(said);
                }
                Err(why) => self.refused = Some((answer.about, why)),
            }
            match answer.there {
                Ok(listing) => {
                    self.listing = listing;
                    self.unlisted = None;
                }
                Err(why) => self.unlisted = Some(why),
            }
            self.removed = answer.removed;
        }
    }

    /// Shows them.
    pub fn show(&mut self, ui: &mut Ui, desk: &mut Desk, palette: &Palette) {
        let Some(folders) = &desk.folders else {
            let text = "This machine names no folder for your own data, so key maps cannot be \
                        kept. The kit itself is saved with the score.";
            ui.label(RichText::new(text).color(palette.dim));
            return;
        };
        let folder = folders.kits().display().to_string();
        ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            let text = format!(
                "A key map is a kit with its MIDI notes, channels and velocities, kept for every \
                 score: one for each sampler or drum module. They are files in {folder}."
            );
            ui.label(RichText::new(text).color(palette.dim));
            ui.add_space(4.0);
            self.keep(ui, desk, palette);
            ui.add_space(6.0);
            if let Some(why) = &self.unlisted {
                ui.label(RichText::new(why).color(palette.error));
            }
            self.list(ui, desk, palette);
            self.damaged(ui, palette);
            self.taken_off(ui, palette);
        });
    }

    /// The line to keep this kit.
    fn keep(&mut self, ui: &mut Ui, desk: &Desk, palette: &Palette) {
        ui.horizontal_wrapped(|ui| {
            let field = TextEdit::singleline(&mut self.name)
                .desired_width(NAME)
                .hint_text("Name of the sampler or module");
            let field = ui.add(field).accessible_name("Name of the key map");
            let enter = field.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter));
            let keep = ui
                .button("Keep this kit")
                .on_hover_text("Under this name; another of the same name stays");
            if (keep.clicked() || enter) && self.worker.is_some() {
                let (name, kit) = (self.name.clone(), desk.score().kit.clone());
                self.refused = None;
                self.name.clear();
                self.ask(None, move |kits| {
                    kits.save(&name, &kit)?;
                    Ok(format!("The key map {} is kept.", name.trim()))
                });
            }
        });
        self.why_not(ui, None, palette);
    }

    fn list(&mut self, ui: &mut Ui, desk: &mut Desk, palette: &Palette) {
        if self.listing.kits.is_empty() {
            let text = "No key map is kept yet. Set the MIDI notes of this kit, then give it a \
                        name above.";
            ui.label(RichText::new(text).color(palette.dim));
            return;
        }
        let kits = std::mem::take(&mut self.listing.kits);
        for entry in &kits {
            self.entry(ui, desk, palette, entry);
        }
        // An answer may have come meanwhile only in `poll`.
        self.listing.kits = kits;
    }

    fn entry(&mut self, ui: &mut Ui, desk: &mut Desk, palette: &Palette, entry: &KitEntry) {
        let name = &entry.name;
        let plays = entry.kit == desk.score().kit;
        ui.horizontal_wrapped(|ui| {
            if self.rename_field(ui, entry) {
                return;
            }
            let mut text = RichText::new(name).color(palette.ink);
            if plays {
                text = text.color(palette.accent);
            }
            name_column(ui, text, name);
            let button = |ui: &mut Ui, text: &str, hint: &str| {
                let response = ui.button(text).on_hover_text(hint);
                response.accessible_name(format!("{text} {name}")).clicked()
            };
            if plays {
                ui.label(RichText::new("plays now").color(palette.good));
            } else {
                if button(ui, "Load", "Replaces the score's kit with this one") {
                    self.load(desk, entry);
                }
                let hint = "Replaces it with this score's kit";
                if button(ui, "Replace", hint) {
                    let (id, kit) = (entry.id.clone(), desk.score().kit.clone());
                    let said = format!("The key map {name} is now this kit.");
                    self.ask(Some(id.clone()), move |kits| {
                        kits.replace(&id, &kit)?;
                        Ok(said)
                    });
                }
            }
            if button(ui, "Rename", "Gives it another name") {
                self.renaming = Some((entry.id.clone(), name.clone()));
                self.focus_rename = true;
            }
            let hint = "Removes it from the list; it can be put back below";
            if button(ui, "Remove", hint) {
                let (id, name) = (entry.id.clone(), name.clone());
                self.ask(Some(id.clone()), move |kits| {
                    kits.remove(&id)?;
                    Ok(format!("The key map {name} was removed."))
                });
            }
        });
        self.why_not(ui, Some(&entry.id), palette);
    }

    /// The field for a new name, if this one gets one.
    fn rename_field(&mut self, ui: &mut Ui, entry: &KitEntry) -> bool {
        let Some((id, typed)) = self.renaming.as_mut().filter(|(id, _)| *id == entry.id) else {
            return false;
        };
        let field = TextEdit::singleline(typed).desired_width(NAME);
        let field = ui.add(field).accessible_name("New name");
        if std::mem::take(&mut self.focus_rename) {
            field.request_focus();
        }
        let enter = field.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter));
        let escape = field.lost_focus() && ui.input(|i| i.key_pressed(Key::Escape));
        let done = ui.button("Rename").clicked() || enter;
        if done {
            let (id, name) = (id.clone(), typed.clone());
            self.ask(Some(id.clone()), move |kits| {
                kits.rename(&id, &name)?;
                Ok(String::new())
            });
        }
        if done || escape || ui.button("Cancel").on_hover_text("Esc").clicked() {
            self.renaming = None;
        }
        true
    }

    fn load(&mut self, desk: &mut Desk, entry: &KitEntry) {
        let kit: Kit = entry.kit.clone();
        let label = format!("Load the key map {}", entry.name);
        desk.change(Spot::Kit, &label, None, |score| {
            score.kit = kit;
            Ok(())
        });
    }

    /// Why something was not done, where it was asked.
    fn why_not(&self, ui: &mut Ui, about: Option<&ItemId>, palette: &Palette) {
        if let Some((at, why)) = &self.refused
            && at.as_ref() == about
        {
            ui.label(RichText::new(why).color(palette.error));
        }
    }

    fn damaged(&mut self, ui: &mut Ui, palette: &Palette) {
        if self.listing.damaged.is_empty() {
            return;
        }
        ui.add_space(6.0);
        let title = RichText::new("Files that cannot be read").color(palette.accent);
        ui.label(title).on_hover_text("They stay where they are");
        for damaged in &self.listing.damaged {
            let text = format!("{}: {}", damaged.id, damaged.error);
            ui.label(RichText::new(text).color(palette.error));
        }
    }

    fn taken_off(&mut self, ui: &mut Ui, palette: &Palette) {
        if self.removed.is_empty() {
            return;
        }
        ui.add_space(6.0);
        ui.label(RichText::new("Removed").color(palette.accent))
            .on_hover_text("They stay in the folder 'removed' until you delete them there");
        let removed = std::mem::take(&mut self.removed);
        for entry in &removed {
            let name = &entry.name;
            ui.horizontal(|ui| {
                name_column(ui, RichText::new(name).color(palette.dim), name);
                let restore = ui
                    .button("Restore")
                    .on_hover_text("Puts it back")
                    .accessible_name(format!("Restore {name}"));
                if restore.clicked() {
                    let (id, name) = (entry.id.clone(), name.clone());
                    self.ask(None, move |kits| {
                        kits.restore(&id)?;
                        Ok(format!("The key map {name} is back."))
                    });
                }
            });
        }
        self.removed = removed;
    }
}

/// A name at the left of its column, cut where it is too long.
fn name_column(ui: &mut Ui, text: RichText, whole: &str) {
    let layout = Layout::left_to_right(Align::Center);
    ui.allocate_ui_with_layout(vec2(NAME, 22.0), layout, |ui| {
        ui.set_min_width(NAME);
        ui.add(Label::new(text).truncate()).on_hover_text(whole);
    });
}
