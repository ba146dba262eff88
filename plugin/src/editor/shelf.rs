//! The Shelf: cells and forms that the user keeps for other scores.
//!
//! In: the user's folder, clicks and keys, what is chosen on the desk. Out:
//! items kept, changed, removed and put back (on a thread of their own); items
//! put into the score, or heard by themselves. Left what is on the shelf, right
//! the chosen item, what is being kept, or what was taken off.
//! Never here: a wait for the disk, a file deleted for good, a system dialog.

mod aside;
mod detail;
mod fields;
mod find;
mod insert;
mod keep;
mod keeper;
mod keys;
mod list;
mod poll;
mod previews;
mod words;
pub(super) mod worker;

use std::path::PathBuf;
use std::time::Duration;

use barform_core::shelf::{Item, ItemId, Query, Stamp};
use egui::{Panel, RichText, ScrollArea, Ui};

use super::desk::Desk;
use super::palette::Palette;
use crate::handover::Reading;
use detail::{Detail, Hearing, Where, Wish};
use fields::Fields;
use keep::{Keep, Outcome};
use keeper::{Answer, Deed, Found, Keeper};
use list::List;
use previews::Previews;
use worker::Worker;

/// Seconds between looks at whether another window has changed the folder.
const PEEK_S: f64 = 1.0;

/// Time between frames while an item is heard.
const FRAME: Duration = Duration::from_millis(24);

/// What the right side shows.
#[derive(Default)]
enum Pane {
    /// The chosen item.
    #[default]
    Item,
    /// What is being kept.
    Keep(Box<Keep>),
    /// What was removed.
    Removed,
    /// What cannot be read.
    Damaged,
}

/// What waits for an item to be read.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Wanted {
    Insert(Where),
    Hear,
}

/// What the page keeps between frames.
#[derive(Default)]
pub struct ShelfPage {
    worker: Option<Worker<Keeper, Answer>>,
    dir: PathBuf,
    query: Query,
    found: Found,
    /// The folder was read at least once.
    looked: bool,
    /// Why it cannot be read.
    unlisted: Option<String>,
    chosen: Option<ItemId>,
    /// The chosen row is to be brought into view.
    reveal: bool,
    pane: Pane,
    fields: Fields,
    previews: Previews,
    hearing: Hearing,
    heard: Option<ItemId>,
    wanted: Option<(ItemId, Wanted)>,
    /// Seconds on the window's clock at the last look at the folder.
    peeked_s: f64,
    /// Whether the page was in view in the last frame.
    in_view: bool,
}

impl ShelfPage {
    /// Shows the page in the space that is left.
    pub fn show(&mut self, ui: &mut Ui, desk: &mut Desk, palette: &Palette, _: &Reading) {
        if desk.folders.is_none() {
            nowhere(ui, palette);
            return;
        }
        self.look(ui, desk);
        self.poll(desk);
        self.keys(ui, desk);
        self.previews.begin_frame();
        let now = Stamp::now();
        let width = (ui.available_width() * 0.54).clamp(430.0, 760.0);
        Panel::left("shelf items")
            .resizable(false)
            .exact_size(width)
            .show(ui, |ui| self.left(ui, desk, now, palette));
        self.keep_typed();
        egui::CentralPanel::default().show(ui, |ui| {
            self.keep_buttons(ui, desk, palette);
            ui.separator();
            self.right(ui, desk, now, palette);
        });
        if self.is_heard(desk) {
            ui.ctx().request_repaint_after(FRAME);
        }
    }

    /// The page is not in view: what was heard here ends.
    pub fn away(&mut self, desk: &Desk) {
        if !std::mem::take(&mut self.in_view) {
            return;
        }
        if self.is_heard(desk) {
            desk.session().audition.stop();
            self.heard = None;
        }
        for deed in self.fields.leave(None) {
            self.act(deed);
        }
    }

