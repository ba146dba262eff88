//! What keys choose: neighbours, groups around, all.

use barform_app::score::edit::{ItemPath, Run};

use crate::editor::desk::Desk;
use crate::editor::strip::Strip;
use barform_app::session::ItemKind;

impl Strip {
    pub(super) fn neighbour(&mut self, desk: &mut Desk, later: bool, extend: bool) {
        let last = desk.shown.checked.timeline.places.len().saturating_sub(1);
        let place = match self.choice.head() {
            Some(head) if later => (head + 1).min(last),
            Some(head) => head.saturating_sub(1),
            None => self.first_in_view(desk),
        };
        self.choice.block(desk, place, extend, true);
    }

    pub(super) fn first_in_view(&self, desk: &Desk) -> usize {
        let start = self.view.start_beats();
        let places = &desk.shown.checked.timeline.places;
        places.partition_point(|place| place.start.to_f64() < start - 1e-9)
    }

    pub(super) fn all(&mut self, desk: &mut Desk) {
        let at = match &desk.chosen.run {
            Some(run) => run.at.clone(),
            None => ItemPath::new(0, [0]),
        };
        let Some((_, outer)) = at.items.split_last() else {
            return;
        };
        let items: Vec<usize> = outer.iter().copied().chain([0]).collect();
        let at = ItemPath::new(at.section, items);
        let mut count = 0;
        while at.further(count).item(desk.score()).is_some() {
            count += 1;
        }
        self.choice.run(desk, Run { at, count });
    }

    pub(super) fn around(&mut self, desk: &mut Desk) {
        let Some(run) = &desk.chosen.run else { return };
        let (section, mut items) = (run.at.section, run.at.items.clone());
        items.pop();
        if items.is_empty() {
            self.choice.whole(desk, section);
        } else {
            self.choice.run(desk, ItemPath::new(section, items).into());
        }
    }

    pub(super) fn inside(&mut self, desk: &mut Desk) {
        let Some((section, items)) = self.choice.items().cloned() else {
            return;
        };
        let written = &desk.shown.written;
        let number = match written.entry(section, items.start).map(|e| e.kind) {
            Some(ItemKind::Group(_)) if items.len() > 1 => items.start + 1,
            _ => items.start,
        };
        if let Some(at) = written.path(section, number) {
            self.choice.run(desk, at.into());
        }
    }
}
