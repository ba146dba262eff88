//! A line of strokes at exact times: a cell, a whole form, or either with its
//! ostinatos under it.
//!
//! In: cells in playing order, ostinatos. Out: strokes in order of time, each
//! with the place a player would name ("cell B, slot 3"). Never here: tempo.

use barform_score::music::{Beats, BeatsError, Cell, Grid, Slot, Stroke};
use barform_score::timeline::Timeline;
use std::fmt;

/// Where a stroke is written: which part of the line, which of its slots.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Place {
    /// Index in [`Line::parts`].
    pub part: usize,
    /// Slot, from 0.
    pub slot: usize,
}

/// What a part of a line is.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Part {
    /// A cell at its place in the form, by its letter.
    Cell(String),
    /// One turn of an ostinato, by its name.
    Ostinato(String),
}

impl fmt::Display for Part {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Part::Cell(letter) => write!(f, "cell {letter}"),
            Part::Ostinato(name) => write!(f, "ostinato {name}"),
        }
    }
}

/// Strokes in order of time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// Time of each stroke from the start of the line, not falling, and the
    /// stroke.
    pub strokes: Vec<(Beats, Stroke)>,
    /// Where each stroke is written.
    pub places: Vec<Place>,
    /// The parts that places point to, in the order they were added.
    pub parts: Vec<Part>,
    /// Length of the line; no stroke is at or after it.
    pub length: Beats,
}

impl Line {
    /// Nothing at all.
    fn empty() -> Line {
        let (strokes, places, parts) = (Vec::new(), Vec::new(), Vec::new());
        Line {
            strokes,
            places,
            parts,
            length: Beats::ZERO,
        }
    }

    /// One cell.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if the exact times do not fit.
    pub fn from_cell(cell: &Cell) -> Result<Line, BeatsError> {
        Line::from_cells([cell])
    }

    /// Cells one after the other.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if the exact times do not fit.
    pub fn from_cells<'c>(cells: impl IntoIterator<Item = &'c Cell>) -> Result<Line, BeatsError> {
        let mut line = Line::empty();
        for cell in cells {
            let start = line.length;
            let part = Part::Cell(cell.letter.to_string());
            line.add(part, start, Beats::ONE, &cell.grid, &cell.slots)?;
            line.length = start.checked_add(cell.grid.length()?)?;
        }
        Ok(line)
    }

    /// A whole form as it is played: every cell on its final subdivision and
    /// voicing, at its rate. Ostinatos are added with
    /// [`Line::with_ostinato`].
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if the exact times do not fit.
    pub fn from_timeline(timeline: &Timeline) -> Result<Line, BeatsError> {
        let mut line = Line::empty();
        for place in &timeline.places {
            let cell = timeline.cell_of(place);
            let part = Part::Cell(cell.letter.to_string());
            line.add(part, place.start, place.rate, &cell.grid, &cell.slots)?;
        }
        line.length = timeline.length;
        Ok(line)
    }

    /// The line with an ostinato under it: the slots on their own cycle, begun
    /// at the start of the line and cut off at its end.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if the exact times do not fit.
    pub fn with_ostinato(
        mut self,
        name: &str,
        grid: &Grid,
        slots: &[Slot],
    ) -> Result<Line, BeatsError> {
        let cycle = grid.length()?;
        let mut start = Beats::ZERO;
        while start < self.length {
            self.add(
                Part::Ostinato(name.to_owned()),
                start,
                Beats::ONE,
                grid,
                slots,
            )?;
            start = start.checked_add(cycle)?;
        }
        let mut order: Vec<usize> = (0..self.strokes.len()).collect();
        // Stable: at the same time the form comes before what runs under it.
        order.sort_by_key(|i| self.strokes[*i].0);
        self.strokes = order.iter().map(|i| self.strokes[*i]).collect();
        self.places = order.iter().map(|i| self.places[*i]).collect();
        Ok(self)
    }

    /// Appends the strokes of one part, played at `rate` times its speed; of an
    /// ostinato those before the end of the line.
    fn add(
        &mut self,
        part: Part,
        start: Beats,
        rate: Beats,
        grid: &Grid,
        slots: &[Slot],
    ) -> Result<(), BeatsError> {
        let end = matches!(part, Part::Ostinato(_)).then_some(self.length);
        let number = self.parts.len();
        self.parts.push(part);
        for (slot, (at, strokes)) in grid.slot_bounds()?.into_iter().zip(slots).enumerate() {
            let at = start.checked_add(at.checked_div(rate)?)?;
            if end.is_some_and(|end| at >= end) {
                break;
            }
            for stroke in strokes {
                self.strokes.push((at, *stroke));
                self.places.push(Place { part: number, slot });
            }
        }
        Ok(())
    }

    /// Where the strokes from `first` to `last` are written, as a player says
    /// it: "cell B, slot 3", "cell B, slots 3–5", "from cell A, slot 6 to
    /// cell B, slot 2". Slots are counted from 1. Empty where either is not a
    /// stroke of the line.
    pub fn stretch(&self, first: usize, last: usize) -> String {
        let (Some(a), Some(b)) = (self.places.get(first), self.places.get(last)) else {
            return String::new();
        };
        let (Some(part_a), Some(part_b)) = (self.parts.get(a.part), self.parts.get(b.part)) else {
            return String::new();
        };
        let (from, to) = (a.slot + 1, b.slot + 1);
        match a.part == b.part {
            true if from == to => format!("{part_a}, slot {from}"),
            true if from < to => format!("{part_a}, slots {from}–{to}"),
            true => format!("{part_a}, slot {from} round to slot {to}"),
            false => format!("from {part_a}, slot {from} to {part_b}, slot {to}"),
        }
    }
}
