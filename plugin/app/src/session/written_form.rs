//! The form as written, laid beside the form as played.
//!
//! Gives each item of each section with its place in the text, the place of the
//! timeline where it is first played, and what it does otherwise in words;
//! every pass of every group; every bar-line check. Worked out once for each
//! score.

use crate::music::Fit;
use crate::score::edit::{ItemPath, Run};
use crate::score::{FormItem, Overrides, Rate, Score};

/// Most groups that are looked for, each pass of those around them counted; more
/// than anyone can look at.
const MOST: usize = 4_000;

/// A group of the form, once for each time it is played as a whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Repeat {
    /// First place of the first pass.
    pub first: usize,
    /// Places of one pass.
    pub places: usize,
    /// Number of passes, at least 1.
    pub times: usize,
    /// 0 for an outermost group.
    pub depth: usize,
    /// Its section, from 0.
    pub section: usize,
    /// Number of the item, groups counted before their content.
    pub item: usize,
}

impl Repeat {
    /// One past the last place of the last pass.
    pub fn end(&self) -> usize {
        self.first + self.places * self.times
    }

    /// The pass, from 1, that a place belongs to.
    pub fn pass_of(&self, place: usize) -> Option<usize> {
        let inside = (self.first..self.end()).contains(&place);
        inside.then(|| (place - self.first) / self.places.max(1) + 1)
    }
}

/// What an item is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ItemKind {
    /// A letter.
    Letter,
    /// A group that is played so often.
    Group(usize),
    /// A bar-line check.
    BarLine,
}

/// One item of a section's form.
#[derive(Debug, Clone)]
pub struct WrittenItem {
    /// The group it is in, by its number.
    pub parent: Option<usize>,
    /// Index among its neighbours.
    pub index: usize,
    /// One past the number of the last item in it.
    pub end: usize,
    /// The place where it is first played, or would be.
    pub first: usize,
    /// Places it takes: those of one pass for a group.
    pub places: usize,
    /// What it is.
    pub kind: ItemKind,
    /// What it does otherwise, in the words of the form; empty as a rule.
    pub otherwise: Box<str>,
}

impl WrittenItem {
    /// One past the last place it plays the first time round.
    pub fn last(&self) -> usize {
        match self.kind {
            ItemKind::Group(times) => self.first + self.places * times,
            _ => self.first + self.places,
        }
    }
}

/// A form as written.
#[derive(Debug, Clone, Default)]
pub struct WrittenForm {
    /// Items of each section, groups before their content.
    pub sections: Vec<Vec<WrittenItem>>,
    /// Groups in order of their first place.
    pub groups: Vec<Repeat>,
    /// Places before which a bar line is asserted, in order.
    pub checks: Vec<usize>,
}

impl WrittenForm {
    /// Reads a score's form.
    pub fn of(score: &Score) -> WrittenForm {
        let mut written = WrittenForm::default();
        let mut at = 0;
        for (section, of) in score.sections.iter().enumerate() {
            let mut entries = Vec::new();
            list(&of.items, None, &mut entries);
            let mut play = Play {
                section,
                entries,
                written: &mut written,
            };
            at = play.items(&of.items, 0, at, 0);
            let entries = play.entries;
            written.sections.push(entries);
        }
        written
            .groups
            .sort_by_key(|group| (group.first, group.depth));
        written.checks.sort_unstable();
        written.checks.dedup();
        written
    }

    /// An item by its number.
    pub fn entry(&self, section: usize, number: usize) -> Option<&WrittenItem> {
        self.sections.get(section)?.get(number)
    }

    /// The path of an item by its number.
    pub fn path(&self, section: usize, number: usize) -> Option<ItemPath> {
        let mut items = Vec::new();
        let mut at = Some(number);
        while let Some(number) = at {
            let entry = self.entry(section, number)?;
            items.push(entry.index);
            at = entry.parent;
        }
        items.reverse();
        Some(ItemPath::new(section, items))
    }

    /// The number of an item.
    pub fn number(&self, path: &ItemPath) -> Option<usize> {
        let entries = self.sections.get(path.section)?;
        let (mut start, mut parent) = (0, None);
        let mut found = None;
        for index in &path.items {
            let mut number = start;
            for _ in 0..*index {
                number = entries.get(number)?.end;
            }
            if entries.get(number)?.parent != parent {
                return None;
            }
            (found, parent, start) = (Some(number), Some(number), number + 1);
        }
        found
    }

    /// Numbers of all items of a run and what is in them.
    pub fn numbers(&self, run: &Run) -> Option<std::ops::Range<usize>> {
        let first = self.number(&run.at)?;
        let mut end = first;
        for _ in 0..run.count {
            end = self.entry(run.at.section, end)?.end;
        }
        Some(first..end)
    }

