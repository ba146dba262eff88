//! What is chosen in the form: where it lies, where the choice began and where
//! it ends.

use std::ops::Range;

use barform_app::score::FormItem;
use barform_app::score::edit::{ItemPath, Owner, Run};

use crate::editor::desk::{Desk, Spot};

/// What is chosen, worked out once for each score and run.
#[derive(Debug, Default)]
pub struct Choice {
    /// What it was worked out from.
    from: Option<(u64, Option<Run>)>,
    /// Section and item numbers.
    items: Option<(usize, Range<usize>)>,
    /// The block where an extended choice began.
    anchor: Option<usize>,
    /// The block that arrow keys go on from.
    head: Option<usize>,
    /// The section that was chosen as a whole.
    section: Option<usize>,
    /// The choice is to come into view.
    reveal: bool,
}

impl Choice {
    /// Takes notice of a run that was chosen elsewhere, by an edit say.
    pub fn catch_up(&mut self, desk: &Desk) {
        let run = &desk.chosen.run;
        if let Some((stamp, known)) = &self.from
            && *stamp == desk.stamp()
            && known == run
        {
            return;
        }
        let written = &desk.shown.written;
        let numbers = run.as_ref().and_then(|run| written.numbers(run));
        let section = run.as_ref().map(|run| run.at.section);
        self.items = section.zip(numbers);
        self.from = Some((desk.stamp(), run.clone()));
        self.section = None;
        let first = self.items.as_ref().and_then(|(section, items)| {
            let entry = written.entry(*section, items.start)?;
            (entry.places > 0).then_some(entry.first)
        });
        if self.head.is_none_or(|head| !self.holds(desk, head)) {
            self.head = first;
            self.anchor = first;
            self.reveal = first.is_some();
        }
    }

    /// Whether a place is one of what is chosen.
    fn holds(&self, desk: &Desk, place: usize) -> bool {
        let place = desk.shown.checked.timeline.places.get(place);
        let Some((place, (section, items))) = place.zip(self.items.as_ref()) else {
            return false;
        };
        place.section as usize == *section && items.contains(&(place.item as usize))
    }

    /// Section and item numbers of what is chosen.
    pub fn items(&self) -> Option<&(usize, Range<usize>)> {
        self.items.as_ref()
    }

    /// The block that arrow keys go on from.
    pub fn head(&self) -> Option<usize> {
        self.head
    }

    /// The section that was chosen as a whole.
    pub fn section(&self) -> Option<usize> {
        self.section
    }

    /// Beats from and to which what was chosen by key lies, once.
    pub fn take_reveal(&mut self, desk: &Desk) -> Option<(f64, f64)> {
        if !std::mem::take(&mut self.reveal) {
            return None;
        }
        let place = desk.shown.checked.timeline.places.get(self.head?)?;
        let start = place.start.to_f64();
        Some((start, start + place.length.to_f64()))
    }

    /// Chooses a block, or extends the choice to it; `reveal` brings it into
    /// view.
    pub fn block(&mut self, desk: &mut Desk, place: usize, extend: bool, reveal: bool) {
        let Some(path) = desk.path_of(place) else {
            return;
        };
        let anchor = self.anchor.filter(|_| extend && self.items.is_some());
        let from = anchor.and_then(|anchor| desk.path_of(anchor));
        let run = match from {
            Some(from) => between(desk, &from, &path),
            None => path.clone().into(),
        };
        self.take(desk, run);
        if anchor.is_none() {
            self.anchor = Some(place);
        }
        self.head = Some(place);
        self.reveal = reveal;
        if let Some(FormItem::Letter { letter, .. }) = path.item(desk.score()) {
            let owner = Some(Owner::Cell(letter.clone()));
            if desk.owner() != owner {
                desk.chosen.slot = 0;
            }
            desk.chosen.owner = owner;
        }
    }

    /// Chooses a run of items.
    pub fn run(&mut self, desk: &mut Desk, run: Run) {
        self.head = None;
        self.take(desk, run);
        self.reveal = true;
    }

    /// Chooses all items of a section, as a whole.
    pub fn whole(&mut self, desk: &mut Desk, section: usize) {
        let Some(count) = desk.score().sections.get(section).map(|s| s.items.len()) else {
            return;
        };
        let at = ItemPath::new(section, [0]);
        self.run(desk, Run { at, count });
        self.section = Some(section);
        self.reveal = false;
    }

    /// Chooses nothing.
    pub fn clear(&mut self, desk: &mut Desk) {
        desk.chosen.run = None;
        self.head = None;
        self.anchor = None;
        self.catch_up(desk);
    }

    fn take(&mut self, desk: &mut Desk, run: Run) {
        if desk.refused_at(Spot::Strip).is_some() {
            desk.dismiss();
        }
        desk.chosen.run = Some(run);
        self.catch_up(desk);
    }
}

/// The items from one to another: in the innermost list that has both, whole
/// groups where one lies in a group. A choice stays in its section.
fn between(desk: &Desk, from: &ItemPath, to: &ItemPath) -> Run {
    let to = if to.section == from.section {
        to.clone()
    } else {
        let items = &desk.score().sections[from.section].items;
        let last = items.len().saturating_sub(1);
        let edge = if to.section > from.section { last } else { 0 };
        ItemPath::new(from.section, [edge])
    };
    let shorter = from.items.len().min(to.items.len()).saturating_sub(1);
    let same = from.items.iter().zip(&to.items).take(shorter);
    let depth = same.take_while(|(a, b)| a == b).count();
    let (a, b) = (from.items[depth], to.items[depth]);
    let items = &from.items[..depth];
    let items: Vec<usize> = items.iter().copied().chain([a.min(b)]).collect();
    Run {
        at: ItemPath::new(from.section, items),
        count: a.abs_diff(b) + 1,
    }
}
