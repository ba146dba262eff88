//! Faces behind the library's own: signs that those lack are taken from the
//! DejaVu faces, so that no text of ours and few of a user's end as boxes.

use egui::epaint::text::{FontInsert, FontPriority, InsertFontFamily};
use egui::{Context, FontData, FontFamily};

/// Name of the face behind all others.
const BEHIND: &str = "behind";

/// Hands the faces over; does nothing where that is done.
pub fn prepare(ctx: &Context) {
    if ctx.fonts(|f| f.definitions().font_data.contains_key(BEHIND)) {
        return;
    }
    let last = |family| InsertFontFamily {
        family,
        priority: FontPriority::Lowest,
    };
    ctx.add_font(FontInsert::new(
        BEHIND,
        FontData::from_static(dejavu::sans::regular()),
        vec![last(FontFamily::Proportional), last(FontFamily::Monospace)],
    ));
}
