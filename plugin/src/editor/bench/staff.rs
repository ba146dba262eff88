//! The staff with the cursor: what is seen, and what a click asks for.
//!
//! A click at a line or a space is about the voice written there, a click on
//! counts or sticking about the slot alone. What is chosen is framed, what
//! sounds has a wedge.

use barform_app::music::Voice;
use egui::{Align2, Color32, CornerRadius, EventFilter, FontId, Id, Painter, Rect, Response};
use egui::{ScrollArea, Sense, Shape, Stroke, StrokeKind, Ui, Vec2, WidgetInfo, pos2, vec2};

use super::super::desk::Desk;
use super::super::palette::Palette;
use super::act::{Act, Doing};
use super::known::Known;
use super::plate::{HeadAt, Plate};
use super::stroke::{foot_of, voices_of};

/// Points at either side of the music.
const SIDE: f32 = 12.0;

/// Where the upper line of the staff stands, as a share of the height.
const STAFF_TOP: f32 = 0.36;

/// Points for the wedge under the picture.
const WEDGE: f32 = 10.0;

/// How a click works, for the tip of the staff.
pub const CLICKS: &str = "Click on a line or space: on a rest it puts a stroke on the voice \
    written there, elsewhere it moves the hand's stroke there; a foot's is put beside. \
    Shift+click adds the other hand. Click on a note head selects it, a second click takes \
    it away. Click on counts or sticking moves the cursor.";

/// What the picture depends on.
#[derive(Debug, Clone, PartialEq)]
struct Key {
    stamp: u64,
    slots: usize,
    name: String,
    size: Vec2,
    dots: f32,
}

/// The picture, and where the cursor was last frame.
#[derive(Default)]
pub struct Staff {
    plate: Option<(Key, Option<Plate>)>,
    cursor: Option<(String, usize)>,
}

/// What is under the pointer.
#[derive(Debug, Clone, Copy)]
enum Under {
    Head(HeadAt),
    Voice(usize, Voice),
    Row(usize),
}

impl Staff {
    /// The widget that has the keyboard's focus when the staff has.
    pub fn id() -> Id {
        Id::unique("bench staff")
    }

    /// Shows the staff in the space that is left. Returns what a click asks for
    /// and a sentence about what is under the pointer.
    pub fn show(
        &mut self,
        ui: &mut Ui,
        desk: &Desk,
        known: &Known,
        doing: &Doing,
        sounding: Option<usize>,
        palette: &Palette,
    ) -> (Option<Act>, Option<String>) {
        let room = ui.available_size();
        let name = known.owner.to_string();
        let key = Key {
            stamp: known.stamp,
            slots: known.cell.slots.len(),
            name: name.clone(),
            size: room,
            dots: ui.ctx().pixels_per_point(),
        };
        if self.plate.as_ref().is_none_or(|(had, _)| *had != key) {
            let inner = room - vec2(2.0 * SIDE, WEDGE);
            let plate = Plate::new(ui.ctx(), &known.cell, desk.score().meter, inner);
            self.plate = Some((key, plate));
        }
        let Some((_, Some(plate))) = &self.plate else {
            ui.label("This grid is too fine to be drawn; its lines below can be changed.");
            return (None, None);
        };
        let slot = desk.chosen.slot;
        let moved = self.cursor.replace((name.clone(), slot)) != Some((name, slot));
        let view = View {
            plate,
            known,
            desk,
            doing,
            slot,
            sounding,
            palette,
        };
        ui.painter()
            .rect_filled(ui.available_rect_before_wrap(), 3.0, palette.panel);
        ScrollArea::horizontal()
            .id_salt("bench staff room")
            .auto_shrink(false)
            .max_height(room.y)
            .show(ui, |ui| view.show(ui, room, moved))
            .inner
    }
}

struct View<'a> {
    plate: &'a Plate,
    known: &'a Known,
    desk: &'a Desk,
    doing: &'a Doing,
    slot: usize,
    sounding: Option<usize>,
    palette: &'a Palette,
}

