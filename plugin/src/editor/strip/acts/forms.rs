//! Items put in, repeated, checked, played otherwise.

use barform_app::score::FormItem;
use barform_app::score::edit::{Edit, FormEdit, ItemPath, Override, Run, Target};

use super::{refuse, single};
use crate::editor::desk::{Desk, Spot};
use crate::editor::strip::Strip;

impl Strip {
    pub(super) fn form(&mut self, desk: &mut Desk, edit: FormEdit, key: Option<String>) {
        self.form_done(desk, edit, key);
    }

    pub(super) fn form_done(
        &mut self,
        desk: &mut Desk,
        edit: FormEdit,
        key: Option<String>,
    ) -> bool {
        let group = key.map(|key| desk.typing(key));
        let done = desk.edit(Spot::Strip, &Edit::Form(edit), group.as_ref());
        done.is_some()
    }

    /// Puts items in: after what is chosen, or before it if that is asked for.
    pub(super) fn put(&mut self, desk: &mut Desk, items: Vec<FormItem>) {
        let at = self.gap(desk);
        self.form(desk, FormEdit::Insert { at, items }, None);
    }

    /// Where something is put in: after what is chosen, else at the end.
    pub(super) fn gap(&self, desk: &Desk) -> ItemPath {
        match &desk.chosen.run {
            Some(run) if self.menus.before() => run.at.clone(),
            Some(run) => run.at.further(run.count),
            None => {
                let sections = &desk.score().sections;
                let last = sections.len().saturating_sub(1);
                let items = sections.last().map_or(0, |s| s.items.len());
                ItemPath::new(last, [items])
            }
        }
    }

    /// After something was taken out: what now stands there is chosen, or what
    /// stands before.
    pub(super) fn land(&mut self, desk: &mut Desk, at: ItemPath) {
        let mut at = at;
        while let Some(last) = at.items.last().copied() {
            for index in [Some(last), last.checked_sub(1)].into_iter().flatten() {
                if let Some(end) = at.items.last_mut() {
                    *end = index;
                }
                if at
                    .item(desk.score())
                    .is_some_and(|item| *item != FormItem::BarLine)
                {
                    self.choice.run(desk, at.into());
                    return;
                }
            }
            at.items.pop();
        }
    }

    /// How often what is chosen is played, if that is one thing.
    pub(in super::super) fn times_now(&self, desk: &Desk) -> Option<u32> {
        let run = desk.chosen.run.as_ref()?;
        match run.items(desk.score())? {
            [FormItem::Group { times, .. }] => Some(*times),
            _ => Some(1),
        }
    }

    pub(super) fn times(&mut self, desk: &mut Desk, run: Run, times: u32) {
        let key = Some(format!("times {:?}", run.at));
        if run.count == 1 {
            let at = run.at;
            self.form(desk, FormEdit::Times { at, times }, key);
        } else if times > 1 {
            self.form(desk, FormEdit::Group { run, times }, key);
        }
    }

    pub(super) fn ungroup(&mut self, desk: &mut Desk, run: &Run) {
        let outer = &run.at.items[..run.at.items.len().saturating_sub(1)];
        let at = match single(desk, run) {
            Some(FormItem::Group { .. }) => run.at.clone(),
            _ if !outer.is_empty() => ItemPath::new(run.at.section, outer),
            _ => {
                refuse(
                    desk,
                    "What is selected is in no group",
                    Some("select a bracket"),
                );
                return;
            }
        };
        self.form(desk, FormEdit::Ungroup(at), None);
    }

    /// A check after what is chosen is taken away if it is there, else put in.
    pub(super) fn check(&mut self, desk: &mut Desk, run: Run) {
        let gap = run.at.further(run.count);
        let edit = match gap.item(desk.score()) {
            Some(FormItem::BarLine) => FormEdit::Delete(gap.into()),
            _ => FormEdit::Insert {
                at: gap,
                items: vec![FormItem::BarLine],
            },
        };
        if self.form_done(desk, edit, None) {
            self.choice.run(desk, run);
        }
    }

    /// One override of what is chosen: of one item, of a whole section, or of
    /// each item of a stretch.
    pub(super) fn otherwise(&mut self, desk: &mut Desk, change: Override) {
        let key = match &change {
            Override::Level(_) => Some(format!("level {:?}", desk.chosen.run)),
            _ => None,
        };
        if let Some(section) = self.choice.section() {
            let edit = FormEdit::Override(Target::Section(section), change);
            if self.form_done(desk, edit, key) {
                self.choice.whole(desk, section);
            }
            return;
        }
        let Some(run) = desk.chosen.run.clone() else {
            refuse(
                desk,
                "Nothing is selected",
                Some("click a block or a section's name first"),
            );
            return;
        };
        if run.count == 1 {
            let edit = FormEdit::Override(Target::Item(run.at), change);
            self.form(desk, edit, key);
            return;
        }
        let Some(items) = with_each(desk, &run, &change) else {
            return;
        };
        let edit = FormEdit::Items {
            section: run.at.section,
            items,
            cells: Vec::new(),
        };
        if self.form_done(desk, edit, key) {
            self.choice.run(desk, run);
        }
    }
}

/// A section's items with an override set on each item of a run.
fn with_each(desk: &Desk, run: &Run, change: &Override) -> Option<Vec<FormItem>> {
    let mut items = desk.score().sections.get(run.at.section)?.items.clone();
    let (first, outer) = run.at.items.split_last()?;
    let mut list = &mut items;
    for index in outer {
        let FormItem::Group { items, .. } = list.get_mut(*index)? else {
            return None;
        };
        list = items;
    }
    for item in list.get_mut(*first..*first + run.count)? {
        let overrides = match item {
            FormItem::Letter { overrides, .. } | FormItem::Group { overrides, .. } => overrides,
            FormItem::BarLine => continue,
        };
        match change.clone() {
            Override::Subdivision(to) => overrides.subdivision = to,
            Override::Rate(to) => overrides.rate = to,
            Override::Level(to) => overrides.level = to,
            Override::Voicing(to) => overrides.voicing = to,
        }
    }
    Some(items)
}
