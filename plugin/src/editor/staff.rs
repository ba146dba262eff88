//! The drum-set staff: where a voice stands on five lines, and its head.
//!
//! After Weinberg, "Guidelines for Drumset Notation" (Percussive Notes, June
//! 1994), positions as if in treble clef. The guidelines give the voices of a
//! usual kit; toms between and beyond those, and effect cymbals, are placed in
//! order of pitch (common practice).

use barform_core::music::{Articulation, Voice};
use egui::{Color32, Painter, Pos2, Shape, Stroke, pos2, vec2};

/// Shape of a note head.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Head {
    /// Filled oval: drums.
    Oval,
    /// x: cymbals, hi-hat, cross-stick.
    Cross,
    /// x in a circle: rimshot.
    CircledCross,
    /// Diamond: bell of a cymbal.
    Diamond,
    /// Triangle: cowbell.
    Triangle,
}

/// Steps above the lowest line (E4); a line or a space is one step.
pub fn step(voice: Voice) -> i32 {
    match voice {
        Voice::HatFoot => -1,
        Voice::Kick => 1,
        Voice::Tom6 => 0,
        Voice::Tom5 => 2,
        Voice::Tom4 => 3,
        Voice::Tom3 => 4,
        Voice::Snare => 5,
        Voice::Tom2 => 6,
        Voice::Tom1 | Voice::Cowbell => 7,
        Voice::Ride => 8,
        Voice::Hat | Voice::Click => 9,
        Voice::Crash => 10,
        Voice::Crash2 => 11,
        Voice::Splash => 12,
        Voice::China => 13,
    }
}

/// Head of a voice struck in a way.
pub fn head(voice: Voice, articulation: Articulation) -> Head {
    match (voice, articulation) {
        (_, Articulation::Rim) => Head::CircledCross,
        (_, Articulation::Cross) => Head::Cross,
        (_, Articulation::Bell) => Head::Diamond,
        (Voice::Cowbell, _) => Head::Triangle,
        (
            Voice::Hat
            | Voice::HatFoot
            | Voice::Ride
            | Voice::Crash
            | Voice::Crash2
            | Voice::Splash
            | Voice::China
            | Voice::Click,
            _,
        ) => Head::Cross,
        _ => Head::Oval,
    }
}

/// Five lines at a height on the screen.
#[derive(Debug, Clone, Copy)]
pub struct Staff {
    /// Lowest line, in points.
    pub bottom: f32,
    /// Distance of two lines, in points.
    pub space: f32,
}

impl Staff {
    /// Height of a step on the screen.
    pub fn y(&self, step: i32) -> f32 {
        self.bottom - step as f32 * self.space / 2.0
    }

    /// The five lines.
    pub fn lines(&self, painter: &Painter, left: f32, right: f32, colour: Color32) {
        for line in 0..5 {
            painter.hline(left..=right, self.y(line * 2), Stroke::new(1.0, colour));
        }
    }

    /// Two upright bars, the clef of unpitched percussion.
    pub fn clef(&self, painter: &Painter, left: f32, colour: Color32) {
        let width = self.space * 0.34;
        for n in 0..2 {
            let x = left + n as f32 * width * 1.9;
            let bar = egui::Rect::from_x_y_ranges(x..=x + width, self.y(6)..=self.y(2));
            painter.rect_filled(bar, 0.0, colour);
        }
    }

    /// Ledger lines for a step above or below the staff.
    pub fn ledgers(&self, painter: &Painter, x: f32, step: i32, colour: Color32) {
        let half = self.space * 0.95;
        for line in (10..=step.max(9)).step_by(2) {
            painter.hline(x - half..=x + half, self.y(line), Stroke::new(1.0, colour));
        }
    }

    /// A note head around its middle; `size` is 1 for a full note.
    pub fn head(&self, painter: &Painter, middle: Pos2, head: Head, size: f32, colour: Color32) {
        let r = self.space * 0.5 * size;
        let stroke = Stroke::new((self.space * 0.16 * size).max(1.2), colour);
        match head {
            Head::Oval => {
                painter.add(oval(middle, r * 1.22, r * 0.88, colour));
            }
            Head::Cross => cross(painter, middle, r * 0.92, stroke),
            Head::CircledCross => {
                painter.circle_stroke(middle, r * 1.15, Stroke::new(1.2, colour));
                cross(painter, middle, r * 0.72, stroke);
            }
            Head::Diamond => {
                let points = [(-1.2, 0.0), (0.0, -1.05), (1.2, 0.0), (0.0, 1.05)];
                painter.add(polygon(middle, r, &points, colour));
            }
            Head::Triangle => {
                let points = [(-1.15, 0.95), (0.0, -1.0), (1.15, 0.95)];
                painter.add(polygon(middle, r, &points, colour));
            }
        }
    }
}

fn cross(painter: &Painter, middle: Pos2, r: f32, stroke: Stroke) {
    painter.line_segment([middle - vec2(r, r), middle + vec2(r, r)], stroke);
    painter.line_segment([middle + vec2(-r, r), middle + vec2(r, -r)], stroke);
}

fn polygon(middle: Pos2, r: f32, points: &[(f32, f32)], colour: Color32) -> Shape {
    let points = points
        .iter()
        .map(|(x, y)| middle + vec2(x * r, y * r))
        .collect();
    Shape::convex_polygon(points, colour, Stroke::NONE)
}

/// An oval leaning to the right, as note heads do.
fn oval(middle: Pos2, a: f32, b: f32, colour: Color32) -> Shape {
    const POINTS: usize = 20;
    const LEAN: f32 = -0.35;
    let (sin, cos) = LEAN.sin_cos();
    let points = (0..POINTS).map(|n| {
        let angle = n as f32 / POINTS as f32 * std::f32::consts::TAU;
        let (x, y) = (a * angle.cos(), b * angle.sin());
        pos2(middle.x + x * cos - y * sin, middle.y + x * sin + y * cos)
    });
    Shape::convex_polygon(points.collect(), colour, Stroke::NONE)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn positions_follow_the_guidelines() {
        // Weinberg, "Guidelines for Drumset Notation", Percussive Notes 1994:
        // pitches as in treble clef. E4 is the lowest line, step 0.
        let pitch = |name: &str| {
            let letters = "CDEFGAB";
            let (letter, octave) = name.split_at(1);
            let octave: i32 = octave.parse().unwrap();
            letters.find(letter).unwrap() as i32 + 7 * octave - (2 + 7 * 4)
        };
        for (voice, name, cross) in [
            (Voice::HatFoot, "D4", true),
            (Voice::Kick, "F4", false),
            (Voice::Tom4, "A4", false),
            (Voice::Snare, "C5", false),
            (Voice::Tom2, "D5", false),
            (Voice::Tom1, "E5", false),
            (Voice::Ride, "F5", true),
            (Voice::Hat, "G5", true),
            (Voice::Crash, "A5", true),
        ] {
            assert_eq!(step(voice), pitch(name), "{voice:?}");
            let expected = if cross { Head::Cross } else { Head::Oval };
            assert_eq!(head(voice, Articulation::Plain), expected, "{voice:?}");
        }
    }

    #[test]
    fn toms_descend() {
        let toms = [
            Voice::Tom1,
            Voice::Tom2,
            Voice::Tom3,
            Voice::Tom4,
            Voice::Tom5,
            Voice::Tom6,
        ];
        assert!(toms.windows(2).all(|pair| step(pair[0]) > step(pair[1])));
    }
}
