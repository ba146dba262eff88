//! Ways to mend a bar, sought on a thread of their own: the window never waits.

use barform_app::craft::arrange::{Material, Mend, mends};
use barform_app::music::{Beats, Cell};
use barform_app::score::edit::ItemPath;
use barform_app::score::{FormItem, Overrides};

use super::{Fault, Of};
use crate::editor::shown::Shown;
use crate::state::CompiledScore;
use barform_app::background::Job;

/// Items before the bar line that are looked at: what is further back is no
/// mend of this bar.
const WINDOW: usize = 24;

/// A mended section.
#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    /// What it does, in words.
    pub text: String,
    /// Section, from 0.
    pub section: usize,
    /// The section's items from `from` to `gap` are replaced by these.
    pub items: Vec<FormItem>,
    /// First item that is replaced.
    pub from: usize,
    /// One past the last.
    pub gap: usize,
    /// Cells it adds.
    pub cells: Vec<Cell>,
}

/// What is sought.
pub struct MendTask {
    checked: CompiledScore,
    section: usize,
    from: usize,
    gap: usize,
    items: Vec<FormItem>,
    overrides: Overrides,
    bar: Beats,
    pickup: Beats,
    check: bool,
}

impl MendTask {
    /// The mends of a fault; `None` where the form is no longer so.
    pub fn of(fault: &Fault, shown: &Shown) -> Option<MendTask> {
        let score = shown.checked.score();
        let section = score.sections.get(fault.gap.section)?;
        let check = fault.of == Of::Check;
        let (from, gap, items) = match &fault.gap.items[..] {
            [gap] => {
                let before = section.items.get(..*gap)?;
                let line = before.iter().rposition(|item| *item == FormItem::BarLine);
                let from = line.map_or(0, |line| line + 1);
                let from = from.max(gap.saturating_sub(WINDOW));
                (from, *gap, before[from..].to_vec())
            }
            // In a group: the item that holds the group, with the check in it.
            [outer, inner @ ..] => {
                let mut group = vec![section.items.get(*outer)?.clone()];
                let path: Vec<usize> = [0].into_iter().chain(inner.iter().copied()).collect();
                insert(&mut group, &path)?;
                (*outer, outer + 1, group)
            }
            [] => return None,
        };
        let start = start_of(shown, fault.gap.section, from)?;
        let timeline = &shown.checked.timeline;
        let bar = timeline.bars.partition_point(|bar| bar.start <= start);
        let bar = timeline.bars.get(bar.checked_sub(1)?)?;
        let whole = if bar.number == 0 {
            timeline.pickup
        } else {
            bar.meter.bar()
        };
        let into = start.checked_sub(bar.start).ok()?;
        let pickup = if into.is_zero() && bar.number > 0 {
            Beats::ZERO
        } else {
            whole.checked_sub(into).ok()?
        };
        Some(MendTask {
            checked: shown.checked.clone(),
            section: fault.gap.section,
            from,
            gap,
            items,
            overrides: section.overrides.clone(),
            bar: section.meter.unwrap_or(score.meter).bar(),
            pickup,
            check: check && fault.gap.items.len() == 1,
        })
    }

    fn run(self) -> Vec<Way> {
        let Ok(cells) = self.checked.score().cells_resolved() else {
            return Vec::new();
        };
        let of = Material {
            cells: &cells,
            overrides: &self.overrides,
            bar: self.bar,
            pickup: self.pickup,
        };
        let found = mends(&self.items, &of).unwrap_or_default();
        found.into_iter().map(|mend| self.way(mend)).collect()
    }

    fn way(&self, mend: Mend) -> Way {
        let mut text = String::new();
        for mut edit in mend.edits {
            // Items count from the start of the section.
            if let Some(first) = edit.path.0.first_mut() {
                *first += self.from;
            }
            let then = if text.is_empty() { "" } else { ", then " };
            text += &format!("{then}{edit}");
        }
        let mut all = text.chars();
        let text = match all.next() {
            Some(first) => first.to_uppercase().chain(all).collect(),
            None => text,
        };
        let mut items = mend.items;
        if self.check {
            items.push(FormItem::BarLine);
        }
        Way {
            text,
            section: self.section,
            items,
            from: self.from,
            gap: self.gap,
            cells: mend.added,
        }
    }
}

/// Puts a check in a gap.
pub fn insert(items: &mut Vec<FormItem>, path: &[usize]) -> Option<()> {
    match path {
        [at] if *at <= items.len() => items.insert(*at, FormItem::BarLine),
        [outer, inner @ ..] if !inner.is_empty() => {
            let FormItem::Group { items, .. } = items.get_mut(*outer)? else {
                return None;
            };
            return insert(items, inner);
        }
        _ => return None,
    }
    Some(())
}

/// The beat at which the item of a section is first played.
fn start_of(shown: &Shown, section: usize, item: usize) -> Option<Beats> {
    let number = shown.written.number(&ItemPath::new(section, [item]))?;
    let place = shown.written.entry(section, number)?.first;
    let timeline = &shown.checked.timeline;
    let start = timeline.places.get(place).map(|place| place.start);
    Some(start.unwrap_or(timeline.length))
}

/// One search at a time.
#[derive(Default)]
pub struct Search {
    running: Job<Vec<Way>>,
    /// What is found is of no use any more.
    stale: bool,
    found: Option<Vec<Way>>,
}

impl Search {
    /// Forgets what was found: the form has changed, or another bar is looked
    /// at.
    pub fn clear(&mut self) {
        self.found = None;
        self.stale = self.running.is_busy();
    }

    /// Whether a search is to be started.
    pub fn is_wanted(&self) -> bool {
        self.found.is_none() && !self.running.is_busy()
    }

    /// What was found; `None` while it is sought.
    pub fn found(&self) -> Option<&[Way]> {
        self.found.as_deref()
    }

    /// Starts; `done` is called on the search's thread.
    pub fn start(&mut self, task: Option<MendTask>, done: impl FnOnce() + Send + 'static) {
        let Some(task) = task else {
            self.found = Some(Vec::new());
            return;
        };
        if self
            .running
            .start("bar mends", move || task.run(), done)
            .is_err()
        {
            self.found = Some(Vec::new());
        }
    }

    /// Takes what was found, once it is there.
    pub fn poll(&mut self) {
        let Some(found) = self.running.poll() else {
            return;
        };
        if !std::mem::take(&mut self.stale) {
            self.found = Some(found.unwrap_or_default());
        }
    }
}
