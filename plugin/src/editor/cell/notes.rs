//! Notes of a cell on the staff: heads, stems, beams, accents, ornaments.
//! Hands have their stems up, feet down.

use barform_core::music::{Articulation, Cell, Level, Stroke as DrumStroke};
use egui::{Align2, FontId, Painter, Pos2, Stroke, pos2, vec2};

use super::slot_x;
use crate::editor::palette::Palette;
use crate::editor::staff::{Staff, head, step};

/// Step of the lower beam.
const BEAM_DOWN: i32 = -5;

/// Lowest step of the upper beam.
const LEAST_BEAM_UP: i32 = 12;

/// Steps from the highest head to the beam: room for a full stem.
const STEM: i32 = 5;

/// Steps over the upper beam for accents and tuplet numbers.
const OVER_BEAM: i32 = 4;

/// Step of the beam over the hands of a cell.
pub fn beam_up(cell: &Cell) -> i32 {
    let hands = cell.slots.iter().flatten().filter(|s| !s.limb.is_foot());
    let highest = hands.map(|s| step(s.voice)).max().unwrap_or(0);
    LEAST_BEAM_UP.max(highest + STEM)
}

/// Highest step that anything of a cell reaches.
pub fn top(cell: &Cell) -> i32 {
    beam_up(cell) + OVER_BEAM
}

