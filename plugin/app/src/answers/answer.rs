//! What a tool has found, as the window shows it.

use super::cell_lines;
use crate::music::Cell;
use crate::score::edit::CellEdit;

/// All of it, top to bottom.
#[derive(Debug, Clone, Default)]
pub struct Answer {
    /// Lines above.
    pub head: Vec<String>,
    /// What gives the cell as it is written already.
    pub as_written: Vec<String>,
    /// What there is to know.
    pub rows: Vec<Row>,
    /// What there is to choose from.
    pub proposals: Vec<Proposal>,
    /// Lines below.
    pub foot: Vec<String>,
}

/// Something found.
#[derive(Debug, Clone)]
pub struct Row {
    /// What it is.
    pub name: String,
    /// More about it.
    pub text: String,
    /// The slot where it begins, from 0, if it is in one place.
    pub slot: Option<usize>,
}

/// A cell that could be, with its reasons.
#[derive(Debug, Clone)]
pub struct Proposal {
    /// What it is; no two of an answer have one name.
    pub name: String,
    /// What it costs or changes, in a line.
    pub summary: String,
    /// Sticking and voices.
    pub lines: Vec<String>,
    /// Slot by slot.
    pub reasons: Vec<String>,
    /// The cell.
    pub cell: Cell,
    /// What puts it in the place of the cell.
    pub edit: CellEdit,
    /// The word on that button.
    pub verb: &'static str,
    /// Whether it sounds different.
    pub audible: bool,
}

impl Proposal {
    /// One that takes the cell's place with all its strokes.
    pub fn of(name: impl Into<String>, cell: Cell) -> Proposal {
        Proposal {
            name: name.into(),
            summary: String::new(),
            lines: cell_lines(&cell, true),
            reasons: Vec::new(),
            edit: CellEdit::Become(cell.clone()),
            cell,
            verb: "Use",
            audible: true,
        }
    }
}

impl Answer {
    /// A line and nothing to choose.
    pub fn only(line: impl Into<String>) -> Answer {
        Answer {
            head: vec![line.into()],
            ..Answer::default()
        }
    }

    /// Adds a proposal, unless it is the cell as it stands or there already: then
    /// the one that is there says so.
    pub fn propose(&mut self, written: &Cell, proposal: Proposal) {
        let same = |a: &Cell, b: &Cell| a.grid == b.grid && a.slots == b.slots;
        if same(written, &proposal.cell) {
            self.as_written.push(lower(proposal.name));
        } else if let Some(there) = self
            .proposals
            .iter_mut()
            .find(|p| same(&p.cell, &proposal.cell))
        {
            there.name = format!("{}; also {}", there.name, lower(proposal.name));
        } else {
            self.proposals.push(proposal);
        }
    }
}

/// For the middle of a sentence.
fn lower(mut name: String) -> String {
    if let Some(first) = name.get_mut(..1) {
        first.make_ascii_lowercase();
    }
    name
}
