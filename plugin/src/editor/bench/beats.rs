//! The row for the grid: its text, the beat under the cursor, the length, and
//! what becomes of strokes when it changes.

use barform_app::music::{Beats, Grid, Span, Subdivision};
use barform_app::score::edit::Way;
use egui::{Button, ComboBox, RichText, Ui};

use super::super::desk::Desk;
use super::super::palette::Palette;
use super::act::{Act, Doing};
use super::known::Known;
use super::lines::{Fields, Line, Setting};
use super::strokes::toggle;

/// Widest grid field in points; a longer grid scrolls in it.
const FIELD: f32 = 170.0;

/// Width of the page in points below which the row is set closer.
const NARROW: f32 = 790.0;

/// Grid field where the page is narrow.
const NARROW_FIELD: f32 = 60.0;

/// The ways, with their names and what they do.
const WAYS: [(Way, &str, &str); 4] = [
    (
        Way::Time,
        "Time",
        "Strokes stay at their times; one that has no slot there goes to the nearest free one",
    ),
    (
        Way::Slot,
        "Slot",
        "Strokes stay on their slots by number: the first on the first, the second on the second",
    ),
    (
        Way::Refit,
        "Refit",
        "The music is put on the new subdivision and keeps its length; strokes are left out or \
         repeated",
    ),
    (
        Way::Carry,
        "Carry",
        "All strokes are kept one by one, so the length changes and the cell moves across the \
         bar line",
    ),
];

/// Shows the row. Returns what was pressed, and whether the grid text changed
/// the cell.
pub fn show(
    ui: &mut Ui,
    fields: &mut Fields,
    desk: &mut Desk,
    known: &Known,
    doing: &mut Doing,
    palette: &Palette,
) -> (Option<Act>, bool) {
    let setting = Setting {
        known,
        palette,
        way: doing.way,
    };
    let narrow = ui.available_width() < NARROW;
    let field = if narrow { NARROW_FIELD } else { FIELD };
    let typed = fields.show(ui, desk, (Line::Grid, field), &setting);
    let mut act = None;
    let spans = known.cell.grid.spans();
    let at = known.span_of(desk.chosen.slot);
    let span = spans.get(at).copied();
    let (name, hint_text) = place(at, span);
    ui.label(RichText::new(name).color(palette.dim))
        .on_hover_text(hint_text);
    ui.spacing_mut().item_spacing.x = 3.0;
    for slots in 1..=12_u8 {
        let on = span.is_some_and(|span| span.slots == slots);
        let text = slots.to_string();
        let name = format!("{slots} slots in the beat");
        if toggle(ui, on, &text, &name, &hint(slots)).clicked() {
            act = Some(Act::Slots(slots));
        }
    }
    ui.add_space(4.0);
    let more = ui
        .add(Button::new("+"))
        .on_hover_text("A beat more at the end, cut as the last one (])")
        .accessible_name("Add a beat");
    if more.clicked() {
        act = Some(Act::AddBeat);
    }
    let fewer = ui
        .add_enabled(spans.len() > 1, Button::new("−"))
        .on_hover_text("Removes the last beat with its strokes ([)")
        .on_disabled_hover_text("A cell has at least one beat")
        .accessible_name("Remove the last beat");
    if fewer.clicked() {
        act = Some(Act::RemoveBeat);
    }
    ui.add_space(4.0);
    ways(ui, doing, narrow, palette);
    (act, typed)
}

/// What becomes of the strokes: side by side, or as a list where there is little
/// room.
fn ways(ui: &mut Ui, doing: &mut Doing, narrow: bool, palette: &Palette) {
    const KEPT: &str = "What becomes of the strokes when the grid changes";
    let one = |ui: &mut Ui, doing: &mut Doing, (way, text, hint): (Way, &str, &str)| {
        let hint = format!("{KEPT}. {text}: {hint}.");
        let name = format!("Strokes by {}", text.to_lowercase());
        if toggle(ui, doing.way == way, text, &name, &hint).clicked() {
            doing.way = way;
        }
    };
    if narrow {
        let now = WAYS.iter().find(|w| w.0 == doing.way).map_or("", |w| w.1);
        ComboBox::from_id_salt("bench ways")
            .selected_text(now)
            .width(58.0)
            .show_ui(ui, |ui| {
                WAYS.into_iter().for_each(|way| one(ui, doing, way))
            })
            .response
            .on_hover_text(KEPT)
            .accessible_name("Strokes kept by");
    } else {
        ui.label(RichText::new("keep").color(palette.dim))
            .on_hover_text(KEPT);
        WAYS.into_iter().for_each(|way| one(ui, doing, way));
    }
}

/// The part of the grid that the cursor is in: `beat 2`, or `part 2` where the
/// parts are no beats; and how long it lasts.
fn place(at: usize, span: Option<Span>) -> (String, String) {
    let length = span.map_or(Beats::ONE, |span| span.length);
    let name = if length == Beats::ONE { "beat" } else { "part" };
    let hint = format!(
        "The cursor is in {name} {} of the grid, which lasts {length} of a beat; the numbers \
         cut it into so many slots",
        at + 1
    );
    (format!("{name} {}:", at + 1), hint)
}

/// Name and key of a subdivision.
fn hint(slots: u8) -> String {
    let grid = Grid::per_beat(slots).map(Subdivision);
    let name = grid.and_then(|grid| grid.name());
    let name = name.map_or(String::new(), |name| format!(" ({name})"));
    let key = match slots {
        1..=9 => format!("; key {slots}"),
        10 => "; key 0".to_owned(),
        _ => String::new(),
    };
    format!("{slots} even slots in the beat under the cursor{name}{key}")
}