/// Draws the shown slots: `edges` are theirs, the first is slot `first`.
pub fn draw(
    painter: &Painter,
    staff: &Staff,
    edges: &[f32],
    first: usize,
    cell: &Cell,
    clef: bool,
    palette: &Palette,
) {
    let Some((left, right)) = edges.first().zip(edges.last()) else {
        return;
    };
    if clef {
        staff.lines(painter, left - 36.0, right + 6.0, palette.line);
        staff.clef(painter, left - 28.0, palette.ink);
    } else {
        staff.lines(painter, left - 10.0, right + 6.0, palette.line);
    }
    let pen = Pen {
        painter,
        staff,
        palette,
        beam_up: beam_up(cell),
    };
    let shown = first..first + edges.len() - 1;
    let mut slot = 0;
    for span in cell.grid.spans() {
        let slots = slot..slot + usize::from(span.slots);
        slot = slots.end;
        let visible: Vec<usize> = slots.filter(|s| shown.contains(s)).collect();
        let x = |s: usize| slot_x(edges[s - first], edges[s - first + 1]);
        let beams = beams(f64::from(span.slots) / span.length.to_f64());
        for feet in [false, true] {
            let of_limbs = |s: usize| {
                cell.slots[s]
                    .iter()
                    .filter(move |n| n.limb.is_foot() == feet)
            };
            let played = visible.iter().filter(|s| of_limbs(**s).next().is_some());
            let played: Vec<(usize, f32)> = played.map(|s| (*s, x(*s))).collect();
            let starts = played.iter().map(|(s, x)| {
                let steps = of_limbs(*s).map(|n| step(n.voice));
                let start = if feet { steps.max() } else { steps.min() };
                (*x, start.unwrap_or(0))
            });
            pen.stems(&starts.collect::<Vec<_>>(), beams, feet);
            for (s, x) in played {
                of_limbs(s).for_each(|stroke| pen.note(x, stroke));
            }
        }
        // A tuplet is any span whose slots are no power of two.
        if !span.slots.is_power_of_two()
            && let (Some(a), Some(b)) = (visible.first(), visible.last())
        {
            let middle = (x(*a) + x(*b)) / 2.0 + staff.space * 0.6;
            let at = pos2(middle, staff.y(pen.beam_up + 3));
            let font = FontId::proportional((staff.space * 0.95).max(10.0));
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

/// What every mark is drawn with.
struct Pen<'a> {
    painter: &'a Painter,
    staff: &'a Staff,
    palette: &'a Palette,
    beam_up: i32,
}

impl Pen<'_> {
    /// Stems from the heads, given as place and step, to a common beam, and the
    /// beams.
    fn stems(&self, heads: &[(f32, i32)], beams: usize, feet: bool) {
        let (staff, ink) = (self.staff, self.palette.ink);
        let side = staff.space * if feet { -0.56 } else { 0.56 };
        let end = staff.y(if feet { BEAM_DOWN } else { self.beam_up });
        let stem = Stroke::new((staff.space * 0.11).max(1.0), ink);
        let thick = (staff.space * 0.36).max(2.0);
        let gap = if feet { -thick * 1.6 } else { thick * 1.6 };
        let half = if feet { -thick / 2.0 } else { thick / 2.0 };
        for (x, step) in heads {
            let x = x + side;
            self.painter
                .line_segment([pos2(x, staff.y(*step)), pos2(x, end)], stem);
        }
        for n in 0..beams {
            let y = end + n as f32 * gap + half;
            match heads {
                [] => {}
                // A note alone has flags.
                [(x, _)] => {
                    let from = pos2(x + side, y);
                    let to = from + vec2(staff.space * 0.8, gap);
                    self.painter
                        .line_segment([from, to], Stroke::new(thick * 0.7, ink));
                }
                [(first, _), .., (last, _)] => {
                    let points = [pos2(first + side, y), pos2(last + side, y)];
                    self.painter.line_segment(points, Stroke::new(thick, ink));
                }
            }
        }
    }

    fn note(&self, x: f32, stroke: &DrumStroke) {
        let (staff, ink) = (self.staff, self.palette.ink);
        let at = step(stroke.voice);
        let middle = pos2(x, staff.y(at));
        let shape = head(stroke.voice, stroke.articulation);
        let feet = stroke.limb.is_foot();
        staff.ledgers(self.painter, x, at, self.palette.line);
        let size = if stroke.level == Level::Ghost {
            0.85
        } else {
            1.0
        };
        staff.head(self.painter, middle, shape, size, ink);
        let away = |steps: i32| {
            staff.y(if feet {
                BEAM_DOWN - steps
            } else {
                self.beam_up + steps
            })
        };
        match stroke.level {
            Level::Ghost => {
                self.text(pos2(x - staff.space * 0.95, middle.y), "(", 1.4);
                self.text(pos2(x + staff.space * 1.0, middle.y), ")", 1.4);
            }
            Level::Accent => self.accent(pos2(x + staff.space * 0.4, away(2))),
            Level::Normal => {}
        }
        if stroke.buzz {
            let y = middle.y + (away(0) - middle.y) * 0.4;
            self.text(pos2(x + staff.space * 0.56, y), "z", 1.2);
        }
        let mark = match stroke.articulation {
            Articulation::Open => "o",
            Articulation::Half => "ø",
            Articulation::Choke => "+",
            _ => "",
        };
        self.text(pos2(x - staff.space * 0.3, away(1)), mark, 1.1);
        self.graces(middle, stroke);
    }

    /// Small notes in front: one with a slash, more of them beamed.
    fn graces(&self, middle: Pos2, stroke: &DrumStroke) {
        let (staff, ink) = (self.staff, self.palette.ink);
        let shape = head(stroke.voice, stroke.articulation);
        let count = stroke.graces.len();
        let thin = Stroke::new(1.0, ink);
        for n in 0..count {
            let back = staff.space * (0.95 + 0.75 * (count - n) as f32);
            let small = middle - vec2(back, 0.0);
            staff.head(self.painter, small, shape, 0.6, ink);
            let side = staff.space * 0.33;
            let top = small + vec2(side, -staff.space * 1.7);
            self.painter
                .line_segment([small + vec2(side, 0.0), top], thin);
            if count == 1 {
                let low = top + vec2(-side, staff.space * 0.9);
                self.painter
                    .line_segment([low, top + vec2(side, staff.space * 0.2)], thin);
            } else if n + 1 < count {
                let beam = Stroke::new((staff.space * 0.2).max(1.5), ink);
                self.painter
                    .line_segment([top, top + vec2(staff.space * 0.75, 0.0)], beam);
            }
        }
    }

    /// A wedge open to the left.
    fn accent(&self, middle: Pos2) {
        let space = self.staff.space;
        let (w, h) = (space * 0.55, space * 0.3);
        let stroke = Stroke::new((space * 0.14).max(1.3), self.palette.ink);
        let tip = middle + vec2(w, 0.0);
        self.painter
            .line_segment([middle + vec2(-w, -h), tip], stroke);
        self.painter
            .line_segment([middle + vec2(-w, h), tip], stroke);
    }

    fn text(&self, middle: Pos2, text: &str, spaces: f32) {
        let font = FontId::proportional((self.staff.space * spaces).max(9.0));
        self.painter
            .text(middle, Align2::CENTER_CENTER, text, font, self.palette.ink);
    }
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