    /// What was typed of an item that is shown no longer is kept.
    fn keep_typed(&mut self) {
        let shown = self.chosen.as_ref();
        let shown = shown.filter(|_| matches!(self.pane, Pane::Item));
        for deed in self.fields.leave(shown) {
            self.act(deed);
        }
    }

    /// Starts the thread; looks at the folder when the page comes into view, and
    /// every second whether someone else has changed it.
    fn look(&mut self, ui: &Ui, desk: &Desk) {
        if self.worker.is_none()
            && let Some(folders) = &desk.folders
        {
            let ctx = ui.ctx().clone();
            self.dir = folders.shelf();
            let keeper = Keeper::new(self.dir.clone());
            let wake = move || ctx.request_repaint();
            self.worker = Some(Worker::new("shelf", keeper, wake));
        }
        let fresh = !std::mem::replace(&mut self.in_view, true);
        let query = self.query.clone();
        let Some(worker) = &mut self.worker else {
            return;
        };
        if fresh {
            worker.ask(move |keeper| keeper.look(&query, true));
            self.peeked_s = desk.now_s;
        } else if desk.now_s - self.peeked_s >= PEEK_S && !worker.is_busy() {
            worker.ask(move |keeper| keeper.peek(&query));
            self.peeked_s = desk.now_s;
        }
    }

    /// Does something on the thread.
    fn act(&mut self, deed: Deed) {
        let query = self.query.clone();
        if let Some(worker) = &mut self.worker {
            worker.ask(move |keeper| keeper.act(deed, &query));
        }
    }

    fn read(&mut self, id: ItemId) {
        if let Some(worker) = &mut self.worker {
            worker.ask(move |keeper| keeper.read(id));
        }
    }

    /// The chosen item.
    fn item(&self) -> Option<&Item> {
        let chosen = self.chosen.as_ref()?;
        self.found.all.iter().find(|item| item.id == *chosen)
    }

    fn is_heard(&self, desk: &Desk) -> bool {
        self.heard.is_some() && desk.session().audition.is_playing()
    }

    /// Search and list.
    fn left(&mut self, ui: &mut Ui, desk: &mut Desk, now: Stamp, palette: &Palette) {
        let (shown, all) = (self.found.shown.len(), self.found.all.len());
        let mut count = match (shown, all) {
            (_, 1) if shown == 1 => "1 item".to_owned(),
            _ if shown == all => format!("{all} items"),
            _ => format!("{shown} of {all} items"),
        };
        if self.found.left_out > 0 {
            let more = self.found.left_out;
            count += &format!("; {more} files more than are listed");
        }
        let tags = self.found.tags.clone();
        if find::show(ui, &mut self.query, &tags) {
            let query = self.query.clone();
            if let Some(worker) = &mut self.worker {
                worker.ask(move |keeper| keeper.look(&query, false));
            }
        }
        self.status(ui, &count, palette);
        if let Some(why) = &self.unlisted {
            ui.label(RichText::new(why).color(palette.error));
        }
        if self.found.shown.is_empty() {
            self.empty(ui, palette);
            return;
        }
        let heard = self.heard.clone().filter(|_| self.is_heard(desk));
        let at = desk.session().audition.position_beats();
        let before = self.chosen.clone();
        let list = List {
            found: &self.found,
            previews: &mut self.previews,
            chosen: &mut self.chosen,
            heard: heard.as_ref().map(|id| (id, at)),
            reveal: std::mem::take(&mut self.reveal),
            now,
            palette,
        };
        let outcome = list.show(ui);
        if before != self.chosen {
            self.pane = Pane::Item;
        }
        for id in outcome.unread {
            self.read(id);
        }
        if outcome.waits {
            ui.ctx().request_repaint();
        }
        if outcome.opened {
            self.want(desk, Wanted::Insert(Where::usual(desk)));
        }
    }

