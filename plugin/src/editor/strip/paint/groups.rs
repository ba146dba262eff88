//! Brackets under groups, with the number of passes; while one plays, which
//! pass it is.

use egui::{FontId, Rect, Stroke, vec2};

use super::super::rows::{BRACKET, GROUPS, at};
use super::Picture;

/// Brackets that there is room for, one within the other.
const DEEPEST: usize = 1;

impl Picture<'_> {
    pub(super) fn groups(&self) {
        let (timeline, view) = (&self.shown.checked.timeline, self.view);
        let palette = self.input.palette;
        let playing = self
            .input
            .position_beats
            .and_then(|beats| timeline.place_at(beats));
        let beats_at = |place: usize| {
            timeline
                .places
                .get(place)
                .map_or(view.length_beats(), |p| p.start.to_f64())
        };
        let mut counts = Vec::new();
        for group in &self.shown.written.groups {
            let (start, end) = (beats_at(group.first), beats_at(group.end()));
            if start > view.end_beats() {
                break;
            }
            if end < view.start_beats() || group.depth > DEEPEST {
                continue;
            }
            let chosen = self.chosen.is_some_and(|(section, items)| {
                group.section == *section && items.contains(&group.item)
            });
            let stroke = if chosen {
                Stroke::new(2.5, palette.ink)
            } else {
                Stroke::new(1.5, palette.dim)
            };
            let y = GROUPS.0 + BRACKET * group.depth as f32 + 5.0;
            let (left, right) = (view.x(start) + 2.0, view.x(end) - 2.0);
            let (l, r) = (left.max(-4.0), right.min(view.width() + 4.0));
            self.painter
                .line_segment([at(self.rect, l, y), at(self.rect, r, y)], stroke);
            for x in [left, right] {
                self.painter
                    .line_segment([at(self.rect, x, y - 4.0), at(self.rect, x, y)], stroke);
            }
            // The end of each pass but the last.
            let pass = beats_at(group.first + group.places) - start;
            if view.x(start + pass) - view.x(start) > 8.0 {
                let from = ((view.start_beats() - start) / pass).floor().max(1.0) as usize;
                let to = ((view.end_beats() - start) / pass).ceil().max(0.0) as usize;
                for n in from..to.min(group.times) {
                    let x = view.x(start + pass * n as f64);
                    self.painter
                        .line_segment([at(self.rect, x, y - 3.0), at(self.rect, x, y)], stroke);
                }
            }
            if group.times == 1 {
                continue;
            }
            let text = match playing.and_then(|place| group.pass_of(place)) {
                Some(pass) => format!("{pass} of {}", group.times),
                None => format!("×{}", group.times),
            };
            let font = FontId::proportional(if group.depth == 0 { 11.0 } else { 10.0 });
            let galley = self.painter.layout_no_wrap(text, font, palette.ink);
            let shown_left = left.max(0.0);
            if galley.size().x + 8.0 <= right.min(view.width()) - shown_left {
                let middle = (shown_left + right.min(view.width())) / 2.0;
                let corner = at(self.rect, middle, y) - galley.size() / 2.0;
                counts.push((corner, galley));
            }
        }
        // Over all brackets, so that none runs through a number.
        for (corner, galley) in counts {
            let ground = Rect::from_min_size(corner, galley.size()).expand2(vec2(4.0, -2.0));
            self.painter.rect_filled(ground, 0.0, palette.panel);
            self.painter.galley(corner, galley, palette.ink);
        }
    }
}
