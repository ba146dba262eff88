//! Plain sentences.

use super::bounds::{Bound, MAX_BPM, Measure, Top};
use super::levels::Ability;
use crate::line::Line;

/// `n / d` in as few decimals, one at least unless it is whole, as show on
/// which side of `most` (thousandths) it is.
fn decimal(n: i128, d: i128, most: i128) -> String {
    let above = n * 1000 > most * d;
    for (scale, digits) in [(10, 1), (100, 2), (1000, 3)] {
        // Nearest, halves up.
        let shown = (2 * n * scale + d) / (2 * d);
        if (shown * 1000 > most * scale) == above {
            return write(shown, scale, digits);
        }
    }
    // Nearer than a thousandth: the next one on its own side.
    let down = n * 1000 / d;
    write(if above { down + 1 } else { down }, 1000, 3)
}

/// `shown / scale` without noughts at the end.
fn write(shown: i128, scale: i128, digits: usize) -> String {
    let text = format!("{}.{:0digits$}", shown / scale, shown % scale);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

impl Bound {
    /// Why a tempo is too fast (or is not): "At 132 bpm the left hand would
    /// play 9.2 strokes a second in cell B, slots 3–5; intermediate allows 8."
    pub fn sentence(&self, bpm: u32, level: &Ability, line: &Line) -> String {
        let hand = self.limb.said();
        let place = line.stretch(self.first, self.last);
        let inside = if place.starts_with("from") { "" } else { "in " };
        let level = &level.name;
        let (s, d) = (i128::from(self.span.numer()), i128::from(self.span.denom()));
        let t = i128::from(bpm);
        match self.measure {
            Measure::Rate { strokes, most } => {
                let rate = decimal((strokes as i128 - 1) * t * d, 60 * s, most.0.into());
                format!(
                    "At {bpm} bpm the {hand} would play {rate} strokes a second {inside}{place}; \
                     {level} allows {most}."
                )
            }
            Measure::Closest { least_ms } => {
                let ms = decimal(60_000 * s, t.max(1) * d, i128::from(least_ms) * 1000);
                format!(
                    "At {bpm} bpm the {hand} would have {ms} ms between two strokes \
                     {inside}{place}; it needs {least_ms}."
                )
            }
            Measure::Travel { cm, most } => {
                let speed = decimal(i128::from(cm) * t * d, 60 * s, i128::from(most) * 1000);
                format!(
                    "At {bpm} bpm the {hand} would travel {cm} cm at {speed} cm a second \
                     {inside}{place}; {level} allows {most}."
                )
            }
        }
    }
}

impl Top {
    /// Why the top tempo is what it is: what one beat per minute more would
    /// ask for, or what no tempo helps.
    pub fn sentence(&self, level: &Ability, line: &Line) -> String {
        match (self.collision, self.limit) {
            (Some(collision), _) => collision.sentence(line),
            (None, Some(limit)) => limit.sentence(self.bpm.unwrap_or(0) + 1, level, line),
            (None, None) => {
                format!(
                    "Nothing is above what {} allows, up to {MAX_BPM} bpm.",
                    level.name
                )
            }
        }
    }
}
