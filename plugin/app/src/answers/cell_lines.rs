//! A cell in a few lines of text: for a narrow panel, and for who cannot see its
//! staff.

use std::ops::Range;

use crate::music::{Cell, Stroke};
use crate::words::{sticking, voices};

/// Characters in a line: what 260 points hold.
const WIDTH: usize = 35;

/// Sticking and voices, column under column, in pieces as wide as the panel and
/// cut between beats where that can be. The voices are left out where each limb
/// plays its plain one, or where they are not wanted.
pub fn cell_lines(cell: &Cell, with_voices: bool) -> Vec<String> {
    let plain = |s: &Stroke| {
        let plain = Stroke::plain(s.limb);
        (s.voice, s.articulation) == (plain.voice, plain.articulation)
    };
    let with_voices = with_voices && !cell.slots.iter().flatten().all(plain);
    let columns = Columns {
        sticks: cell.slots.iter().map(sticking).collect(),
        voices: cell.slots.iter().map(voices).collect(),
        with_voices,
    };
    let mut pieces = Vec::new();
    let mut at = 0;
    for span in cell.grid.spans() {
        let end = (at + usize::from(span.slots)).min(cell.slots.len());
        columns.cut(at..end, &mut pieces);
        at = end;
    }
    let mut rows: Vec<Vec<Range<usize>>> = Vec::new();
    for piece in pieces {
        match rows.last_mut() {
            Some(row)
                if columns.width(row) + 2 + columns.width(std::slice::from_ref(&piece))
                    <= WIDTH =>
            {
                row.push(piece);
            }
            _ => rows.push(vec![piece]),
        }
    }
    rows.iter().flat_map(|row| columns.written(row)).collect()
}

/// What stands on each slot.
struct Columns {
    sticks: Vec<String>,
    voices: Vec<String>,
    with_voices: bool,
}

impl Columns {
    /// The voices of a slot; `.` where they are those of the slot before, but
    /// not at the start of a line.
    fn voice(&self, slot: usize, first: bool) -> &str {
        let here = self.voices[slot].as_str();
        let same = slot > 0 && self.voices[slot - 1] == here && here != "-";
        match self.with_voices {
            false => "",
            true if same && !first => ".",
            true => here,
        }
    }

    fn column(&self, slot: usize, first: bool) -> usize {
        let voice = self.voice(slot, first).chars().count();
        self.sticks[slot].chars().count().max(voice)
    }

    /// Characters of a line of pieces.
    fn width(&self, row: &[Range<usize>]) -> usize {
        let start = row.first().map_or(0, |piece| piece.start);
        let slots = row.iter().cloned().flatten();
        let columns: usize = slots.map(|slot| self.column(slot, slot == start) + 1).sum();
        (columns + row.len()).saturating_sub(2)
    }

    /// Halves until each piece fits.
    fn cut(&self, piece: Range<usize>, into: &mut Vec<Range<usize>>) {
        let count = piece.len();
        if count > 1 && self.width(std::slice::from_ref(&piece)) > WIDTH {
            let middle = piece.start + count.div_ceil(2);
            self.cut(piece.start..middle, into);
            self.cut(middle..piece.end, into);
        } else if count > 0 {
            into.push(piece);
        }
    }

    fn written(&self, row: &[Range<usize>]) -> Vec<String> {
        let start = row.first().map_or(0, |piece| piece.start);
        let (mut above, mut below) = (String::new(), String::new());
        for piece in row {
            if piece.start != start {
                above.push(' ');
                below.push(' ');
            }
            for slot in piece.clone() {
                let first = slot == start;
                let width = self.column(slot, first);
                above += &format!("{:<width$} ", self.sticks[slot]);
                below += &format!("{:<width$} ", self.voice(slot, first));
            }
        }
        let mut lines = vec![above.trim_end().to_owned()];
        if self.with_voices {
            lines.push(below.trim_end().to_owned());
        }
        lines
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::music::Letter;
    use crate::score::Score;

    fn cell(grid: &str, sticking: &str, voices: &str) -> Cell {
        let text = format!(
            "barform = 1\ntempo = 90\nmeter = \"4/4\"\nform = \"A\"\n[cell.A]\ngrid = \"{grid}\"\n\
             sticking = \"{sticking}\"\n{voices}"
        );
        let score = Score::parse(&text, "test").unwrap();
        score.cell(&Letter::new("A").unwrap()).unwrap()
    }

    #[test]
    fn a_cell_is_cut_between_its_beats_and_names_its_voice_anew() {
        let voices = "voices = \"snare . . . tom1 . tom2 . tom3 .\"\n";
        let cell = cell("4 6", "R> L (R) (L) R> L R L R L", voices);
        assert_eq!(
            cell_lines(&cell, true),
            [
                "R>    L (R) (L)",
                "snare . .   .",
                "R>   L R    L R    L",
                "tom1 . tom2 . tom3 ."
            ]
        );
    }

    #[test]
    fn plain_voices_are_not_named_and_long_beats_are_halved() {
        let cell = cell("64", &"R L ".repeat(32), "");
        let lines = cell_lines(&cell, true);
        assert!(lines.iter().all(|line| line.len() <= WIDTH), "{lines:?}");
        let all: Vec<&str> = lines.iter().flat_map(|l| l.split_whitespace()).collect();
        assert_eq!(all.join(" "), "R L ".repeat(32).trim());
    }
}
