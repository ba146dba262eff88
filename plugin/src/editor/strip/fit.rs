//! What is missing or over in a bar, and the ways to mend it.
//!
//! Gives faults with their bars, in words; for the one that is looked at,
//! mended forms, worked out on a thread of their own.

mod search;

use barform_app::music::Beats;
use barform_app::score::edit::ItemPath;
use barform_app::score::{FormItem, Score};
use barform_app::words;
use egui::{Context, Rect};

use crate::editor::desk::Desk;
use crate::editor::shown::Shown;
use crate::state::CompiledScore;
pub use search::Way;
use search::{MendTask, Search};

/// A place where a bar line should fall and none does.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// The gap of the form where it should fall.
    pub gap: ItemPath,
    /// Number of the bar as printed.
    pub bar: u32,
    /// Beats at which the bar begins.
    pub start: f64,
    /// Beats at which its content ends.
    pub end: f64,
    /// Beats that the bar has.
    pub over: Beats,
    /// Beats that it lacks.
    pub short: Beats,
    /// What should end there.
    pub of: Of,
}

/// What should end on a bar line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Of {
    /// The form.
    Form,
    /// A section, by its name.
    Section(String),
    /// A check that an edit took away.
    Check,
}

impl Fault {
    /// `1 beat missing`, or what is over if that is less.
    pub fn words(&self) -> String {
        if self.short <= self.over {
            format!("{} missing", words::beats(self.short))
        } else {
            format!("{} over", words::beats(self.over))
        }
    }

    /// The whole sentence.
    pub fn sentence(&self) -> String {
        let of = match &self.of {
            Of::Form => " at the end of the form".to_owned(),
            Of::Section(name) => format!(" at the end of {name}"),
            Of::Check => " before the bar line".to_owned(),
        };
        format!("Bar {}: {}{of}.", self.bar, self.words())
    }
}

/// What is known of bars that do not fit.
#[derive(Default)]
pub struct Fit {
    stamp: Option<u64>,
    /// The score that `loose` counts in.
    from: Option<CompiledScore>,
    faults: Vec<Fault>,
    /// Gaps where a check stood until an edit took it away.
    loose: Vec<ItemPath>,
    /// Those of them where a bar line falls again.
    holding: Vec<ItemPath>,
    /// The fault that is looked at.
    looked: usize,
    search: Search,
    /// Marks in view: fault, rectangle, words.
    pub(super) marks: Vec<(usize, Rect, bool)>,
    rects: Vec<Rect>,
}

impl Fit {
    /// Takes notice of a changed score, and of mends that were found.
    pub fn catch_up(&mut self, desk: &mut Desk, ctx: &Context) {
        self.search.poll();
        let stamp = desk.stamp();
        if self.stamp != Some(stamp) {
            self.stamp = Some(stamp);
            let score = desk.score();
            let old = self.from.take();
            if let Some(old) = &old {
                let shown = &desk.shown;
                // Where something was put in just there, it goes where it holds.
                let moved = |gap: &ItemPath| {
                    let found = moved(gap, old.score(), score);
                    let holds = |gap: &&ItemPath| check(gap, shown).is_none();
                    found.iter().find(holds).or(found.first()).cloned()
                };
                self.loose = self.loose.iter().filter_map(moved).collect();
            }
            let new = desk.take_loosened();
            self.loose.extend(new);
            self.loose.sort();
            self.loose.dedup();
            let score = desk.score();
            self.loose.retain(|gap| is_free(gap, score));
            self.from = Some(desk.shown.checked.clone());
            let loose = std::mem::take(&mut self.loose);
            self.faults = ends(&desk.shown);
            self.holding.clear();
            for gap in &loose {
                match check(gap, &desk.shown) {
                    Some(fault) => {
                        let same = |f: &Fault| f.end == fault.end;
                        if !self.faults.iter().any(same) {
                            self.faults.push(fault);
                        }
                    }
                    None => self.holding.push(gap.clone()),
                }
            }
            self.loose = loose;
            self.faults.sort_by(|a, b| a.end.total_cmp(&b.end));
            self.looked = self.looked.min(self.faults.len().saturating_sub(1));
            self.search.clear();
        }
        if let Some(fault) = self.faults.get(self.looked)
            && self.search.is_wanted()
        {
            let job = MendTask::of(fault, &desk.shown);
            let ctx = ctx.clone();
            self.search.start(job, move || ctx.request_repaint());
        }
    }