    /// How many there are, and ways to what is not on the shelf.
    fn status(&mut self, ui: &mut Ui, count: &str, palette: &Palette) {
        let (removed, damaged) = (self.found.removed.len(), self.found.damaged.len());
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new(count).color(palette.dim));
            let shown = matches!(self.pane, Pane::Removed);
            if removed > 0 {
                let label = ui.selectable_label(shown, format!("Removed: {removed}"));
                let hint = "What was taken off, to be put back";
                if label.on_hover_text(hint).clicked() {
                    self.pane = if shown { Pane::Item } else { Pane::Removed };
                }
            }
            let shown = matches!(self.pane, Pane::Damaged);
            if damaged > 0 {
                let label = ui.selectable_label(shown, format!("Cannot be read: {damaged}"));
                if label.on_hover_text("Files with a mistake").clicked() {
                    self.pane = if shown { Pane::Item } else { Pane::Damaged };
                }
            }
        });
    }

    /// What to do where nothing is listed.
    fn empty(&mut self, ui: &mut Ui, palette: &Palette) {
        ui.add_space(12.0);
        let text = if !self.looked {
            "Looking at the shelf…".to_owned()
        } else if find::is_narrow(&self.query) && !self.found.all.is_empty() {
            "Nothing on the shelf is like that. Press All to see everything.".to_owned()
        } else {
            format!(
                "Nothing is kept yet. Choose a cell on the Bench or blocks in the Form strip, \
                 then press one of the buttons beside Keep. Each item becomes a score file of its \
                 own in {}; files that you put there yourself are listed too.",
                self.dir.display()
            )
        };
        ui.label(RichText::new(text).color(palette.dim));
    }

    fn keep_buttons(&mut self, ui: &mut Ui, desk: &Desk, palette: &Palette) {
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new("Keep:").color(palette.dim));
            for (what, name, hint) in keep::choices(desk) {
                let none = "No block of the form is chosen in the strip";
                let text = name.as_deref().unwrap_or("the chosen block");
                let button = egui::Button::new(text);
                let button = ui
                    .add_enabled(name.is_some(), button)
                    .on_hover_text(hint)
                    .on_disabled_hover_text(none)
                    .accessible_name(format!("Keep {text}"));
                if button.clicked() {
                    self.pane = Pane::Keep(Box::new(Keep::begin(desk, what)));
                }
            }
        });
    }

    fn right(&mut self, ui: &mut Ui, desk: &mut Desk, now: Stamp, palette: &Palette) {
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
                    Outcome::Deed(deed) => self.act(deed),
                }
            }
            Pane::Removed => {
                if let Some(deed) = aside::removed(ui, &self.found, &self.dir, now, palette) {
                    self.act(deed);
                }
            }
            Pane::Damaged => {
                if let Some(deed) = aside::damaged(ui, &self.found, palette) {
                    self.act(deed);
                }
            }
            Pane::Item => self.chosen_item(ui, desk, now, palette),
        }
    }

    fn chosen_item(&mut self, ui: &mut Ui, desk: &mut Desk, now: Stamp, palette: &Palette) {
        let Some(item) = self.item().cloned() else {
            if !self.found.all.is_empty() {
                let text = "Choose an item to see it, hear it or put it into the score.";
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
        let wish = area.show(ui, |ui| detail.show(ui, desk, &item)).inner;
        if is_heard && before != self.hearing {
            self.heard_otherwise(desk, &item.id);
        }
        match wish {
            None => {}
            Some(Wish::Insert(place)) => self.want(desk, Wanted::Insert(place)),
            Some(Wish::Hear) => self.want(desk, Wanted::Hear),
            Some(Wish::Deed(deed)) => self.act(deed),
        }
    }
}

/// What the page says where there is no folder.
fn nowhere(ui: &mut Ui, palette: &Palette) {
    let text = "This machine names no folder for your own data, so nothing can be kept on the \
                Shelf. Scores can still be opened and saved, and blocks copied from one to another \
                through the clipboard.";
    ui.add_space(12.0);
    ui.label(RichText::new(text).color(palette.dim));
}
