//! The Form strip: the lettered timeline, widths in true proportion of beats.
//!
//! In: a compiled timeline and a play position. Out: a picture of what is
//! visible, and the beat that was clicked. Cost depends on what is visible,
//! never on the form's length. Below the strip proper lies the map of the whole
//! form, which is also its scroll bar.

mod paint;
mod view;

use egui::{Response, Sense, Ui, pos2, vec2};

use super::desk::Desk;
use super::palette::{Palette, print_letter};
use super::shown::Shown;
pub use view::View;

/// Height of the strip with its map, in points.
pub const HEIGHT: f32 = 126.0;

/// Points left free on either side, so that the playhead is whole at both ends.
const MARGIN: f32 = 10.0;

/// What the strip needs besides the timeline.
pub struct Input<'a> {
    /// Colours.
    pub palette: &'a Palette,
    /// Beats from the start of the form.
    pub position_beats: Option<f64>,
    /// Whether time runs: the view then follows.
    pub rolling: bool,
    /// Whether a click moves the play position (own clock).
    pub can_locate: bool,
}

/// Shows the strip; returns the beat that was clicked, if one was.
pub fn show(ui: &mut Ui, view: &mut View, desk: &mut Desk, input: &Input) -> Option<f64> {
    let size = vec2(ui.available_width(), HEIGHT);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click_and_drag());
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Canvas, true, "Form strip"));
    ui.painter().rect_filled(rect, 0.0, input.palette.panel);
    let rect = rect.shrink2(vec2(MARGIN, 0.0));
    let shown = &desk.shown;
    let timeline = &shown.checked.timeline;
    view.fit_into(rect.width(), timeline.length_beats());
    let map = paint::map_rect(rect);
    let mut clicked = None;

    if let Some(at) = response.interact_pointer_pos() {
        if map.contains(at) || view.is_dragging_map() {
            view.drag_map(response.dragged());
            view.centre_on(f64::from((at.x - map.left()) / map.width()) * view.length_beats());
        } else if response.dragged() {
            view.scroll_points(-response.drag_delta().x);
        } else if response.clicked() && input.can_locate {
            clicked = Some(view.beats_at(at.x - rect.left()));
        }
    }
    if !response.dragged() {
        view.drag_map(false);
    }
    wheel_and_keys(ui, view, &response, rect.left());
    if input.rolling
        && !response.dragged()
        && let Some(beats) = input.position_beats
    {
        view.follow(beats);
    }
    paint::strip(ui, rect, view, shown, input);
    hover_text(&response, rect, view, shown, input);
    clicked
}

/// Wheel scrolls, with Ctrl it zooms; with the focus here arrow keys, `+`, `-`,
/// Home and End do the same.
fn wheel_and_keys(ui: &Ui, view: &mut View, response: &Response, left: f32) {
    if let Some(at) = response.hover_pos() {
        let (scroll, zoom) = ui.input(|i| (i.smooth_scroll_delta(), i.zoom_delta()));
        let along = if scroll.x.abs() > scroll.y.abs() {
            scroll.x
        } else {
            scroll.y
        };
        view.scroll_points(-along);
        if zoom != 1.0 {
            view.zoom_at(at.x - left, zoom);
        }
    }
    if response.has_focus() {
        let page = view.width() * 0.8;
        ui.input_mut(|i| {
            use egui::{Key, Modifiers};
            for (key, points) in [(Key::ArrowLeft, -page / 4.0), (Key::ArrowRight, page / 4.0)] {
                if i.consume_key(Modifiers::NONE, key) {
                    view.scroll_points(points);
                }
            }
            for (key, factor) in [(Key::Plus, 1.25), (Key::Equals, 1.25), (Key::Minus, 0.8)] {
                if i.consume_key(Modifiers::NONE, key) {
                    view.zoom_at(view.width() / 2.0, factor);
                }
            }
            if i.consume_key(Modifiers::NONE, Key::Home) {
                view.centre_on(0.0);
            }
            if i.consume_key(Modifiers::NONE, Key::End) {
                view.centre_on(view.length_beats());
            }
        });
    }
}

fn hover_text(response: &Response, rect: egui::Rect, view: &View, shown: &Shown, input: &Input) {
    let timeline = &shown.checked.timeline;
    let Some(at) = response.hover_pos() else {
        return;
    };
    if paint::map_rect(rect).contains(at) {
        response
            .clone()
            .on_hover_text_at_pointer("The whole form. Drag to move along it.");
        return;
    }
    let beats = view.beats_at(at.x - rect.left());
    let (Some(place), Some(bar)) = (timeline.place_at(beats), timeline.bar_at(beats)) else {
        return;
    };
    let (place, bar) = (&timeline.places[place], &timeline.bars[bar]);
    let section = &timeline.sections[place.section as usize].name;
    let letter = print_letter(&timeline.letters[place.letter as usize]);
    let unit = if place.length == barform_core::music::Beats::ONE {
        "beat"
    } else {
        "beats"
    };
    let mut text = format!("Cell {letter}, {} {unit}", place.length);
    if !section.is_empty() {
        text += &format!(", in {section}");
    }
    text += &format!("\nBar {} in {}\n", bar.number, bar.meter);
    text += if input.can_locate {
        "Click to play from here. Drag or wheel to scroll, Ctrl and wheel to zoom."
    } else {
        "The host's clock rules the position. Drag or wheel to scroll, Ctrl and wheel to zoom."
    };
    response.clone().on_hover_text_at_pointer(text);
}

/// Where something lies across the strip, from its left edge.
fn at(rect: egui::Rect, x: f32, y: f32) -> egui::Pos2 {
    pos2(rect.left() + x, rect.top() + y)
}
