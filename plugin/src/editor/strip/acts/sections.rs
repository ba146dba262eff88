//! Sections, and bars that do not fit.

use barform_app::score::edit::{Edit, FormEdit, Run, SectionEdit};

use super::refuse;
use crate::editor::desk::{Desk, Spot};
use crate::editor::strip::Strip;

impl Strip {
    /// Afterwards the section is chosen that it was done to.
    pub(super) fn section(&mut self, desk: &mut Desk, edit: SectionEdit, key: Option<String>) {
        let (run, whole) = (desk.chosen.run.clone(), self.choice.section());
        let stays = matches!(
            &edit,
            SectionEdit::Rename { .. } | SectionEdit::Meter { .. }
        );
        let gone = matches!(edit, SectionEdit::Remove(_));
        let group = key.map(|key| desk.typing(key));
        let done = desk.edit(Spot::Strip, &Edit::Section(edit), group.as_ref());
        let Some(done) = done.filter(|_| !gone) else {
            return;
        };
        match (stays, whole, done.focus.section) {
            (true, Some(section), _) | (false, _, Some(section)) => {
                self.choice.whole(desk, section);
            }
            _ => desk.chosen.run = run.filter(|run| run.items(desk.score()).is_some()),
        }
    }

    pub(super) fn look(&mut self, number: usize) {
        self.fit.look(number);
        if let Some(fault) = self.fit.faults().get(number) {
            self.view.reveal(fault.start, fault.end);
        }
    }

    pub(super) fn mend(&mut self, desk: &mut Desk, number: usize) {
        let Some(way) = self.fit.ways().and_then(|ways| ways.get(number)).cloned() else {
            let message = if self.fit.faults().is_empty() {
                "No bar needs fixing"
            } else {
                "There is no such fix"
            };
            refuse(desk, message, None);
            return;
        };
        let section = desk.score().sections.get(way.section);
        let items = section.and_then(|section| self.fit.mended(&way, &section.items));
        if let Some(items) = items {
            let (section, cells) = (way.section, way.cells);
            self.form(
                desk,
                FormEdit::Items {
                    section,
                    items,
                    cells,
                },
                None,
            );
            desk.chosen.run = None;
        }
    }

    /// In one step, however many sections.
    pub(super) fn put_back(&mut self, desk: &mut Desk) {
        let mut sections: Vec<usize> = self.fit.holding().iter().map(|g| g.section).collect();
        sections.dedup();
        let run = desk.chosen.run.clone();
        let key = format!("checks {}", desk.stamp());
        for section in sections {
            let Some(of) = desk.score().sections.get(section) else {
                continue;
            };
            let items = self.fit.with_checks(section, &of.items);
            let cells = Vec::new();
            self.form(
                desk,
                FormEdit::Items {
                    section,
                    items,
                    cells,
                },
                Some(key.clone()),
            );
        }
        desk.seal();
        // Items moved only behind what was put back.
        desk.chosen.run = run.filter(|run| run.items(desk.score()).is_some());
    }
}

/// Begins a new section with what is chosen.
pub(super) fn split(desk: &mut Desk, run: Option<Run>) {
    let Some(run) = run else {
        refuse(
            desk,
            "Nothing is selected",
            Some("click the block that the new section begins with"),
        );
        return;
    };
    let edit = SectionEdit::Split {
        at: run.at,
        name: String::new(),
    };
    desk.edit(Spot::Strip, &Edit::Section(edit), None);
}
