//! Blocks, brackets and names as things to be clicked and dragged; only those
//! in view.

use barform_app::timeline::Timeline;
use barform_app::words;
use egui::{CursorIcon, Id, Rect, Response, Role, Sense, Ui, WidgetInfo};

use super::paint::Picture;
use super::{Act, Input, Strip, drag::Drag, id, rows};
use crate::editor::desk::Desk;
use barform_app::session::Repeat;

/// Clicked and dragged, but no stop of the Tab key: arrow keys go from block to
/// block while the strip has the focus.
const SENSE: Sense = Sense::CLICK.union(Sense::DRAG);

/// A block as a widget.
pub fn block_id(place: usize) -> Id {
    id().with(("block", place))
}

impl Strip {
    /// Wheel scrolls, with Ctrl it zooms.
    pub(super) fn wheel(&mut self, ui: &Ui, ground: &Response, left: f32) {
        if !ground.contains_pointer() {
            return;
        }
        let Some(at) = ui.input(|i| i.pointer.hover_pos()) else {
            return;
        };
        let (scroll, zoom) = ui.input(|i| (i.smooth_scroll_delta(), i.zoom_delta()));
        let along = if scroll.x.abs() > scroll.y.abs() {
            scroll.x
        } else {
            scroll.y
        };
        self.view.scroll_points(-along);
        if zoom != 1.0 {
            self.view.zoom_at(at.x - left, zoom);
        }
    }

    /// Clicks and drags beside the blocks: where to play from, the map, moving
    /// along. Returns the beat to play from.
    pub(super) fn on_ground(
        &mut self,
        ground: &Response,
        rect: Rect,
        input: &Input,
    ) -> Option<f64> {
        let mut clicked = None;
        if let Some(at) = ground.interact_pointer_pos() {
            let map = rows::map(rect);
            if ground.clicked() || ground.drag_started() {
                ground.request_focus();
            }
            if self.view.is_dragging_map() || (map.contains(at) && !ground.drag_stopped()) {
                self.view.drag_map(ground.dragged());
                let share = f64::from((at.x - map.left()) / map.width());
                self.view.centre_on(share * self.view.length_beats());
            } else if ground.dragged() {
                self.view.scroll_points(-ground.drag_delta().x);
            } else if ground.clicked() && input.can_locate {
                let beats = self.view.beats_at(at.x - rect.left()).max(0.0);
                clicked = (beats < self.view.length_beats()).then_some(beats);
            }
        }
        if !ground.dragged() {
            self.view.drag_map(false);
        }
        if let Some(at) = ground.hover_pos() {
            let text = if rows::map(rect).contains(at) {
                "The whole form. Drag to move along it."
            } else if input.can_locate {
                "Click here to play from here. Drag or wheel to scroll, Ctrl and wheel to zoom (+ \
                 and - by key)."
            } else {
                "The position follows the host. Drag or wheel to scroll, Ctrl and wheel to zoom (+ \
                 and - by key)."
            };
            ground.clone().on_hover_text_at_pointer(text);
        }
        clicked
    }

    /// Blocks, brackets and section names.
    pub(super) fn pointer(&mut self, ui: &Ui, rect: Rect, desk: &Desk, input: &Input) -> Vec<Act> {
        let mut acts = Vec::new();
        self.blocks(ui, rect, desk, &mut acts);
        self.brackets(ui, rect, desk, &mut acts);
        self.names(ui, rect, desk, input, &mut acts);
        acts
    }

    fn blocks(&mut self, ui: &Ui, rect: Rect, desk: &Desk, acts: &mut Vec<Act>) {
        let timeline = &desk.shown.checked.timeline;
        let shift = ui.input(|i| i.modifiers.shift);
        for index in rows::visible(&self.view, &timeline.places) {
            let place = &timeline.places[index];
            let block = rows::block(rect, &self.view, place);
            let Some(block) = rows::in_view(rect, block) else {
                continue;
            };
            let response = ui.interact(block, block_id(index), SENSE);
            let chosen = self.choice.items().is_some_and(|(section, items)| {
                place.section as usize == *section && items.contains(&(place.item as usize))
            });
            response.widget_info(|| {
                let text = block_text(timeline, index);
                WidgetInfo::selected(Role::ListBoxOption, true, chosen, text)
            });
            ui.ctx()
                .accesskit_node_builder(response.id, |node| node.set_selected(chosen));
            if response.double_clicked() {
                acts.push(Act::ToBench);
            } else if response.clicked() || response.secondary_clicked() {
                acts.push(Act::Block(index, shift));
            }
            if response.drag_started() {
                if !chosen {
                    acts.push(Act::Block(index, false));
                }
                self.drag = Some(Drag::of(index));
            }
            if response.hovered() {
                let response = response.on_hover_cursor(CursorIcon::Grab);
                response.on_hover_ui_at_pointer(|ui| {
                    ui.label(hover_text(desk, index));
                });
            }
        }
    }

