//! Where in a form: items, gaps between them, runs of neighbours.

use super::refuse;
use crate::score::error::{Fault, Spot};
use crate::score::form::FormItem;
use crate::score::model::{Score, Section};
use std::fmt;

/// The place of an item: its section, its index there, then its index in each
/// group on the way. As a gap, the last index is that of the item before which
/// something goes, or one more than there are items.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ItemPath {
    /// Section, from 0.
    pub section: usize,
    /// Indexes from 0, outermost first; never empty for an item.
    pub items: Vec<usize>,
}

/// Neighbours in one section or group.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Run {
    /// The first of them.
    pub at: ItemPath,
    /// How many, at least 1.
    pub count: usize,
}

impl ItemPath {
    /// A path.
    pub fn new(section: usize, items: impl Into<Vec<usize>>) -> ItemPath {
        ItemPath {
            section,
            items: items.into(),
        }
    }

    /// The path of the `item`-th item of a section, groups counted before their
    /// content: what [`Placement::item`](crate::score::Placement::item), a
    /// place of a timeline and [`ScoreError::part`](crate::score::ScoreError)
    /// of a form say.
    pub fn of(score: &Score, section: usize, item: usize) -> Option<ItemPath> {
        let mut left = item;
        let mut items = Vec::new();
        let list = &score.sections.get(section)?.items;
        descend(list, &mut left, &mut items).then_some(ItemPath { section, items })
    }

    /// The number of the item in its section, groups counted before their
    /// content; the way back from [`ItemPath::of`].
    pub fn number(&self, score: &Score) -> Option<usize> {
        self.item(score)?;
        let mut list = &score.sections.get(self.section)?.items;
        let mut number = 0;
        for (depth, i) in self.items.iter().enumerate() {
            number += list.get(..*i)?.iter().map(size).sum::<usize>();
            if depth + 1 < self.items.len() {
                number += 1;
                list = content(list.get(*i)?)?;
            }
        }
        Some(number)
    }

    /// The item there, if there is one.
    pub fn item<'s>(&self, score: &'s Score) -> Option<&'s FormItem> {
        let (last, outer) = self.items.split_last()?;
        let mut list = &score.sections.get(self.section)?.items;
        for i in outer {
            list = content(list.get(*i)?)?;
        }
        list.get(*last)
    }

    /// The path `by` items further on among its neighbours.
    pub fn further(&self, by: usize) -> ItemPath {
        let mut path = self.clone();
        if let Some(last) = path.items.last_mut() {
            *last = last.saturating_add(by);
        }
        path
    }

    /// The path of another item among its neighbours.
    pub(super) fn beside(&self, index: usize) -> ItemPath {
        let mut path = self.clone();
        if let Some(last) = path.items.last_mut() {
            *last = index;
        }
        path
    }

    /// Index among its neighbours, and the indexes of the groups around.
    pub(super) fn split(&self) -> Result<(usize, &[usize]), Fault> {
        let split = self.items.split_last().map(|(last, outer)| (*last, outer));
        split.ok_or_else(|| self.nowhere())
    }

    /// The list the path's last index counts in.
    pub(super) fn list<'s>(
        &self,
        sections: &'s mut [Section],
    ) -> Result<&'s mut Vec<FormItem>, Fault> {
        let (_, outer) = self.split()?;
        let section = sections.get_mut(self.section);
        let mut list = &mut section.ok_or_else(|| self.nowhere())?.items;
        for i in outer {
            let Some(FormItem::Group { items, .. }) = list.get_mut(*i) else {
                return Err(self.nowhere());
            };
            list = items;
        }
        Ok(list)
    }

    /// The item there, to change it.
    pub(super) fn item_mut<'s>(
        &self,
        sections: &'s mut [Section],
    ) -> Result<&'s mut FormItem, Fault> {
        let (at, _) = self.split()?;
        let item = self.list(sections)?.get_mut(at);
        item.ok_or_else(|| self.nowhere())
    }

    /// No such place.
    pub(super) fn nowhere(&self) -> Fault {
        let problem = format!("there is no {self}");
        refuse(
            Spot::Form(self.section),
            problem,
            "allowed is a place in the form",
            None,
        )
    }

    /// The path once the items at `gone`, in order, are no more; `None` if it
    /// was in one of them. As a gap it may stand before one that is gone.
    pub(super) fn without(&self, gone: &[ItemPath], gap: bool) -> Option<ItemPath> {
        let mut path = self.clone();
        for depth in 0..self.items.len() {
            let outer = &self.items[..depth];
            let siblings = gone.iter().filter(|g| {
                g.section == self.section
                    && g.items.len() == depth + 1
                    && g.items[..depth] == *outer
            });
            let mut before = 0;
            for sibling in siblings {
                let at = sibling.items[depth];
                let last = depth + 1 == self.items.len();
                if at == self.items[depth] && !(gap && last) {
                    return None;
                }
                before += usize::from(at < self.items[depth]);
            }
            path.items[depth] -= before;
        }
        Some(path)
    }
}