    /// Everything that does not fit, in order of time.
    pub fn faults(&self) -> &[Fault] {
        &self.faults
    }

    /// Number of the fault that is looked at.
    pub fn looked(&self) -> usize {
        self.looked
    }

    /// Looks at another.
    pub fn look(&mut self, number: usize) {
        if number < self.faults.len() && number != self.looked {
            self.looked = number;
            self.search.clear();
        }
    }

    /// Ways to mend the one that is looked at; `None` while they are sought.
    pub fn ways(&self) -> Option<&[Way]> {
        self.search.found()
    }

    /// Checks that were taken away and would hold again.
    pub fn holding(&self) -> &[ItemPath] {
        &self.holding
    }

    /// The items of a section with the checks put back that would hold again.
    pub fn with_checks(&self, section: usize, items: &[FormItem]) -> Vec<FormItem> {
        let mut items = items.to_vec();
        let here = self.holding.iter().filter(|gap| gap.section == section);
        // From the last on: those before keep their places.
        for gap in here.rev() {
            search::insert(&mut items, &gap.items);
        }
        items
    }

    /// What a way to mend makes of the items of its section. Checks behind it that
    /// were taken away are put back: those that still do not hold give way once
    /// more.
    pub fn mended(&self, way: &Way, items: &[FormItem]) -> Option<Vec<FormItem>> {
        let mut all = items.get(..way.from)?.to_vec();
        all.extend_from_slice(&way.items);
        let mut rest = items.get(way.gap..)?.to_vec();
        for gap in self.loose.iter().rev() {
            if let ([at], true) = (&gap.items[..], gap.section == way.section)
                && *at > way.gap
                && *at - way.gap <= rest.len()
            {
                rest.insert(*at - way.gap, FormItem::BarLine);
            }
        }
        all.extend(rest);
        Some(all)
    }

    /// Rectangles of the marks in view.
    pub fn rects(&self) -> &[Rect] {
        &self.rects
    }

    pub(super) fn take_rects(&mut self, rects: Vec<Rect>) {
        self.rects = rects;
    }
}

/// Sections and forms that do not end on a bar line.
fn ends(shown: &Shown) -> Vec<Fault> {
    let timeline = &shown.checked.timeline;
    let score = shown.checked.score();
    let mut found = Vec::new();
    for (number, section) in score.sections.iter().enumerate() {
        let next = timeline.sections.get(number + 1);
        let end = next.map_or(timeline.length, |next| next.start);
        let of = match next {
            None => Of::Form,
            Some(_) if section.name.is_empty() => Of::Section(format!("section {}", number + 1)),
            Some(_) => Of::Section(section.name.clone()),
        };
        let gap = ItemPath::new(number, [section.items.len()]);
        found.extend(fault(shown, gap, end, of));
    }
    found
}

/// A check that was taken away, if no bar line falls there on some pass.
fn check(gap: &ItemPath, shown: &Shown) -> Option<Fault> {
    let timeline = &shown.checked.timeline;
    let places = shown.written.places_of_gap(gap);
    places.into_iter().find_map(|place| {
        let start = timeline.places.get(place).map(|place| place.start);
        let end = start.unwrap_or(timeline.length);
        fault(shown, gap.clone(), end, Of::Check)
    })
}

fn fault(shown: &Shown, gap: ItemPath, end: Beats, of: Of) -> Option<Fault> {
    let timeline = &shown.checked.timeline;
    let bar = timeline.bars.partition_point(|bar| bar.start < end);
    let bar = timeline.bars.get(bar.checked_sub(1)?)?;
    let whole = if bar.number == 0 {
        timeline.pickup
    } else {
        bar.meter.bar()
    };
    let over = end.checked_sub(bar.start).ok()?;
    let short = whole.checked_sub(over).ok()?;
    if short.is_zero() {
        return None;
    }
    Some(Fault {
        gap,
        bar: bar.number,
        start: bar.start.to_f64(),
        end: end.to_f64(),
        over,
        short,
        of,
    })
}