    /// The places before which a gap lies, one for each pass that the first time
    /// round has of the groups around it.
    pub fn places_of_gap(&self, gap: &ItemPath) -> Vec<usize> {
        /// Passes looked at.
        const PASSES: usize = 64;
        let Some((last, outer)) = gap.items.split_last() else {
            return Vec::new();
        };
        let at = match (self.number(gap), last.checked_sub(1)) {
            (Some(number), _) => self.entry(gap.section, number).map(|e| e.first),
            (None, Some(before)) => {
                let mut path = gap.clone();
                if let Some(index) = path.items.last_mut() {
                    *index = before;
                }
                let number = self.number(&path);
                number.and_then(|n| Some(self.entry(gap.section, n)?.last()))
            }
            (None, None) => None,
        };
        let Some(at) = at else { return Vec::new() };
        let around = ItemPath::new(gap.section, outer);
        let group = self.number(&around);
        let group = group.and_then(|number| self.entry(gap.section, number));
        match group {
            Some(WrittenItem {
                kind: ItemKind::Group(times),
                places,
                ..
            }) => (0..(*times).min(PASSES))
                .map(|pass| at + pass * places)
                .collect(),
            _ => vec![at],
        }
    }
}

/// Lists items, groups before their content.
fn list(items: &[FormItem], parent: Option<usize>, entries: &mut Vec<WrittenItem>) {
    for (index, item) in items.iter().enumerate() {
        let number = entries.len();
        let (kind, otherwise) = match item {
            FormItem::Letter { overrides, .. } => (ItemKind::Letter, overrides_text(overrides)),
            FormItem::Group {
                times, overrides, ..
            } => (ItemKind::Group(*times as usize), overrides_text(overrides)),
            FormItem::BarLine => (ItemKind::BarLine, Box::default()),
        };
        entries.push(WrittenItem {
            parent,
            index,
            end: number + 1,
            first: usize::MAX,
            places: 0,
            kind,
            otherwise,
        });
        if let FormItem::Group { items, .. } = item {
            list(items, Some(number), entries);
        }
        entries[number].end = entries.len();
    }
}

/// Overrides as the brackets of a form say them, short: `16ths carry, ×2`.
pub fn overrides_text(overrides: &Overrides) -> Box<str> {
    let mut parts = Vec::new();
    if let Some((subdivision, fit)) = &overrides.subdivision {
        let carry = if *fit == Fit::Carry { " carry" } else { "" };
        parts.push(format!("{subdivision}{carry}"));
    }
    match overrides.rate {
        Some(Rate::Half) => parts.push("×1/2".to_owned()),
        Some(Rate::Double) => parts.push("×2".to_owned()),
        Some(Rate::Normal) => parts.push("×1".to_owned()),
        None => {}
    }
    parts.extend(overrides.level.map(|level| format!("{level}%")));
    parts.extend(overrides.voicing.clone());
    parts.join(", ").into_boxed_str()
}

/// One section being played through.
struct Play<'w> {
    section: usize,
    entries: Vec<WrittenItem>,
    written: &'w mut WrittenForm,
}

impl Play<'_> {
    /// Plays items from number `number` and place `at` on; returns the place
    /// after them. What was played before keeps its first place.
    fn items(
        &mut self,
        items: &[FormItem],
        mut number: usize,
        mut at: usize,
        depth: usize,
    ) -> usize {
        for item in items {
            let first = at;
            match item {
                FormItem::Letter { .. } => at += 1,
                FormItem::BarLine => self.written.checks.push(at),
                FormItem::Group { items, times, .. } => {
                    let times = *times as usize;
                    at = self.items(items, number + 1, at, depth + 1);
                    let places = at - first;
                    if places > 0 && self.written.groups.len() < MOST {
                        self.written.groups.push(Repeat {
                            first,
                            places,
                            times,
                            depth,
                            section: self.section,
                            item: number,
                        });
                    }
                    for _ in 1..times {
                        // Bar lines alone take no place, however often.
                        if places == 0 {
                            break;
                        }
                        self.items(items, number + 1, at, depth + 1);
                        at += places;
                    }
                    at = first + places * times;
                }
            }
            let Some(entry) = self.entries.get_mut(number) else {
                return at;
            };
            if entry.first == usize::MAX {
                entry.first = first;
                entry.places = match entry.kind {
                    ItemKind::Letter => 1,
                    ItemKind::BarLine => 0,
                    ItemKind::Group(times) => (at - first) / times.max(1),
                };
            }
            number = entry.end;
        }
        at
    }
}

#[cfg(test)]
mod test;
