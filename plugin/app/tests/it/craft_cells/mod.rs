//! Cells for the tests, written as on a part: one word per slot.

use barform_app::music::*;

/// A grid such as `6 6`, `3@2`, `1@1/2 3@1/2`.
pub fn grid(text: &str) -> Grid {
    let span = |word: &str| {
        let (slots, length) = word.split_once('@').unwrap_or((word, "1"));
        Span::new(slots.parse().unwrap(), length.parse().unwrap()).unwrap()
    };
    Grid::new(text.split_whitespace().map(span).collect()).unwrap()
}

/// A cell; each word of `strokes` is a slot: `R`, `K`, `-`, `R>`, `(L)`, `R+K`,
/// with a voice after a colon where it is not the plain one: `R:tom1`.
pub fn cell(on: &str, strokes: &str) -> Cell {
    let stroke = |text: &str| {
        let (stick, voice) = text.split_once(':').unwrap_or((text, ""));
        let limb = stick.trim_matches(['(', ')', '>']).chars().next().unwrap();
        let mut stroke = Stroke::plain(Limb::from_letter(limb).unwrap());
        if !voice.is_empty() {
            stroke.voice = Voice::from_name(voice).unwrap();
        }
        if stick.ends_with('>') {
            stroke.level = Level::Accent;
        } else if stick.starts_with('(') {
            stroke.level = Level::Ghost;
        }
        stroke
    };
    let slot = |word: &str| match word {
        "-" => vec![],
        word => word.split('+').map(stroke).collect(),
    };
    let slots: Vec<Slot> = strokes.split_whitespace().map(slot).collect();
    let grid = grid(on);
    assert_eq!(grid.slot_count(), slots.len(), "{strokes}");
    Cell {
        letter: Letter::new("A").unwrap(),
        grid,
        slots,
    }
}

/// The strokes of a cell in the same writing.
pub fn strokes(cell: &Cell) -> String {
    let stroke = |s: &Stroke| {
        let letter = s.limb.letter();
        let voice = match s.voice == Stroke::plain(s.limb).voice {
            true => String::new(),
            false => format!(":{}", s.voice.name()),
        };
        match s.level {
            Level::Ghost => format!("({letter}){voice}"),
            Level::Normal => format!("{letter}{voice}"),
            Level::Accent => format!("{letter}>{voice}"),
        }
    };
    let slot = |slot: &Slot| match slot.is_empty() {
        true => "-".to_owned(),
        false => slot.iter().map(stroke).collect::<Vec<_>>().join("+"),
    };
    cell.slots.iter().map(slot).collect::<Vec<_>>().join(" ")
}
