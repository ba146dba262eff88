//! Blocks being dragged: where they would go, and the mark that shows it.
//!
//! The score changes when they are let go, in one step; until then it plays on
//! as it was, and Esc gives the drag up without a trace.

use barform_app::score::FormItem;
use barform_app::score::edit::{ItemPath, Run};
use barform_app::words;
use egui::{Align2, CursorIcon, FontId, Key, Modifiers, Pos2, Rect, Shape, Stroke, Ui, pos2, vec2};

use super::paint::Picture;
use super::rows::{BLOCKS, GROUPS, OTHERWISE, at};
use super::{Act, Strip};
use crate::editor::desk::Desk;
use crate::editor::shown::Shown;

/// Points from the strip's edge within which a drag scrolls, and by how much a
/// frame.
const EDGE: (f32, f32) = (30.0, 10.0);

/// Points above and below the strip at which a drag still counts.
const REACH: f32 = 60.0;

/// Letters that are named beside the pointer.
const NAMED: usize = 8;

/// A drag.
#[derive(Debug)]
pub struct Drag {
    /// Where they would go.
    to: Option<Gap>,
    /// Where the pointer is.
    at: Pos2,
    /// What is dragged, in words.
    name: String,
    copy: bool,
}

/// A gap of the form under the pointer.
#[derive(Debug, Clone, PartialEq)]
pub struct Gap {
    /// Where it is written.
    pub path: ItemPath,
    /// Where it is played.
    pub beats: f64,
    /// Groups at whose edge it is and that it lies outside of.
    pub outside: usize,
}

impl Drag {
    /// Of a block that was pressed.
    pub fn of(_place: usize) -> Drag {
        Drag {
            to: None,
            at: Pos2::ZERO,
            name: String::new(),
            copy: false,
        }
    }

    /// The mark where it would go, and its name at the pointer.
    pub fn draw(&self, picture: &Picture) {
        let palette = picture.input.palette;
        if let Some(gap) = &self.to {
            let x = at(picture.rect, picture.view.x(gap.beats), 0.0).x;
            let top = picture.rect.top() + OTHERWISE.0 + 4.0;
            let bottom = picture.rect.top()
                + if gap.outside > 0 {
                    GROUPS.1
                } else {
                    BLOCKS.1 + 2.0
                };
            picture
                .painter
                .vline(x, top..=bottom, Stroke::new(6.0, palette.panel));
            picture
                .painter
                .vline(x, top..=bottom, Stroke::new(3.0, palette.ink));
            let tip = vec![
                pos2(x - 6.0, top - 2.0),
                pos2(x + 6.0, top - 2.0),
                pos2(x, top + 7.0),
            ];
            let edge = Stroke::new(1.0, palette.panel);
            picture
                .painter
                .add(Shape::convex_polygon(tip, palette.ink, edge));
        }
        let what = match (&self.to, self.copy) {
            (None, _) => format!("{}: let go to leave it", self.name),
            (Some(_), true) => format!("copy {}", self.name),
            (Some(gap), false) if gap.outside > 0 => {
                format!("{}, outside of the repeat", self.name)
            }
            (Some(_), false) => self.name.clone(),
        };
        let font = FontId::proportional(13.0);
        let galley = picture.painter.layout_no_wrap(what, font, palette.ink);
        let size = galley.size() + vec2(12.0, 6.0);
        // Beside the pointer, within the strip.
        let right = picture.rect.right() - size.x;
        let left = (self.at.x + 12.0).min(right).max(picture.rect.left());
        let top = picture.rect.top() + BLOCKS.0 + 8.0;
        let ground = Rect::from_min_size(pos2(left, top), size);
        picture.painter.rect(
            ground,
            3.0,
            palette.panel,
            Stroke::new(1.5, palette.accent),
            egui::StrokeKind::Inside,
        );
        let corner = Align2::CENTER_CENTER
            .align_size_within_rect(galley.size(), ground)
            .min;
        picture.painter.galley(corner, galley, palette.ink);
    }
}

impl Strip {
    /// What the drag that is under way comes to.
    pub(super) fn dragging(&mut self, ui: &Ui, rect: Rect, desk: &Desk) -> Option<Act> {
        let drag = self.drag.as_mut()?;
        if ui.input_mut(|i| i.consume_key(Modifiers::NONE, Key::Escape)) {
            self.drag = None;
            ui.ctx().stop_dragging();
            return None;
        }
        let (at, down, copy) = ui.input(|i| {
            let at = i.pointer.latest_pos();
            (at, i.pointer.primary_down(), i.modifiers.command)
        });
        drag.copy = copy;
        if drag.name.is_empty()
            && let Some(run) = &desk.chosen.run
        {
            drag.name = name(desk, run);
        }
        if let Some(at) = at {
            drag.at = at;
            let edges = (rect.left() + EDGE.0, rect.right() - EDGE.0);
            if at.x < edges.0 {
                self.view.scroll_points(-EDGE.1);
            } else if at.x > edges.1 {
                self.view.scroll_points(EDGE.1);
            }
            let beats = self.view.beats_at(at.x - rect.left());
            let within = rect.expand2(vec2(REACH, REACH)).contains(at);
            let gap = gap_at(&desk.shown, beats).filter(|_| within);
            let run = desk.chosen.run.as_ref();
            drag.to = gap.filter(|gap| run.is_some_and(|run| copy || !is_idle(run, &gap.path)));
        }
        ui.ctx().set_cursor_icon(CursorIcon::Grabbing);
        ui.ctx().request_repaint();
        if down {
            return None;
        }
        let Drag { to, copy, .. } = self.drag.take()?;
        let to = to?.path;
        Some(Act::Drop { to, copy })
    }
}