impl fmt::Display for ItemPath {
    /// `item 3.1`, or `item 3.1 of section 2`, counted from 1.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("item ")?;
        for (depth, i) in self.items.iter().enumerate() {
            let dot = if depth == 0 { "" } else { "." };
            write!(f, "{dot}{}", i.saturating_add(1))?;
        }
        if self.section > 0 {
            write!(f, " of section {}", self.section.saturating_add(1))?;
        }
        Ok(())
    }
}

impl From<ItemPath> for Run {
    fn from(at: ItemPath) -> Run {
        Run { at, count: 1 }
    }
}

impl Run {
    /// The items, if they are all there.
    pub fn items<'s>(&self, score: &'s Score) -> Option<&'s [FormItem]> {
        let (first, outer) = self.at.items.split_last()?;
        let mut list = &score.sections.get(self.at.section)?.items;
        for i in outer {
            list = content(list.get(*i)?)?;
        }
        list.get(*first..first.checked_add(self.count)?)
            .filter(|items| !items.is_empty())
    }

    /// The items, or that there are none such.
    pub(super) fn cloned(&self, score: &Score) -> Result<Vec<FormItem>, Fault> {
        let items = self.items(score).map(<[FormItem]>::to_vec);
        items.ok_or_else(|| self.at.nowhere())
    }

    /// The run once the items at `gone` are no more.
    pub(super) fn without(&self, gone: &[ItemPath]) -> Option<Run> {
        if gone.is_empty() {
            return Some(self.clone());
        }
        let all = (0..self.count).filter_map(|i| self.at.further(i).without(gone, false));
        let mut all = all.peekable();
        Some(Run {
            at: all.peek()?.clone(),
            count: all.count(),
        })
    }
}

fn content(item: &FormItem) -> Option<&Vec<FormItem>> {
    match item {
        FormItem::Group { items, .. } => Some(items),
        _ => None,
    }
}

/// Items of an item: itself and what is in it.
fn size(item: &FormItem) -> usize {
    1 + content(item).map_or(0, |items| items.iter().map(size).sum())
}

fn descend(list: &[FormItem], left: &mut usize, path: &mut Vec<usize>) -> bool {
    for (i, item) in list.iter().enumerate() {
        path.push(i);
        if *left == 0 {
            return true;
        }
        *left -= 1;
        if content(item).is_some_and(|inner| descend(inner, left, path)) {
            return true;
        }
        path.pop();
    }
    false
}

/// Takes away empty groups and the second of two bar lines side by side; gives
/// the paths they had, in order.
pub(super) fn tidy(sections: &mut [Section]) -> Vec<ItemPath> {
    let mut gone = Vec::new();
    for (section, s) in sections.iter_mut().enumerate() {
        let mut path = ItemPath::new(section, Vec::new());
        tidy_list(&mut s.items, &mut path, &mut gone);
    }
    gone
}

fn tidy_list(list: &mut Vec<FormItem>, path: &mut ItemPath, gone: &mut Vec<ItemPath>) {
    let mut after_bar_line = false;
    let mut i = 0;
    list.retain_mut(|item| {
        path.items.push(i);
        i += 1;
        let stays = match item {
            FormItem::Letter { .. } => {
                after_bar_line = false;
                true
            }
            FormItem::Group { items, .. } => {
                tidy_list(items, path, gone);
                let plays = items.iter().any(|i| *i != FormItem::BarLine);
                after_bar_line &= !plays;
                plays
            }
            FormItem::BarLine => !std::mem::replace(&mut after_bar_line, true),
        };
        if !stays {
            gone.push(path.clone());
        }
        path.items.pop();
        stays
    });
}

/// Every letter and group, to change it.
pub(super) fn each(items: &mut [FormItem], change: &mut impl FnMut(&mut FormItem)) {
    for item in items {
        change(item);
        if let FormItem::Group { items, .. } = item {
            each(items, change);
        }
    }
}
