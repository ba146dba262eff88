//! Notes of a cell on the staff: heads, stems, beams, accents, ornaments.
//! Hands have their stems up, feet down.

use barform_core::music::{Articulation, Cell, Level, Stroke as DrumStroke};
use egui::{Align2, FontId, Painter, Stroke, pos2, vec2};

use super::slot_x;
use crate::editor::palette::Palette;
use crate::editor::staff::{Staff, head, step};

/// Steps of the beam over the staff, and under it.
const BEAM_UP: i32 = 13;
const BEAM_DOWN: i32 = -5;

/// Draws the shown slots: `edges` are theirs, the first is slot `first`.
pub fn draw(
    painter: &Painter,
    staff: &Staff,
    edges: &[f32],
    first: usize,
    cell: &Cell,
    palette: &Palette,
) {
    let Some((left, right)) = edges.first().zip(edges.last()) else {
        return;
    };
    staff.lines(painter, left - 36.0, right + 6.0, palette.line);
    staff.clef(painter, left - 28.0, palette.ink);
    let shown = first..first + edges.len() - 1;
    let mut slot = 0;
    for span in cell.grid.spans() {
        let slots = slot..slot + usize::from(span.slots);
        slot = slots.end;
        let visible: Vec<usize> = slots.filter(|s| shown.contains(s)).collect();
        let x = |s: usize| slot_x(edges[s - first], edges[s - first + 1]);
        let beams = beams(f64::from(span.slots) / span.length.to_f64());
        for feet in [false, true] {
            let played: Vec<usize> = visible
                .iter()
                .copied()
                .filter(|s| cell.slots[*s].iter().any(|n| n.limb.is_foot() == feet))
                .collect();
            let xs: Vec<f32> = played.iter().map(|s| x(*s)).collect();
            stems(painter, staff, &xs, beams, feet, palette);
            for (s, x) in played.iter().zip(&xs) {
                let strokes = cell.slots[*s].iter().filter(|n| n.limb.is_foot() == feet);
                for stroke in strokes {
                    note(painter, staff, *x, stroke, palette);
                }
            }
        }
        // A tuplet is any span whose slots are no power of two.
        if !span.slots.is_power_of_two()
            && let (Some(a), Some(b)) = (visible.first(), visible.last())
        {
            let at = pos2(
                (x(*a) + x(*b)) / 2.0 + staff.space * 0.6,
                staff.y(BEAM_UP + 3),
            );
            let font = FontId::proportional((staff.space * 0.95).max(9.0));
            painter.text(
                at,
                Align2::CENTER_CENTER,
                span.slots.to_string(),
                font,
                palette.ink,
            );
        }
    }
}

/// Beams of a note value: none for quarters, one for eighths and their
/// triplets, two for sixteenths up to seven in a beat, and so on.
fn beams(slots_per_beat: f64) -> usize {
    match slots_per_beat {
        n if n < 2.0 => 0,
        n if n < 4.0 => 1,
        n if n < 8.0 => 2,
        n if n < 16.0 => 3,
        _ => 4,
    }
}

/// Stems from the heads to a common beam, and the beams.
fn stems(
    painter: &Painter,
    staff: &Staff,
    xs: &[f32],
    beams: usize,
    feet: bool,
    palette: &Palette,
) {
    let side = staff.space * if feet { -0.56 } else { 0.56 };
    let end = staff.y(if feet { BEAM_DOWN } else { BEAM_UP });
    let stroke = Stroke::new((staff.space * 0.11).max(1.0), palette.ink);
    let thick = (staff.space * 0.36).max(2.0);
    let gap = if feet { -thick * 1.6 } else { thick * 1.6 };
    for x in xs {
        // The heads cover the stem's lower end.
        let start = staff.y(if feet { 1 } else { 5 });
        painter.line_segment([pos2(x + side, start), pos2(x + side, end)], stroke);
    }
    for n in 0..beams {
        let y = end + n as f32 * gap;
        let half = if feet { -thick / 2.0 } else { thick / 2.0 };
        let beam = Stroke::new(thick, palette.ink);
        match xs {
            [] => {}
            // A note alone has flags.
            [x] => {
                let to = pos2(x + side + staff.space * 0.8, y + half + gap);
                painter.line_segment(
                    [pos2(x + side, y + half), to],
                    Stroke::new(thick * 0.7, palette.ink),
                );
            }
            [first, .., last] => {
                let points = [pos2(first + side, y + half), pos2(last + side, y + half)];
                painter.line_segment(points, beam);
            }
        }
    }
}

