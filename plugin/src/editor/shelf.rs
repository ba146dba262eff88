//! The Shelf: cells and forms that the user keeps for other scores.
//!
//! Gives items kept, changed, removed and put back (on a thread of their own);
//! items put into the score, or heard by themselves. Left what is on the shelf,
//! right the chosen item, what is being kept, or what was taken off.

mod aside;
mod detail;
mod fields;
mod find;
mod insert;
mod keep;
mod keys;
mod list;
mod poll;
mod previews;
mod right;

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::time::Duration;

use barform_app::shelf::{Item, ItemId, Query, Stamp};
use egui::{Context, Panel, RichText, Ui};

use super::desk::Desk;
use super::palette::Palette;
use crate::handover::Reading;
use barform_app::background::Worker;
use barform_app::shelf::{ShelfAnswer, ShelfContents, ShelfEdit, WatchedShelf};
use detail::{Hearing, Where};
use fields::Fields;
use keep::Keep;
use list::List;
use previews::Previews;

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
    worker: Option<Worker<WatchedShelf, ShelfAnswer>>,
    dir: PathBuf,
    query: Query,
    found: ShelfContents,
    /// The folder was read at least once.
    looked: bool,
    /// Why it cannot be read.
    unlisted: Option<String>,
    chosen: Option<ItemId>,
    /// The chosen row is to be brought into view.
    reveal: bool,
    pane: Pane,
    /// What was begun to be kept and left for something else.
    put_by: Vec<Keep>,
    fields: Fields,
    previews: Previews,
    hearing: Hearing,
    heard: Option<ItemId>,
    wanted: Option<(ItemId, Wanted)>,
    /// Whether the page was in view in the last frame; its thread looks round
    /// only then.
    in_view: Arc<AtomicBool>,
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
        if !self.in_view.swap(false, Relaxed) {
            return;
        }
        if self.is_heard(desk) {
            desk.session().audition.stop();
            self.heard = None;
        }
        for edit in self.fields.leave(None) {
            self.act(edit);
        }
    }

    /// What was typed of an item that is shown no longer is kept.
    fn keep_typed(&mut self) {
        let shown = self.chosen.as_ref();
        let shown = shown.filter(|_| matches!(self.pane, Pane::Item));
        for edit in self.fields.leave(shown) {
            self.act(edit);
        }
    }

    /// Starts the thread; looks at the folder when the page comes into view. The
    /// thread then sees by itself whether someone else has changed it.
    fn look(&mut self, ui: &Ui, desk: &Desk) {
        if self.worker.is_none()
            && let Some(folders) = &desk.folders
        {
            let ctx = ui.ctx().clone();
            self.dir = folders.shelf();
            let shelf = WatchedShelf::new(self.dir.clone(), self.in_view.clone());
            let wake = move || ctx.request_repaint();
            let worker = Worker::looking_round("shelf", shelf, WatchedShelf::look_round, wake);
            self.worker = Some(worker);
        }
        if !self.in_view.swap(true, Relaxed)
            && let Some(worker) = &mut self.worker
        {
            let query = self.query.clone();
            worker.ask(move |shelf| shelf.look(&query, true));
        }
    }

    /// Does something on the thread.
    fn act(&mut self, edit: ShelfEdit) {
        let query = self.query.clone();
        if let Some(worker) = &mut self.worker {
            worker.ask(move |shelf| shelf.act(edit, &query));
        }
    }

    fn read(&mut self, id: ItemId) {
        if let Some(worker) = &mut self.worker {
            worker.ask(move |shelf| shelf.read(id));
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
        let (shown, all) = (self.found.matching.len(), self.found.all.len());
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
        if find::show(ui, &mut self.query, &tags, &count, palette) {
            let query = self.query.clone();
            if let Some(worker) = &mut self.worker {
                worker.ask(move |shelf| shelf.look(&query, false));
            }
        }
        self.aside_buttons(ui);
        if let Some(why) = &self.unlisted {
            ui.label(RichText::new(why).color(palette.error));
        }
        if self.found.matching.is_empty() {
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
            self.turn_to(Pane::Item);
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

    /// Ways to what is not on the shelf, where there is any.
    fn aside_buttons(&mut self, ui: &mut Ui) {
        let (removed, damaged) = (self.found.removed.len(), self.found.damaged.len());
        if removed + damaged == 0 {
            return;
        }
        ui.horizontal_wrapped(|ui| {
            let shown = matches!(self.pane, Pane::Removed);
            if removed > 0 {
                let label = ui.selectable_label(shown, format!("Removed: {removed}"));
                let hint = "What was removed, to be put back";
                if label.on_hover_text(hint).clicked() {
                    self.turn_to(if shown { Pane::Item } else { Pane::Removed });
                }
            }
            let shown = matches!(self.pane, Pane::Damaged);
            if damaged > 0 {
                let label = ui.selectable_label(shown, format!("Cannot be read: {damaged}"));
                if label.on_hover_text("Files with a mistake").clicked() {
                    self.turn_to(if shown { Pane::Item } else { Pane::Damaged });
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
            "Nothing on the shelf matches. Press All to see everything.".to_owned()
        } else {
            format!(
                "Nothing is kept yet. Select a cell on the Bench or blocks in the Form strip, \
                 then press one of the buttons beside Keep. Each item becomes a score file of its \
                 own in {}; files that you put there yourself are listed too.",
                self.dir.display()
            )
        };
        ui.label(RichText::new(text).color(palette.dim));
    }
}

/// Whether a menu or a panel lies over the page: the keys are its own.
pub(super) fn is_covered(ctx: &Context) -> bool {
    egui::Popup::is_any_open(ctx) || ctx.memory(|m| m.top_modal_layer().is_some())
}

/// What the page says where there is no folder.
fn nowhere(ui: &mut Ui, palette: &Palette) {
    let text = "This machine names no folder for your own data, so nothing can be kept on the \
                Shelf. Scores can still be opened and saved, and blocks copied from one to another \
                through the clipboard.";
    ui.add_space(12.0);
    ui.label(RichText::new(text).color(palette.dim));
}