impl View<'_> {
    fn show(&self, ui: &mut Ui, room: Vec2, moved: bool) -> (Option<Act>, Option<String>) {
        let wide = (self.plate.size.x + 2.0 * SIDE).max(room.x);
        let (rect, _) = ui.allocate_exact_size(vec2(wide, room.y), Sense::hover());
        let response = ui.interact(rect, Staff::id(), Sense::click());
        let label = format!("Staff of {}", self.known.owner);
        response.widget_info(|| WidgetInfo::labeled(egui::Role::Canvas, true, &label));
        if response.clicked() {
            response.request_focus();
        }
        let filter = EventFilter {
            horizontal_arrows: true,
            vertical_arrows: true,
            ..EventFilter::default()
        };
        ui.memory_mut(|m| m.set_focus_lock_filter(Staff::id(), filter));
        let free = rect.height() - WEDGE - self.plate.size.y;
        let down = (rect.height() * STAFF_TOP - self.plate.staff.0).clamp(0.0, free.max(0.0));
        let corner = rect.min + vec2(SIDE, down);
        let hover = response.hover_pos().map(|at| self.under(at - corner));
        self.paint(ui, rect, corner, hover.as_ref(), response.has_focus());
        self.name_slots(ui, rect, corner);
        if moved {
            let (left, right) = self.plate.edges(self.slot);
            let x = corner.x + left - 40.0..=corner.x + right + 40.0;
            ui.scroll_to_rect(Rect::from_x_y_ranges(x, rect.y_range()), None);
        }
        (self.act(&response, corner), hover.map(|at| self.tell(at)))
    }

    /// What is at a place, from the picture's corner.
    fn under(&self, at: Vec2) -> Under {
        let at = at.to_pos2();
        let slot = self.plate.slot_at(at.x);
        if at.y >= self.plate.rows_top - 2.0 {
            return Under::Row(slot);
        }
        // What stands there already first: two voices may share a height.
        let here = self.plate.heads.iter().filter(|head| head.slot == slot);
        let all = (here.map(|head| head.voice))
            .chain(voices_of(self.desk, false))
            .chain(voices_of(self.desk, true));
        match self.plate.voice_at(at.y, all) {
            Some(voice) => self
                .head_of(slot, voice)
                .map_or(Under::Voice(slot, voice), Under::Head),
            None => Under::Row(slot),
        }
    }

    fn head_of(&self, slot: usize, voice: Voice) -> Option<HeadAt> {
        let is = |head: &&HeadAt| head.slot == slot && head.voice == voice;
        self.plate.heads.iter().find(is).copied()
    }

    fn act(&self, response: &Response, corner: egui::Pos2) -> Option<Act> {
        if !response.clicked() {
            return None;
        }
        let at = response.interact_pointer_pos()?;
        let beside = response.ctx.input(|i| i.modifiers.shift);
        Some(match self.under(at - corner) {
            Under::Row(slot) => Act::Go(slot),
            Under::Head(head) => Act::Pick {
                slot: head.slot,
                limb: head.limb,
            },
            Under::Voice(slot, voice) => Act::Click {
                slot,
                voice,
                beside,
            },
        })
    }

    fn tell(&self, under: Under) -> String {
        match under {
            Under::Row(slot) => {
                let what = self.known.slot_in_words(slot);
                format!("On slot {}: {what}. Click moves the cursor here.", slot + 1)
            }
            Under::Head(head) => {
                let chosen = self.slot == head.slot && self.doing.limb == Some(head.limb);
                let click = if chosen { "removes it" } else { "selects it" };
                format!(
                    "On slot {}: {} on {}. Click {click}.",
                    head.slot + 1,
                    head.limb.letter(),
                    head.voice.name()
                )
            }
            Under::Voice(slot, voice) => {
                let hands = self.known.limbs(slot).filter(|l| !l.is_foot()).count();
                let foot = foot_of(voice).is_some();
                let click = match (foot, hands) {
                    (true, _) | (_, 0) => "Click puts a stroke",
                    (_, 1) => "Click moves the hand here, Shift+click adds the other",
                    _ => "Click moves a hand here",
                };
                format!("On slot {}, {}. {click}.", slot + 1, voice.name())
            }
        }
    }

    fn paint(&self, ui: &Ui, rect: Rect, corner: egui::Pos2, hover: Option<&Under>, focused: bool) {
        let painter = ui.painter_at(rect.intersect(ui.clip_rect()));
        let (plate, palette) = (self.plate, self.palette);
        let bottom = (corner.y + plate.size.y + WEDGE).min(rect.bottom());
        let high = egui::Rangef::new((corner.y - 6.0).max(rect.top()), bottom);
        let column = |slot: usize| {
            let (left, right) = plate.edges(slot);
            let half = ((right - left) / 2.0).clamp(6.0, 22.0);
            let x = corner.x + plate.slots.get(slot).copied().unwrap_or(0.0);
            Rect::from_x_y_ranges(x - half..=x + half, high)
        };
        let band = column(self.slot).shrink2(vec2(0.0, 2.0));
        painter.rect_filled(band, CornerRadius::same(3), palette.raised);
        let width = if focused { 2.5 } else { 1.5 };
        painter.rect_stroke(
            band,
            CornerRadius::same(3),
            Stroke::new(width, palette.accent),
            StrokeKind::Inside,
        );
        if self.doing.onward {
            onward(&painter, band, palette.accent);
        }
        if let Some(slot) = self.sounding {
            wedge(&painter, column(slot), palette.good);
        }
        plate.paint(&painter, corner, palette.ink, &self.known.cell);
        for head in &plate.heads {
            if head.slot == self.slot && self.doing.limb == Some(head.limb) {
                let frame = head.rect.translate(corner.to_vec2()).expand(3.0);
                let stroke = Stroke::new(2.0, palette.accent);
                painter.rect_stroke(frame, CornerRadius::same(3), stroke, StrokeKind::Outside);
            }
        }
        if let Some(Under::Voice(slot, voice)) = hover {
            let space = (plate.staff.1 - plate.staff.0) / 4.0;
            let x = plate.slots.get(*slot).copied().unwrap_or(0.0);
            let at = corner + vec2(x, plate.y_of(*voice));
            painter.circle_stroke(at, space * 0.55, Stroke::new(1.5, palette.accent));
            let name = at + vec2(space * 0.9, 0.0);
            let font = FontId::proportional(12.0);
            let galley = painter.layout_no_wrap(voice.name().to_owned(), font, palette.accent);
            let place = Align2::LEFT_CENTER.anchor_size(name, galley.size());
            painter.rect_filled(place.expand(1.0), 2.0, palette.panel);
            painter.galley(place.min, galley, palette.accent);
        }
    }

    /// A name for each slot in view, for who hears the window read out.
    fn name_slots(&self, ui: &Ui, rect: Rect, corner: egui::Pos2) {
        let clip = ui.clip_rect();
        for slot in 0..self.known.cell.slots.len() {
            let (left, right) = self.plate.edges(slot);
            let x = corner.x + left..=corner.x + right;
            let area = Rect::from_x_y_ranges(x, rect.y_range());
            if !clip.intersects(area) {
                continue;
            }
            let response = ui.interact(area, Staff::id().with(slot), Sense::hover());
            response.widget_info(|| {
                let what = self.known.slot_in_words(slot);
                let label = format!("Slot {}: {what}", slot + 1);
                WidgetInfo::selected(egui::Role::ListItem, true, slot == self.slot, label)
            });
        }
        // Between the outer lines, so that a height can be told from outside.
        let lines = corner.y + self.plate.staff.0..=corner.y + self.plate.staff.1;
        let area = Rect::from_x_y_ranges(rect.x_range(), lines);
        let response = ui.interact(area, Staff::id().with("lines"), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(egui::Role::Canvas, true, "Staff lines"));
    }
}

/// An arrow on the right edge: the next stroke goes to the next slot.
fn onward(painter: &Painter, band: Rect, colour: Color32) {
    let at = pos2(band.right() + 1.0, band.bottom() - 8.0);
    let points = vec![
        at + vec2(0.0, -5.0),
        at + vec2(7.0, 0.0),
        at + vec2(0.0, 5.0),
    ];
    painter.add(Shape::convex_polygon(points, colour, Stroke::NONE));
}

/// A tinted column and a wedge beneath: this sounds.
fn wedge(painter: &Painter, column: Rect, colour: Color32) {
    painter.rect_filled(column, CornerRadius::same(3), colour.gamma_multiply(0.18));
    let (x, y) = (column.center().x, column.bottom());
    let points = vec![
        pos2(x, y - 9.0),
        pos2(x + 6.0, y - 1.0),
        pos2(x - 6.0, y - 1.0),
    ];
    painter.add(Shape::convex_polygon(points, colour, Stroke::NONE));
}
