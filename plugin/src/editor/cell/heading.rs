//! The line above the cell: its letter, what it is, and the one that follows.

use barform_app::music::Cell;
use barform_app::timeline::Place;
use barform_app::words;
use egui::{Align2, CornerRadius, FontId, Painter, Rect, pos2, vec2};

use super::super::palette::text_on;
use super::super::shown::Shown;
use super::Input;

/// The letter, what it is, and the one that follows.
#[expect(clippy::too_many_arguments)]
pub(super) fn heading(
    painter: &Painter,
    rect: Rect,
    height: f32,
    shown: &Shown,
    place: &Place,
    cell: &Cell,
    next_at: Option<f32>,
    input: &Input,
) {
    let (timeline, palette) = (&shown.checked.timeline, input.palette);
    let side = height - 12.0;
    let corner = rect.min + vec2(14.0, 10.0);
    let right = badge(painter, corner, side, shown, place.letter);
    let text = right + 14.0;
    let section = &timeline.sections[place.section as usize].name;
    let mut first_line = if input.by_key {
        "Played from a key".to_owned()
    } else {
        section.clone()
    };
    if first_line.is_empty() {
        first_line = format!(
            "Cell {}",
            words::letter(&timeline.letters[place.letter as usize])
        );
    }
    let second_line = format!("{}   grid {}", words::beats(place.length), grid_text(cell));
    let line = (side * 0.33).clamp(13.0, 20.0);
    let top = corner.y + side / 2.0 - line * 1.25;
    painter.text(
        pos2(text, top),
        Align2::LEFT_TOP,
        first_line,
        FontId::proportional(line),
        palette.ink,
    );
    painter.text(
        pos2(text, top + line * 1.3),
        Align2::LEFT_TOP,
        second_line,
        FontId::proportional(line * 0.85),
        palette.dim,
    );
    if let Some(next) = input.next.and_then(|next| timeline.places.get(next)) {
        let small = side * 0.68;
        let width = badge_width(
            small,
            &words::letter(&timeline.letters[next.letter as usize]),
        );
        let left = next_at.map_or(rect.right() - 14.0 - width, |left| left.max(text + 300.0));
        let corner = pos2(left, corner.y + (side - small) / 2.0);
        badge(painter, corner, small, shown, next.letter);
        painter.text(
            pos2(corner.x - 10.0, corner.y + small / 2.0),
            Align2::RIGHT_CENTER,
            "next",
            FontId::proportional(line * 0.85),
            palette.dim,
        );
    }
}

/// The grid, with the name of its subdivision where it has one.
fn grid_text(cell: &Cell) -> String {
    let spans = cell.grid.spans();
    let same = spans.windows(2).all(|pair| pair[0] == pair[1]);
    let name = barform_app::music::Grid::new(vec![spans[0]])
        .map(barform_app::music::Subdivision)
        .and_then(|subdivision| subdivision.name());
    let mut grid = cell.grid.to_string();
    if grid.chars().count() > 40 {
        grid = grid.chars().take(39).chain(['…']).collect();
    }
    match name {
        Some(name) if same => format!("{grid}  ({name})"),
        _ => grid,
    }
}

fn badge_width(side: f32, letter: &str) -> f32 {
    side * (0.65 + 0.35 * letter.chars().count() as f32)
}

/// A letter on its colour; returns the right edge.
fn badge(painter: &Painter, corner: egui::Pos2, side: f32, shown: &Shown, letter: u32) -> f32 {
    let colour = shown.colours[letter as usize];
    let text = words::letter(&shown.checked.timeline.letters[letter as usize]);
    let rect = Rect::from_min_size(corner, vec2(badge_width(side, &text), side));
    painter.rect_filled(rect, CornerRadius::same(4), colour);
    let font = FontId::proportional(side * 0.72);
    painter.text(
        rect.center(),
        Align2::CENTER_CENTER,
        text,
        font,
        text_on(colour),
    );
    rect.right()
}