fn note(painter: &Painter, staff: &Staff, x: f32, stroke: &DrumStroke, palette: &Palette) {
    let at = step(stroke.voice);
    let middle = pos2(x, staff.y(at));
    let shape = head(stroke.voice, stroke.articulation);
    let feet = stroke.limb.is_foot();
    // The stem above starts at the snare's line; lower heads need the rest.
    if !feet && at < 5 {
        let side = staff.space * 0.56;
        let stem = Stroke::new((staff.space * 0.11).max(1.0), palette.ink);
        painter.line_segment([pos2(x + side, middle.y), pos2(x + side, staff.y(5))], stem);
    }
    staff.ledgers(painter, x, at, palette.line);
    let size = if stroke.level == Level::Ghost {
        0.85
    } else {
        1.0
    };
    staff.head(painter, middle, shape, size, palette.ink);
    let text = |dx: f32, y: f32, string: &str, size: f32| {
        let font = FontId::proportional((staff.space * size).max(9.0));
        painter.text(
            pos2(x + dx, y),
            Align2::CENTER_CENTER,
            string,
            font,
            palette.ink,
        );
    };
    let away = |steps: i32| {
        staff.y(if feet {
            BEAM_DOWN - steps
        } else {
            BEAM_UP + steps
        })
    };
    match stroke.level {
        Level::Ghost => {
            text(-staff.space * 0.85, middle.y, "(", 1.35);
            text(staff.space * 0.85, middle.y, ")", 1.35);
        }
        Level::Accent => accent(painter, pos2(x, away(2)), staff.space, palette),
        Level::Normal => {}
    }
    if stroke.buzz {
        text(staff.space * 0.56, (middle.y + away(0)) / 2.0, "z", 1.1);
    }
    let mark = match stroke.articulation {
        Articulation::Open => "o",
        Articulation::Half => "ø",
        Articulation::Choke => "+",
        _ => "",
    };
    text(-staff.space * 0.3, away(1), mark, 1.0);
    let graces = stroke.graces.len();
    for n in 0..graces {
        let dx = staff.space * (0.95 + 0.75 * (graces - n) as f32);
        let small = middle - vec2(dx, 0.0);
        staff.head(painter, small, shape, 0.6, palette.ink);
        let stem = Stroke::new(1.0, palette.ink);
        let side = staff.space * 0.33;
        let top = small + vec2(side, -staff.space * 1.7);
        painter.line_segment([small + vec2(side, 0.0), top], stem);
        if graces == 1 {
            let slash = [
                top + vec2(-side, staff.space * 0.9),
                top + vec2(side, staff.space * 0.2),
            ];
            painter.line_segment(slash, stem);
        } else if n + 1 < graces {
            let beam = Stroke::new((staff.space * 0.2).max(1.5), palette.ink);
            painter.line_segment([top, top + vec2(staff.space * 0.75, 0.0)], beam);
        }
    }
}

/// A wedge open to the left.
fn accent(painter: &Painter, middle: egui::Pos2, space: f32, palette: &Palette) {
    let (w, h) = (space * 0.55, space * 0.3);
    let stroke = Stroke::new((space * 0.14).max(1.3), palette.ink);
    let tip = middle + vec2(w, 0.0);
    painter.line_segment([middle + vec2(-w, -h), tip], stroke);
    painter.line_segment([middle + vec2(-w, h), tip], stroke);
}

#[cfg(test)]
mod tests {
    use super::beams;

    #[test]
    fn beams_follow_the_note_value() {
        // Common practice.
        for (slots, expected) in [(1.0, 0), (2.0, 1), (3.0, 1), (4.0, 2), (6.0, 2), (8.0, 3)] {
            assert_eq!(beams(slots), expected, "{slots} in a beat");
        }
        assert_eq!(beams(1.5), 0, "quarter-note triplets");
    }
}
