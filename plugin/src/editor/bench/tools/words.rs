//! A cell in two lines of text, as the command line prints it.

use std::ops::Range;

use barform_app::music::{Articulation, Beats, Cell, Limb, Slot, Stroke};
use barform_app::score::{StickToken, stick_slot_text};

/// Characters in a line: what 260 points hold.
const WIDTH: usize = 35;

/// Sticking and voices, column under column, in pieces as wide as the panel and
/// cut between beats where that can be. The voices are left out where each limb
/// plays its plain one.
pub fn lines(cell: &Cell) -> Vec<String> {
    let plain = |s: &Stroke| {
        let plain = Stroke::plain(s.limb);
        (s.voice, s.articulation) == (plain.voice, plain.articulation)
    };
    let with_voices = !cell.slots.iter().flatten().all(plain);
    written(cell, with_voices)
}

/// The same without the voices.
pub fn sticking_lines(cell: &Cell) -> Vec<String> {
    written(cell, false)
}

fn written(cell: &Cell, with_voices: bool) -> Vec<String> {
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

/// A slot as a sticking line writes it.
pub fn sticking(slot: &Slot) -> String {
    let token = |s: &Stroke| StickToken {
        limb: s.limb,
        level: s.level,
        graces: s.graces,
        buzz: s.buzz,
    };
    stick_slot_text(&slot.iter().map(token).collect())
}

fn voices(slot: &Slot) -> String {
    if slot.is_empty() {
        return "-".to_owned();
    }
    let name = |s: &Stroke| match s.articulation {
        Articulation::Plain => s.voice.name().to_owned(),
        how => format!("{}:{}", s.voice.name(), how.name()),
    };
    slot.iter().map(name).collect::<Vec<_>>().join("+")
}

/// `1 slot`, `3 slots`.
pub fn count(n: u64, one: &str) -> String {
    match n {
        1 => format!("1 {one}"),
        _ => format!("{n} {one}s"),
    }
}

/// `1 beat`, `3/2 beats`.
pub fn beats(length: Beats) -> String {
    let one = length <= Beats::ONE && length.is_positive();
    format!("{length} beat{}", if one { "" } else { "s" })
}

/// The slot and the number in it of each hand stroke, in the order of the cell.
pub fn hand_strokes(cell: &Cell) -> Vec<(usize, usize)> {
    let hand = |limb: Limb| !limb.is_foot();
    let mut all = Vec::new();
    for (slot, strokes) in cell.slots.iter().enumerate() {
        let hands = strokes.iter().enumerate().filter(|(_, s)| hand(s.limb));
        all.extend(hands.map(|(number, _)| (slot, number)));
    }
    all
}

/// A large number with its thousands apart.
pub fn grouped(digits: &str) -> String {
    let mut out = String::new();
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push(' ');
        }
        out.push(digit);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use barform_app::music::Letter;
    use barform_app::score::Score;

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
            lines(&cell),
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
        let lines = lines(&cell);
        assert!(lines.iter().all(|line| line.len() <= WIDTH), "{lines:?}");
        let all: Vec<&str> = lines.iter().flat_map(|l| l.split_whitespace()).collect();
        assert_eq!(all.join(" "), "R L ".repeat(32).trim());
    }

    #[test]
    fn thousands_stand_apart() {
        let pairs = [("7", "7"), ("1234", "1 234"), ("123456", "123 456")];
        for (digits, told) in pairs {
            assert_eq!(grouped(digits), told);
        }
    }
}
