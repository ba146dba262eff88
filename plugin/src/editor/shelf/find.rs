//! What is looked for: words, tags, length, grid, and in what order.

use barform_app::music::{Beats, Subdivision};
use barform_app::shelf::{Order, Query, fold};
use egui::{ComboBox, Id, RichText, ScrollArea, TextEdit, Ui, vec2};

use crate::editor::palette::Palette;

/// Lengths to choose from, in beats.
const LENGTHS: [(&str, Option<(i64, i64)>); 7] = [
    ("any length", None),
    ("1 beat", Some((1, 1))),
    ("2 beats", Some((2, 2))),
    ("3 beats", Some((3, 3))),
    ("4 beats", Some((4, 4))),
    ("5 to 8 beats", Some((5, 8))),
    ("longer", Some((9, 1_000_000))),
];

/// Subdivisions to choose from.
const GRIDS: [&str; 8] = [
    "8ths",
    "8th-triplets",
    "16ths",
    "quintuplets",
    "16th-triplets",
    "septuplets",
    "32nds",
    "any grid",
];

/// Height of the tags before they scroll, in points.
const TAGS: f32 = 54.0;

/// The widget of the search field.
pub fn field_id() -> Id {
    Id::unique("shelf search")
}

/// Shows it. Returns whether the query has changed.
pub fn show(
    ui: &mut Ui,
    query: &mut Query,
    tags: &[(String, usize)],
    count: &str,
    palette: &Palette,
) -> bool {
    let before = query.clone();
    ui.horizontal(|ui| {
        let field = TextEdit::singleline(&mut query.words)
            .id(field_id())
            .desired_width((ui.available_width() - 70.0).max(80.0))
            .hint_text("Search names, tags, notes, letters");
        ui.add(field)
            .on_hover_text("All words must be found; a capital looks for a letter (Ctrl+F)")
            .accessible_name("Search");
        let clear = ui.add_enabled(is_narrow(query), egui::Button::new("All"));
        if clear
            .on_hover_text("Shows everything again")
            .on_disabled_hover_text("Everything is shown")
            .clicked()
        {
            *query = Query {
                order: query.order,
                ..Query::default()
            };
        }
    });
    ui.horizontal_wrapped(|ui| {
        order(ui, query);
        length(ui, query);
        grid(ui, query);
        ui.label(RichText::new(count).color(palette.dim));
    });
    tag_filters(ui, query, tags);
    *query != before
}

/// Whether a query leaves anything out.
pub fn is_narrow(query: &Query) -> bool {
    let all = Query {
        order: query.order,
        ..Query::default()
    };
    *query != all
}

fn order(ui: &mut Ui, query: &mut Query) {
    let orders = [
        (Order::Name, "by name"),
        (Order::Used, "last used first"),
        (Order::Added, "last kept first"),
    ];
    let now = orders.iter().find(|(order, _)| *order == query.order);
    let choice = ComboBox::from_id_salt("shelf order")
        .width(110.0)
        .selected_text(now.map_or("", |(_, name)| name))
        .show_ui(ui, |ui| {
            for (order, name) in orders {
                ui.selectable_value(&mut query.order, order, name);
            }
        });
    choice.response.accessible_name("Order");
}

fn length(ui: &mut Ui, query: &mut Query) {
    let range =
        |ends: Option<(i64, i64)>| ends.map(|(from, to)| Beats::whole(from)..=Beats::whole(to));
    let now = LENGTHS.iter().find(|(_, ends)| range(*ends) == query.beats);
    let choice = ComboBox::from_id_salt("shelf length")
        .width(90.0)
        .selected_text(now.map_or("", |(name, _)| name))
        .show_ui(ui, |ui| {
            for (name, ends) in LENGTHS {
                ui.selectable_value(&mut query.beats, range(ends), name);
            }
        });
    choice.response.accessible_name("Length");
}

fn grid(ui: &mut Ui, query: &mut Query) {
    let of = |name: &str| Subdivision::from_name(name).map(|s| s.0);
    let now = GRIDS.iter().find(|name| of(name) == query.grid);
    let choice = ComboBox::from_id_salt("shelf grid")
        .width(100.0)
        .selected_text(*now.unwrap_or(&""))
        .show_ui(ui, |ui| {
            for name in GRIDS.iter().rev() {
                ui.selectable_value(&mut query.grid, of(name), *name);
            }
        });
    choice.response.accessible_name("Grid");
}

/// Each tag with the number of items that have it.
fn tag_filters(ui: &mut Ui, query: &mut Query, tags: &[(String, usize)]) {
    if tags.is_empty() && query.tags.is_empty() {
        return;
    }
    ScrollArea::vertical()
        .id_salt("shelf tags")
        .max_height(TAGS)
        .auto_shrink([false, true])
        .show(ui, |ui| {
            ui.horizontal_wrapped(|ui| {
                ui.spacing_mut().item_spacing = vec2(4.0, 4.0);
                for (tag, times) in tags {
                    let at = query.tags.iter().position(|t| fold(t) == fold(tag));
                    let text = format!("{tag} {times}");
                    let label = ui.selectable_label(at.is_some(), text);
                    let label = label
                        .on_hover_text("Only items with this tag")
                        .accessible_name(format!("Tag {tag}"));
                    if label.clicked() {
                        match at {
                            Some(at) => {
                                query.tags.remove(at);
                            }
                            None => query.tags.push(tag.clone()),
                        }
                    }
                }
                // A tag that no item has any more can still be let go of.
                let gone = |t: &String| !tags.iter().any(|(tag, _)| fold(tag) == fold(t));
                if let Some(at) = query.tags.iter().position(gone)
                    && ui.selectable_label(true, &query.tags[at]).clicked()
                {
                    query.tags.remove(at);
                }
            });
        });
}
