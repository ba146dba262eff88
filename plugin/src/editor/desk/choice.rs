//! What is chosen of the score, and how it stays true when that changes.

use barform_app::music::{Cell, Letter};
use barform_app::score::Score;
use barform_app::score::edit::{Focus, ItemPath, Owner, Run};

use super::Desk;
use crate::editor::pages::Page;

/// What is worked on.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Chosen {
    /// Items of the form.
    pub run: Option<Run>,
    /// The cell or ostinato on the Bench; the first cell if there is none.
    pub owner: Option<Owner>,
    /// Slot of that cell.
    pub slot: usize,
}

impl Desk {
    /// Chooses the first slot that is not as it was.
    pub(super) fn choose_difference(&mut self, before: &Score) {
        let (Some(owner), Some(now)) = (self.owner(), self.chosen_cell()) else {
            return;
        };
        let Some(was) = cell_of(before, &owner) else {
            return;
        };
        let mut pairs = was.slots.iter().zip(&now.slots);
        if let Some(slot) = pairs.position(|(was, now)| was != now) {
            self.chosen.slot = slot;
        }
    }

    pub(super) fn focus(&mut self, focus: &Focus, run: Option<Run>) {
        self.chosen.run = run;
        if let Some(letter) = &focus.letter {
            let owner = Some(Owner::Cell(letter.clone()));
            if self.chosen.owner != owner {
                self.chosen.slot = 0;
            }
            self.chosen.slot = focus.slot.unwrap_or(self.chosen.slot);
            self.chosen.owner = owner;
        }
        self.mend_choice();
    }

    /// What is chosen and no longer there is not chosen.
    pub(super) fn mend_choice(&mut self) {
        let score = self.shown.checked.score();
        let there = |owner: &Owner| match owner {
            Owner::Cell(letter) => score.cells.iter().any(|c| c.letter == *letter),
            Owner::Ostinato(name) => score.ostinatos.iter().any(|o| o.name == *name),
        };
        self.chosen.owner = self.chosen.owner.take().filter(there);
        let run = self.chosen.run.take();
        self.chosen.run = run.filter(|run| run.items(score).is_some());
        if let Some(cell) = self.chosen_cell() {
            let last = cell.slots.len().saturating_sub(1);
            self.chosen.slot = self.chosen.slot.min(last);
        }
    }

    /// What the Bench works on: what was chosen, or the first cell.
    pub fn owner(&self) -> Option<Owner> {
        let first = || Some(Owner::Cell(self.score().cells.first()?.letter.clone()));
        self.chosen.owner.clone().or_else(first)
    }

    /// The cell that the Bench works on, as it plays.
    pub fn chosen_cell(&self) -> Option<Cell> {
        cell_of(self.score(), &self.owner()?)
    }

    /// Chooses a cell and shows it on the Bench.
    pub fn to_bench(&mut self, letter: Letter) {
        self.chosen.owner = Some(Owner::Cell(letter));
        self.chosen.slot = 0;
        self.page = Page::Bench;
        self.called = true;
    }

    /// The items of the form where a place of the timeline is written.
    pub fn path_of(&self, place: usize) -> Option<ItemPath> {
        let place = self.shown.checked.timeline.places.get(place)?;
        ItemPath::of(self.score(), place.section as usize, place.item as usize)
    }
}

/// The strokes of a cell or an ostinato, if the score has it.
fn cell_of(score: &Score, owner: &Owner) -> Option<Cell> {
    match owner {
        Owner::Cell(letter) => score.cell(letter),
        Owner::Ostinato(name) => {
            let ostinato = score.ostinatos.iter().find(|o| o.name == *name)?;
            Some(Cell {
                letter: Letter::new("O")?,
                grid: ostinato.grid.clone(),
                slots: ostinato.slots(),
            })
        }
    }
}