/// The gap nearest to a beat. At the edge of a group there are several: the
/// nearer to the edge, the further outside.
pub fn gap_at(shown: &Shown, beats: f64) -> Option<Gap> {
    let timeline = &shown.checked.timeline;
    let written = &shown.written;
    if beats >= timeline.length_beats() {
        let section = written.sections.len().checked_sub(1)?;
        let last = written.sections[section].iter();
        let items = last.filter(|entry| entry.parent.is_none()).count();
        return Some(Gap {
            path: ItemPath::new(section, [items]),
            beats: timeline.length_beats(),
            outside: 0,
        });
    }
    let index = timeline.place_at(beats.max(0.0))?;
    let place = &timeline.places[index];
    let (start, length) = (place.start.to_f64(), place.length.to_f64());
    let into = ((beats - start) / length).clamp(0.0, 1.0);
    let after = into > 0.5;
    let section = place.section as usize;
    let mut items = vec![place.item as usize];
    let mut at = written.entry(section, place.item as usize)?;
    while let Some(parent) = at.parent {
        let group = written.entry(section, parent)?;
        let edge = if after {
            group.last() == index + 1
        } else {
            group.first == index
        };
        // A check at a group's edge lies between the block and the edge: the
        // gap outside is one all the same.
        if !edge {
            break;
        }
        items.push(parent);
        at = group;
    }
    let share = if after {
        (1.0 - into) * 2.0
    } else {
        into * 2.0
    };
    let steps = ((share * items.len() as f64) as usize).min(items.len() - 1);
    let outside = items.len() - 1 - steps;
    let path = written.path(section, items[outside])?;
    Some(Gap {
        path: if after { path.further(1) } else { path },
        beats: if after { start + length } else { start },
        outside,
    })
}

/// Whether a run that goes to a gap stays where it is, or cannot go there.
fn is_idle(run: &Run, gap: &ItemPath) -> bool {
    let depth = run.at.items.len() - 1;
    if gap.section != run.at.section || gap.items.get(..depth) != Some(&run.at.items[..depth]) {
        return false;
    }
    let (first, end) = (run.at.items[depth], run.at.items[depth] + run.count);
    match gap.items.get(depth) {
        Some(at) if gap.items.len() == depth + 1 => (first..=end).contains(at),
        Some(at) => (first..end).contains(at),
        None => false,
    }
}

/// The letters of a run, the first of them if there are many.
pub fn name(desk: &Desk, run: &Run) -> String {
    fn letters(items: &[FormItem], found: &mut Vec<String>) {
        for item in items {
            match item {
                FormItem::Letter { letter, .. } => found.push(words::letter(letter)),
                FormItem::Group { items, .. } => letters(items, found),
                FormItem::BarLine => {}
            }
            if found.len() > NAMED {
                return;
            }
        }
    }
    let mut found = Vec::new();
    letters(run.items(desk.score()).unwrap_or_default(), &mut found);
    if found.len() > NAMED {
        found.truncate(NAMED);
        found.push("…".to_owned());
    }
    found.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::editor::shown::tests::shown_of;

    #[test]
    fn the_nearer_edge_of_a_block_is_the_gap() {
        let shown = shown_of("A A A A");
        let gap = |beats| gap_at(&shown, beats).unwrap();
        assert_eq!(gap(1.3).path, ItemPath::new(0, [1]));
        assert_eq!(gap(1.7).path, ItemPath::new(0, [2]));
        assert_eq!((gap(1.7).beats, gap(1.3).beats), (2.0, 1.0));
        assert_eq!(gap(-3.0).path, ItemPath::new(0, [0]));
        assert_eq!(gap(99.0).path, ItemPath::new(0, [4]));
    }

    #[test]
    fn at_the_edge_of_a_group_there_is_a_gap_within_and_one_outside() {
        let shown = shown_of("A (A A)x2 (A)x3");
        let path = |beats| gap_at(&shown, beats).unwrap().path.items;
        assert_eq!(path(1.1), [1], "before the group");
        assert_eq!(path(1.4), [1, 0], "first in the group");
        assert_eq!(path(2.9), [1, 2], "the end of a pass that is not the last");
        assert_eq!(path(3.1), [1, 0]);
        assert_eq!(path(4.6), [1, 2], "last in the group");
        assert_eq!(path(4.9), [2], "behind the group");
        assert_eq!(path(5.1), [2], "before the next one");
        let gap = gap_at(&shown, 4.9).unwrap();
        assert_eq!((gap.outside, gap.beats), (1, 5.0));
    }

    #[test]
    fn a_run_goes_neither_into_itself_nor_to_its_own_edges() {
        let run = Run {
            at: ItemPath::new(0, [1]),
            count: 2,
        };
        let idle = |items: &[usize]| is_idle(&run, &ItemPath::new(0, items));
        assert!(idle(&[1]) && idle(&[2]) && idle(&[3]) && idle(&[1, 0]) && idle(&[2, 5]));
        assert!(!idle(&[0]) && !idle(&[4]) && !idle(&[3, 0]));
        assert!(!is_idle(&run, &ItemPath::new(1, [2])));
    }
}
