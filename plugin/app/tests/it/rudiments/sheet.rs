//! The sheet of the 40, typed once more, and cells made from it.

use barform_app::music::*;

/// The sheet once more, as one reads it there: name, strokes until the first
/// hand leads again, times between strokes (repeated; the last one closes).
/// Percussive Arts Society, *International Drum Rudiments* (1984), from memory.
pub const SHEET: [(&str, &str, &[i64]); 40] = [
    ("single stroke roll", "R L R L R L R L", &[1]),
    ("single stroke four", "R L R L", &[1, 1, 1, 3]),
    (
        "single stroke seven",
        "R L R L R L R L R L R L R L",
        &[1, 1, 1, 1, 1, 1, 6],
    ),
    ("multiple bounce roll", "Rz Lz Rz Lz", &[1]),
    ("triple stroke roll", "R R R L L L", &[1]),
    ("double stroke open roll", "R R L L R R L L", &[1]),
    (
        "five stroke roll",
        "R R L L R> L L R R L>",
        &[1, 1, 1, 1, 4],
    ),
    ("six stroke roll", "R> L L R R L>", &[2, 1, 1, 1, 1, 2]),
    (
        "seven stroke roll",
        "R R L L R R L>",
        &[1, 1, 1, 1, 1, 1, 2],
    ),
    (
        "nine stroke roll",
        "R R L L R R L L R> L L R R L L R R L>",
        &[1, 1, 1, 1, 1, 1, 1, 1, 8],
    ),
    (
        "ten stroke roll",
        "R R L L R R L L R> L>",
        &[1, 1, 1, 1, 1, 1, 1, 1, 2, 6],
    ),
    (
        "eleven stroke roll",
        "R R L L R R L L R R L>",
        &[1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 6],
    ),
    (
        "thirteen stroke roll",
        "R R L L R R L L R R L L R> L L R R L L R R L L R R L>",
        &[1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 4],
    ),
    (
        "fifteen stroke roll",
        "R R L L R R L L R R L L R R L>",
        &[1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 2],
    ),
    (
        "seventeen stroke roll",
        "R R L L R R L L R R L L R R L L R> L L R R L L R R L L R R L L R R L>",
        &[1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 16],
    ),
    ("single paradiddle", "R> L R R L> R L L", &[1]),
    ("double paradiddle", "R> L R L R R L> R L R L L", &[1]),
    (
        "triple paradiddle",
        "R> L R L R L R R L> R L R L R L L",
        &[1],
    ),
    ("single paradiddle-diddle", "R> L R R L L", &[1]),
    ("flam", "lR rL", &[1]),
    ("flam accent", "lR> L R rL> R L", &[1]),
    ("flam tap", "lR> R rL> L", &[1]),
    ("flamacue", "lR L> R L lR rL R> L R rL", &[1, 1, 1, 1, 4]),
    ("flam paradiddle", "lR> L R R rL> R L L", &[1]),
    ("single flammed mill", "lR> R L R rL> L R L", &[1]),
    (
        "flam paradiddle-diddle",
        "lR> L R R L L rL> R L L R R",
        &[1],
    ),
    ("pataflafla", "lR> L R rL>", &[1]),
    ("swiss army triplet", "lR> R L", &[1]),
    ("inverted flam tap", "lR> L rL> R", &[1]),
    ("flam drag", "lR> L L R rL> R R L", &[2, 1, 1, 2]),
    ("drag", "llR rrL", &[1]),
    ("single drag tap", "llR L> rrL R>", &[1]),
    ("double drag tap", "llR llR L> rrL rrL R>", &[1]),
    ("lesson 25", "llR L R>", &[1, 1, 2]),
    (
        "single dragadiddle",
        "R> R L R R L> L R L L",
        &[1, 1, 2, 2, 2],
    ),
    (
        "drag paradiddle #1",
        "R> llR L R R L> rrL R L L",
        &[2, 1, 1, 1, 1],
    ),
    (
        "drag paradiddle #2",
        "R> llR llR L R R L> rrL rrL R L L",
        &[2, 2, 1, 1, 1, 1],
    ),
    ("single ratamacue", "llR L R L> rrL R L R>", &[1, 1, 1, 3]),
    (
        "double ratamacue",
        "llR llR L R L> rrL rrL R L R>",
        &[3, 1, 1, 1, 3],
    ),
    (
        "triple ratamacue",
        "llR llR llR L R L> rrL rrL rrL R L R>",
        &[3, 3, 1, 1, 1, 3],
    ),
];

pub fn stroke(word: &str) -> Stroke {
    let at = word.find(['R', 'L']).unwrap();
    let mut s = Stroke::plain(Limb::from_letter(word.as_bytes()[at] as char).unwrap());
    let hands: Vec<Hand> = word[..at]
        .chars()
        .map(|c| if c == 'r' { Hand::Right } else { Hand::Left })
        .collect();
    s.graces = Graces::from_hands(&hands).unwrap();
    s.buzz = word.ends_with('z');
    if word.ends_with('>') {
        s.level = Level::Accent;
    }
    s
}

pub fn turned(mut s: Stroke) -> Stroke {
    s.limb = s.limb.hand().unwrap().other().into();
    let hands: Vec<Hand> = s.graces.iter().map(Hand::other).collect();
    s.graces = Graces::from_hands(&hands).unwrap();
    s
}

/// Strokes of the sheet with the time after each.
pub fn sheet(name: &str, lead: Hand) -> Vec<(Stroke, i64)> {
    let (_, strokes, gaps) = SHEET.into_iter().find(|(n, ..)| *n == name).unwrap();
    strokes
        .split(' ')
        .map(stroke)
        .map(|s| if lead == Hand::Left { turned(s) } else { s })
        .zip(gaps.iter().copied().cycle())
        .collect()
}

/// One cell with a slot for each stroke, `unit` beats to a time of 1.
pub fn cell(strokes: &[(Stroke, i64)], unit: Beats) -> Cell {
    let span = |gap: i64| Span::new(1, unit.checked_mul(Beats::whole(gap)).unwrap()).unwrap();
    Cell {
        letter: Letter::new("A").unwrap(),
        grid: Grid::new(strokes.iter().map(|(_, gap)| span(*gap)).collect()).unwrap(),
        slots: strokes.iter().map(|(s, _)| vec![*s]).collect(),
    }
}
