//! What stands above the blocks: sections, bar numbers and bar lines, and what
//! blocks and groups do otherwise.

use barform_app::session::overrides_text;
use egui::{Align2, FontId, Pos2, Rect, Shape, Stroke, pos2};

use super::super::rows::{self, BARS, BLOCKS, OTHERWISE, SECTIONS, at};
use super::{Picture, fitted};

/// Fewest points between two bar numbers.
const BAR_NUMBER_GAP: f32 = 30.0;

/// Less room than this holds no word.
const LEAST_WORD: f32 = 16.0;

impl Picture<'_> {
    /// Bar lines behind the blocks, and bar numbers.
    pub(super) fn bars(&self) {
        let (timeline, view) = (&self.shown.checked.timeline, self.view);
        let palette = self.input.palette;
        let first = timeline
            .bars
            .partition_point(|b| b.start.to_f64() < view.start_beats());
        let mut free_from = f32::NEG_INFINITY;
        let before = first.checked_sub(1);
        let mut meter = before.map(|before| timeline.bars[before].meter);
        let stroke = Stroke::new(1.0, palette.ink);
        for bar in &timeline.bars[first..] {
            let start = bar.start.to_f64();
            if start > view.end_beats() {
                break;
            }
            let x = view.x(start);
            // Not through the words between the numbers and the blocks.
            let line = at(self.rect, x, 0.0).x;
            for (top, bottom) in [(BARS.1 - 6.0, BARS.1), (BLOCKS.0 - 1.0, BLOCKS.1 + 1.0)] {
                let y = self.rect.top() + top..=self.rect.top() + bottom;
                self.painter.vline(line, y, stroke);
            }
            let new_meter = meter != Some(bar.meter);
            meter = Some(bar.meter);
            if x < free_from && !new_meter {
                continue;
            }
            let number = bar.number.to_string();
            let text = if new_meter {
                format!("{number}  {}", bar.meter)
            } else {
                number
            };
            let corner = at(self.rect, x + 5.0, BARS.0);
            let galley = fitted(self.painter, &text, 11.0, palette.dim, f32::INFINITY);
            let drawn = Rect::from_min_size(corner, galley.size());
            if self.taken.iter().any(|rect| rect.intersects(drawn)) {
                continue;
            }
            free_from = x + (drawn.width() + 8.0).max(BAR_NUMBER_GAP);
            self.painter.galley(corner, galley, palette.dim);
        }
        // The end of the form: thin and thick, as on paper.
        let end = view.x(view.length_beats());
        if end <= view.width() {
            let y = (self.rect.top() + BLOCKS.0)..=(self.rect.top() + BLOCKS.1);
            let x = at(self.rect, end, 0.0).x;
            self.painter.vline(x + 2.0, y.clone(), stroke);
            let thick = Stroke::new(3.0, palette.ink);
            self.painter.vline(x + 5.5, y, thick);
        }
    }

    /// A bar line that the form asserts has a mark on its head.
    pub(super) fn checks(&self) {
        let places = &self.shown.checked.timeline.places;
        let seen = rows::visible(self.view, places);
        let checks = &self.shown.written.checks;
        let first = checks.partition_point(|place| *place < seen.start);
        for check in checks[first..].iter().take_while(|c| **c <= seen.end) {
            let beats = places.get(*check).map(|place| place.start.to_f64());
            let x = self.view.x(beats.unwrap_or(self.view.length_beats()));
            if x < -1.0 || x > self.view.width() + 1.0 {
                continue;
            }
            let head = at(self.rect, x, BLOCKS.0);
            let stroke = Stroke::new(2.0, self.input.palette.accent);
            self.painter
                .vline(head.x, head.y..=self.rect.top() + BLOCKS.1 + 1.0, stroke);
            let corners = [(-4.0, -6.0), (4.0, -6.0), (0.0, 1.0)];
            let ruler = self.rect.top() + BARS.1;
            let tip: Vec<Pos2> = corners
                .iter()
                .map(|(x, y)| pos2(head.x + x, ruler + y))
                .collect();
            let fill = self.input.palette.accent;
            self.painter
                .add(Shape::convex_polygon(tip, fill, Stroke::NONE));
        }
    }

    pub(super) fn sections(&self) {
        let (timeline, view) = (&self.shown.checked.timeline, self.view);
        let palette = self.input.palette;
        let next = timeline
            .sections
            .partition_point(|s| s.start.to_f64() <= view.start_beats());
        let first = next.saturating_sub(1);
        for (number, section) in timeline.sections.iter().enumerate().skip(first) {
            let start = section.start.to_f64();
            if start > view.end_beats() {
                break;
            }
            // The name of a section that began earlier stays at the edge.
            let x = view.x(start).max(0.0);
            let mark = at(self.rect, x, 0.0).x;
            let y = (self.rect.top() + SECTIONS.0)..=(self.rect.top() + BARS.0);
            self.painter
                .vline(mark, y, Stroke::new(2.0, palette.accent));
            let room = section_room(self, number, x);
            if room < LEAST_WORD {
                continue;
            }
            let text = section_text(self, number);
            let galley = fitted(self.painter, &text, 12.0, palette.ink, room);
            let corner = at(self.rect, x + 6.0, SECTIONS.0 - 1.0);
            self.painter.galley(corner, galley, palette.ink);
        }
    }

    /// What blocks and groups do otherwise, over their stretch.
    pub(super) fn otherwise(&self) {
        let (timeline, view) = (&self.shown.checked.timeline, self.view);
        let written = &self.shown.written;
        let places = &timeline.places;
        let beats_at = |place: usize| {
            places
                .get(place)
                .map_or(view.length_beats(), |p| p.start.to_f64())
        };
        let colour = self.input.palette.ink;
        let y = self.rect.top() + OTHERWISE.1 - 1.5;
        let line = |left: f32, right: f32| {
            let (left, right) = (left.max(0.0), right.min(view.width()));
            let stroke = Stroke::new(1.0, self.input.palette.line);
            self.painter.line_segment(
                [
                    pos2(self.rect.left() + left, y),
                    pos2(self.rect.left() + right, y),
                ],
                stroke,
            );
        };
        // Groups say it once, at their start.
        for group in &written.groups {
            let (start, end) = (beats_at(group.first), beats_at(group.end()));
            if start > view.end_beats() {
                break;
            }
            let entry = written.entry(group.section, group.item);
            if end > view.start_beats() && entry.is_some_and(|e| !e.otherwise.is_empty()) {
                line(view.x(start) + 2.0, view.x(end) - 2.0);
            }
        }
        for index in rows::visible(view, places) {
            let place = &places[index];
            let own = self.own_text(index);
            let groups = self.group_text(index);
            if own.is_none() && groups.is_empty() {
                continue;
            }
            let (left, right) = (
                view.x(place.start.to_f64()),
                view.x(place.start.to_f64() + place.length.to_f64()),
            );
            if own.is_some() {
                line(left + 2.0, right - 2.0);
            }
            let mut text = groups;
            if let Some(own) = own {
                if !text.is_empty() {
                    text += " · ";
                }
                text += own;
            }
            // As far as the next block that says something.
            let mut until = index + 1;
            while until < places.len()
                && beats_at(until) < view.end_beats()
                && self.own_text(until).is_none()
                && self.group_text(until).is_empty()
            {
                until += 1;
            }
            let left = left.max(0.0) + 2.0;
            let room = view.x(beats_at(until)).min(view.width()) - left - 3.0;
            let corner = at(self.rect, left, OTHERWISE.0 - 1.0);
            if room >= LEAST_WORD {
                let galley = fitted(self.painter, &text, 10.5, colour, room);
                self.painter.galley(corner, galley, colour);
            } else {
                // No room for a word: a dot, and the words in the tip.
                let dot = pos2(corner.x + 2.0, y - 5.0);
                self.painter.circle_filled(dot, 2.0, colour);
            }
        }
    }

    fn own_text(&self, place: usize) -> Option<&str> {
        let place = self.shown.checked.timeline.places.get(place)?;
        let written = &self.shown.written;
        let entry = written.entry(place.section as usize, place.item as usize)?;
        Some(&*entry.otherwise).filter(|text| !text.is_empty())
    }

    /// What the groups do otherwise that begin with a place, outermost first.
    fn group_text(&self, place: usize) -> String {
        let groups = &self.shown.written.groups;
        let first = groups.partition_point(|group| group.first < place);
        let mut text = String::new();
        for group in groups[first..].iter().take_while(|g| g.first == place) {
            let entry = self.shown.written.entry(group.section, group.item);
            let Some(entry) = entry.filter(|e| !e.otherwise.is_empty()) else {
                continue;
            };
            if !text.is_empty() {
                text += " · ";
            }
            text += &entry.otherwise;
        }
        text
    }

    /// Says that there is nothing yet, and what to do first.
    pub fn nothing(&self) {
        self.painter.text(
            self.rect.center(),
            Align2::CENTER_CENTER,
            "The form is empty. Put a letter in with Insert…",
            FontId::proportional(14.0),
            self.input.palette.dim,
        );
    }
}

/// Points that the name of a section has, from `x` on.
pub fn section_room(picture: &Picture, section: usize, x: f32) -> f32 {
    let sections = &picture.shown.checked.timeline.sections;
    let end = sections.get(section + 1).map(|s| s.start.to_f64());
    let end = picture.view.x(end.unwrap_or(picture.view.length_beats()));
    let end = if sections.len() == section + 1 {
        picture.view.width()
    } else {
        end.min(picture.view.width())
    };
    end - x - 12.0
}

/// The name of a section and what it does otherwise.
pub fn section_text(picture: &Picture, section: usize) -> String {
    let timeline = &picture.shown.checked.timeline;
    let name = match timeline.sections.get(section) {
        Some(section) if !section.name.is_empty() => section.name.clone(),
        _ if timeline.sections.len() == 1 => "Form".to_owned(),
        _ => format!("Section {}", section + 1),
    };
    let sections = &picture.shown.checked.score().sections;
    let otherwise = sections.get(section).map(|s| overrides_text(&s.overrides));
    match otherwise {
        Some(words) if !words.is_empty() => format!("{name}  {words}"),
        _ => name,
    }
}
