//! The Form strip: the lettered timeline, widths in true proportion of beats,
//! and everything that is done to it.
//!
//! Gives a picture of what is visible, edits through the desk, and the beat
//! that was clicked. Cost depends on what is visible, never on the form's
//! length. Below the strip proper lies the map of the whole form, which is also
//! its scroll bar; below that the buttons, and a line of words.
//!
//! `rows` says where things lie, `paint` draws, `pointer`, `drag` and `keys`
//! turn what the user does into an [`Act`], `acts` makes it an edit, `buttons`
//! and `menus` are the row below, `fit` knows what is missing in a bar.

mod acts;
mod buttons;
mod choice;
mod drag;
mod fit;
mod keys;
mod marks;
mod menus;
mod otherwise;
mod paint;
mod pointer;
mod rows;
mod status;
mod view;

use egui::{Id, Response, Sense, Ui, vec2};

use super::desk::Desk;
use super::palette::Palette;
use acts::Act;
use choice::Choice;
use drag::Drag;
use fit::Fit;
use menus::Menus;
use paint::Picture;
use view::View;

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
    /// Whether there is room for the buttons and the line of words.
    pub tools: bool,
}

/// What the strip keeps between frames.
#[derive(Default)]
pub struct Strip {
    view: View,
    choice: Choice,
    drag: Option<Drag>,
    fit: Fit,
    menus: Menus,
    /// What was copied last; the system's clipboard has it too.
    copied: String,
    /// A number being typed, and when its last digit was, in seconds.
    typed: Option<(u32, f64)>,
    /// The keyboard is to work here from the next frame on: in the frame of a
    /// click the focus goes to nobody who was not clicked.
    calls_keys: bool,
}

/// The strip as a widget.
pub(super) fn id() -> Id {
    Id::unique("form strip")
}

impl Strip {
    /// Shows the strip; returns the beat that was clicked, if one was.
    pub fn show(&mut self, ui: &mut Ui, desk: &mut Desk, input: &Input) -> Option<f64> {
        self.choice.catch_up(desk);
        self.fit.catch_up(desk, ui.ctx());
        if std::mem::take(&mut self.calls_keys) {
            ui.memory_mut(|m| m.request_focus(id()));
        }
        let mut acts = self.keys(ui, desk);

        let size = vec2(ui.available_width(), rows::HEIGHT);
        let (_, whole) = ui.allocate_space(size);
        let ground = ui.interact(whole, id(), Sense::click_and_drag());
        ground.widget_info(|| egui::WidgetInfo::labeled(egui::Role::ListBox, true, "Form strip"));
        let rect = whole.shrink2(vec2(rows::MARGIN, 0.0));
        self.view
            .fit_into(rect.width(), desk.shown.checked.timeline.length_beats());
        self.wheel(ui, &ground, rect.left());
        let clicked = self.on_ground(&ground, rect, input);
        if input.rolling
            && !ground.dragged()
            && self.drag.is_none()
            && let Some(beats) = input.position_beats
        {
            self.view.follow(beats);
        }
        if let Some((from, to)) = self.choice.take_reveal(desk) {
            self.view.reveal(from, to);
        }
        acts.extend(self.pointer(ui, rect, desk, input));
        acts.extend(self.marks(ui, rect, input));
        acts.extend(self.dragging(ui, rect, desk));
        self.draw(ui, whole, rect, desk, input, &ground);
        if input.tools {
            acts.extend(self.buttons(ui, desk));
            acts.extend(self.status(ui, desk, input));
        }
        if !acts.is_empty() {
            for act in acts {
                self.act(ui, desk, act);
                self.choice.catch_up(desk);
            }
            ui.ctx().request_repaint();
        }
        clicked
    }

    fn draw(
        &mut self,
        ui: &Ui,
        whole: egui::Rect,
        rect: egui::Rect,
        desk: &Desk,
        input: &Input,
        ground: &Response,
    ) {
        let painter = ui.painter_at(whole);
        painter.rect_filled(whole, 0.0, input.palette.panel);
        let picture = Picture {
            painter: &painter,
            rect,
            view: &self.view,
            shown: &desk.shown,
            input,
            chosen: self.choice.items(),
            focus: ground.has_focus(),
            lifted: self.drag.is_some(),
            taken: self.fit.rects(),
        };
        if desk.shown.checked.timeline.places.is_empty() {
            picture.nothing();
            return;
        }
        picture.draw();
        self.fit.draw(&picture);
        if let Some(drag) = &self.drag {
            drag.draw(&picture);
        }
        if ground.has_focus() {
            let stroke = egui::Stroke::new(1.5, input.palette.accent);
            painter.rect_stroke(whole.shrink(1.0), 2.0, stroke, egui::StrokeKind::Inside);
        }
        let label = self.choice.head().map(pointer::block_id);
        ui.ctx().accesskit_node_builder(ground.id, |node| {
            if let Some(block) = label {
                node.set_active_descendant(block.accesskit_id());
            }
        });
    }
}
