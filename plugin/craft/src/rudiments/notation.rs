//! The two small lines a rudiment is written in: a grid, and hands on it.

use barform_score::music::{Beats, Graces, Grid, Hand, Level, Limb, Span, Stroke};

/// Reads a grid such as `6 1` or `3@1/2`.
pub(super) fn grid(text: &str) -> Option<Grid> {
    let span = |word: &str| {
        let (slots, length) = word.split_once('@').unwrap_or((word, "1"));
        Span::new(slots.parse().ok()?, length.parse::<Beats>().ok()?)
    };
    Grid::new(text.split_whitespace().map(span).collect::<Option<_>>()?)
}

/// Reads one hand with its grace notes, accent and buzz: `R`, `llR`, `lR>`,
/// `Lz`.
pub(super) fn stroke(word: &str) -> Option<Stroke> {
    let main = word.find(['R', 'L'])?;
    let (before, after) = word.split_at(main);
    let mut marks = after.chars();
    let mut stroke = Stroke::plain(Limb::from_letter(marks.next()?)?);
    let grace = |c: char| match c {
        'r' => Some(Hand::Right),
        'l' => Some(Hand::Left),
        _ => None,
    };
    let hands: Vec<Hand> = before.chars().map(grace).collect::<Option<_>>()?;
    stroke.graces = Graces::from_hands(&hands)?;
    for mark in marks {
        match mark {
            '>' => stroke.level = Level::Accent,
            'z' => stroke.buzz = true,
            _ => return None,
        }
    }
    Some(stroke)
}