/// Whether a check could stand in a gap: there is such a gap, and none beside it.
fn is_free(gap: &ItemPath, score: &Score) -> bool {
    let line = |path: &ItemPath| path.item(score) == Some(&FormItem::BarLine);
    let Some(before) = gap.items.last().and_then(|at| at.checked_sub(1)) else {
        return false;
    };
    let mut path = gap.clone();
    if let Some(last) = path.items.last_mut() {
        *last = before;
    }
    path.item(score).is_some() && !line(&path) && !line(gap)
}

/// Where a gap is after a change: the same before what changed, moved along
/// behind it, gone within it; both if something was put in just there.
fn moved(gap: &ItemPath, old: &Score, new: &Score) -> Vec<ItemPath> {
    let (Some(was), Some(at)) = (old.sections.get(gap.section), gap.items.first()) else {
        return Vec::new();
    };
    let sections = shift(gap.section, &old.sections, &new.sections, false);
    let section = sections.first().copied().or_else(|| {
        // Changed, but as many as before: the one in the same place.
        (old.sections.len() == new.sections.len()).then_some(gap.section)
    });
    let Some((number, is)) = section.and_then(|n| Some((n, new.sections.get(n)?))) else {
        return Vec::new();
    };
    let items = shift(*at, &was.items, &is.items, gap.items.len() == 1);
    let place = |item: usize| {
        let mut path = gap.clone();
        path.section = number;
        if let Some(first) = path.items.first_mut() {
            *first = item;
        }
        path
    };
    // Checks that came back, as by undo, are not missing any more: then only a gap
    // counts that has the same item behind it.
    let lines = |items: &[FormItem]| items.iter().filter(|i| **i == FormItem::BarLine).count();
    let came_back = lines(&is.items) > lines(&was.items);
    let counts = |item: &usize| !came_back || is.items.get(*item) == was.items.get(*at);
    items.into_iter().filter(counts).map(place).collect()
}

/// Where the element at `index`, or the gap before it, may be in a changed list.
fn shift<T: PartialEq>(index: usize, old: &[T], new: &[T], gap: bool) -> Vec<usize> {
    let prefix = old.iter().zip(new).take_while(|(a, b)| a == b).count();
    let rest = old.len().min(new.len()) - prefix;
    let back = old.iter().rev().zip(new.iter().rev()).take(rest);
    let suffix = back.take_while(|(a, b)| a == b).count();
    let before = index < prefix || (gap && index == prefix);
    let behind = index >= old.len() - suffix && (gap || index < old.len());
    let mut found: Vec<usize> = before.then_some(index).into_iter().collect();
    found.extend(behind.then(|| index + new.len() - old.len()));
    found.dedup();
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::editor::shown::tests::shown_of;

    #[test]
    fn a_form_that_does_not_fill_its_last_bar_says_by_how_much() {
        assert!(ends(&shown_of("A A A A A A A A")).is_empty());
        let found = ends(&shown_of("A A A A A A A"));
        assert_eq!(found.len(), 1);
        let said = found[0].sentence();
        assert_eq!(said, "Bar 2: 1 beat missing at the end of the form.");
        let found = ends(&shown_of("A A A A A"));
        assert_eq!(found[0].words(), "1 beat over");
        let found = ends(&shown_of("(A A A A)x3 A A"));
        assert_eq!((found[0].bar, &*found[0].words()), (4, "2 beats missing"));
    }

    #[test]
    fn a_gap_moves_along_with_what_is_around_it() {
        let score = |form: &str| shown_of(form).checked.score().clone();
        let gap = |at: usize| ItemPath::new(0, [at]);
        let (old, new) = (score("A A[16ths] A A"), score("A A A[16ths] A A"));
        assert_eq!(moved(&gap(0), &old, &new), [gap(0)]);
        assert_eq!(moved(&gap(1), &old, &new), [gap(1), gap(2)], "just there");
        assert_eq!(moved(&gap(3), &old, &new), [gap(4)]);
        assert_eq!(moved(&gap(4), &old, &new), [gap(5)]);
        let gone = score("A");
        assert_eq!(moved(&gap(2), &score("A A[16ths] A[8ths]"), &gone), []);
    }
}
