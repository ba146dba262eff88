//! Which beat is the first of its bar: what drums do where in a bar.

use crate::strokes::Stroke;
use barform_score::music::{Articulation, Voice};

/// Places in a bar: its first beat, its third, the second and fourth, the half
/// of a beat, quarters, thirds, anything else.
pub const CLASSES: usize = 7;

/// Groups of drums: kick, snare, closed hi-hat and ride, crashes and open
/// hi-hat, hi-hat pedal, toms.
pub const GROUPS: usize = 6;

/// How many places of each class a bar of four beats has.
const PLACES: [f64; CLASSES] = [1.0, 1.0, 2.0, 4.0, 8.0, 8.0, 24.0];

/// Strokes per place, by group and class. Common practice, with the rates set
/// on human takes.
const RATES: [[f64; CLASSES]; GROUPS] = [
    [0.70, 0.42, 0.27, 0.13, 0.13, 0.035, 0.005],
    [0.16, 0.22, 0.54, 0.27, 0.21, 0.045, 0.02],
    [0.65, 0.61, 0.58, 0.42, 0.21, 0.065, 0.005],
    [0.10, 0.04, 0.045, 0.055, 0.02, 0.005, 0.002],
    [0.26, 0.23, 0.34, 0.17, 0.01, 0.01, 0.007],
    [0.07, 0.09, 0.09, 0.085, 0.035, 0.015, 0.003],
];

/// What a bar costs by the strokes that it could have, in nats.
fn expected() -> f64 {
    let bar = |rates: &[f64; CLASSES]| rates.iter().zip(PLACES).map(|(r, n)| r * n).sum::<f64>();
    RATES.iter().map(bar).sum()
}

/// The group of a stroke.
pub fn group(stroke: &Stroke) -> usize {
    match (stroke.voice, stroke.articulation) {
        (Voice::Kick, _) => 0,
        (Voice::Snare, _) => 1,
        (Voice::Hat, Articulation::Open) => 3,
        (Voice::Hat | Voice::Ride | Voice::Cowbell, _) => 2,
        (Voice::Crash | Voice::Crash2 | Voice::Splash | Voice::China, _) => 3,
        (Voice::HatFoot, _) => 4,
        _ => 5,
    }
}

/// The class of a slot of a pulse in a bar of `per_bar`.
pub fn class(pulse: i64, slot: (i64, i64), per_bar: usize) -> usize {
    match slot.1 {
        1 => match pulse.rem_euclid(per_bar as i64) {
            0 => 0,
            beat if 2 * beat == per_bar as i64 => 1,
            _ => 2,
        },
        2 => 3,
        4 => 4,
        3 => 5,
        _ => 6,
    }
}

/// How well strokes on slots fit a bar line `by` pulses after pulse 0, in nats,
/// for each `by` below `per_bar`.
pub fn line_of_bars(
    strokes: &[(&Stroke, i64, (i64, i64))],
    pulses: f64,
    per_bar: usize,
) -> Vec<f64> {
    let spent = pulses / 4.0 * expected();
    (0..per_bar as i64)
        .map(|by| {
            let one = |(stroke, pulse, slot): &(&Stroke, i64, (i64, i64))| {
                RATES[group(stroke)][class(pulse - by, *slot, per_bar)].ln()
            };
            strokes.iter().map(one).sum::<f64>() - spent
        })
        .collect()
}