    fn brackets(&self, ui: &Ui, rect: Rect, desk: &Desk, acts: &mut Vec<Act>) {
        let timeline = &desk.shown.checked.timeline;
        let beats_at = |place: usize| {
            let place = timeline.places.get(place);
            place.map_or(timeline.length_beats(), |p| p.start.to_f64())
        };
        for group in &desk.shown.written.groups {
            let beats = (beats_at(group.first), beats_at(group.end()));
            if beats.0 > self.view.end_beats() {
                break;
            }
            if group.depth > 1 || beats.1 < self.view.start_beats() {
                continue;
            }
            let bracket = rows::bracket(rect, &self.view, group.depth, beats);
            let Some(bracket) = rows::in_view(rect, bracket) else {
                continue;
            };
            let bracket_id = id().with(("group", group.section, group.item, group.first));
            let response = ui.interact(bracket, bracket_id, Sense::CLICK);
            response
                .widget_info(|| WidgetInfo::labeled(Role::ListBoxOption, true, group_text(group)));
            if response.clicked() {
                acts.push(Act::Item(group.section, group.item));
            }
            if response.hovered() {
                let text = format!(
                    "{}. Click to select it, type a number for how often it is played.",
                    group_text(group)
                );
                response.on_hover_text_at_pointer(text);
            }
        }
    }

    fn names(&self, ui: &Ui, rect: Rect, desk: &Desk, input: &Input, acts: &mut Vec<Act>) {
        let timeline = &desk.shown.checked.timeline;
        let next = timeline
            .sections
            .partition_point(|s| s.start.to_f64() <= self.view.start_beats());
        let picture = Picture {
            painter: ui.painter(),
            rect,
            view: &self.view,
            shown: &desk.shown,
            input,
            chosen: None,
            focus: false,
            lifted: false,
            taken: &[],
        };
        let first = next.saturating_sub(1);
        for (number, section) in timeline.sections.iter().enumerate().skip(first) {
            let start = section.start.to_f64();
            if start > self.view.end_beats() {
                break;
            }
            let x = self.view.x(start).max(0.0);
            let room = super::paint::section_room(&picture, number, x);
            let text = super::paint::section_text(&picture, number);
            // As wide as its words, about; the rest of the row is ground.
            let words = (text.chars().count() as f32 * 8.0 + 12.0).min(room.max(3.0));
            let name = rows::stretch(rect, rows::SECTIONS, x, x + words);
            let Some(name) = rows::in_view(rect, name) else {
                continue;
            };
            let response = ui.interact(name, id().with(("section", number)), Sense::CLICK);
            let label = format!("Section {}: {text}", number + 1);
            response.widget_info(|| WidgetInfo::labeled(Role::ListBoxOption, true, &label));
            if response.clicked() {
                acts.push(Act::WholeSection(number));
            }
            if response.hovered() {
                response.on_hover_text_at_pointer(format!(
                    "{text}. Click to select the whole section; Section… names, moves and cuts it."
                ));
            }
        }
    }
}

/// `Block 3: A, 3 beats`.
fn block_text(timeline: &Timeline, index: usize) -> String {
    let place = &timeline.places[index];
    let letter = words::letter(&timeline.letters[place.letter as usize]);
    format!(
        "Block {}: {letter}, {}",
        index + 1,
        words::beats(place.length)
    )
}

fn group_text(group: &Repeat) -> String {
    let blocks = if group.places == 1 { "block" } else { "blocks" };
    match group.times {
        1 => format!("Group of {} {blocks}", group.places),
        times => format!("Repeat ×{times} of {} {blocks}", group.places),
    }
}

fn hover_text(desk: &Desk, index: usize) -> String {
    let timeline = &desk.shown.checked.timeline;
    let place = &timeline.places[index];
    let letter = words::letter(&timeline.letters[place.letter as usize]);
    let mut text = format!("Cell {letter}, {}", words::beats(place.length));
    let section = &timeline.sections[place.section as usize].name;
    if !section.is_empty() {
        text += &format!(", in {section}");
    }
    let written = &desk.shown.written;
    let entry = written.entry(place.section as usize, place.item as usize);
    if let Some(entry) = entry.filter(|e| !e.otherwise.is_empty()) {
        text += &format!("\nPlayed otherwise here: {}", entry.otherwise);
    }
    if let Some(bar) = timeline.bar_at(place.start.to_f64()) {
        let bar = &timeline.bars[bar];
        text += &format!("\nBar {} in {}", bar.number, bar.meter);
    }
    text + "\nClick to select it, with Shift a stretch; drag to move it, with Ctrl to copy it. \
            Double-click opens it on the Bench."
}
