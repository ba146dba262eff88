//! What is not on the shelf: items that were removed, and files that cannot be
//! read.
//!
//! Nothing is ever deleted here.

use std::path::Path;

use barform_app::shelf::Stamp;
use barform_app::words;
use egui::{Label, RichText, ScrollArea, Ui};

use crate::editor::palette::Palette;
use barform_app::shelf::{ShelfContents, ShelfEdit};

/// Height of a line in points.
const ROW: f32 = 24.0;

/// Items that were removed.
pub fn removed(
    ui: &mut Ui,
    found: &ShelfContents,
    dir: &Path,
    now: Stamp,
    palette: &Palette,
) -> Option<ShelfEdit> {
    let mut edit = None;
    ui.label(RichText::new("Removed").size(18.0).color(palette.accent));
    let folder = dir.join("removed").display().to_string();
    let text = format!("They stay in {folder} until you delete them there.");
    ui.label(RichText::new(text).color(palette.dim));
    let items = &found.removed;
    let area = ScrollArea::vertical().auto_shrink(false);
    area.show_rows(ui, ROW, items.len(), |ui, range| {
        for item in items.get(range).unwrap_or_default() {
            ui.horizontal(|ui| {
                let restore = ui
                    .button("Restore")
                    .on_hover_text("Puts it back on the shelf")
                    .accessible_name(format!("Restore {}", item.name));
                if restore.clicked() {
                    edit = Some(ShelfEdit::Restore(item.id.clone()));
                }
                let what = words::item(item);
                let kept = words::ago(item.added, now);
                let text = format!("{}   {what}, kept {kept}", item.name);
                let text = RichText::new(text).color(palette.ink);
                ui.add(Label::new(text).truncate());
            });
        }
    });
    edit
}

/// Files that cannot be read, each with the reason.
pub fn damaged(ui: &mut Ui, found: &ShelfContents, palette: &Palette) -> Option<ShelfEdit> {
    let mut edit = None;
    let title = RichText::new("Files that cannot be read").size(18.0);
    ui.label(title.color(palette.accent));
    let text = "They stay where they are. Fix one on the Score page or in a text editor, or remove \
                it from the shelf.";
    ui.label(RichText::new(text).color(palette.dim));
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        for (id, why) in found.damaged.iter() {
            ui.add_space(4.0);
            ui.label(RichText::new(id.to_string()).color(palette.ink));
            ui.label(RichText::new(why).color(palette.error));
            let remove = ui
                .button("Remove")
                .on_hover_text("Moves the file into the folder 'removed'")
                .accessible_name(format!("Remove {id}"));
            if remove.clicked() {
                edit = Some(ShelfEdit::Remove(id.clone()));
            }
        }
    });
    edit
}
