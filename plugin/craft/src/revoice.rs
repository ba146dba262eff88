//! Re-voicing: a cell written for one kit, on another.
//!
//! In: a cell, the kit it was written for and the kit at hand ([`Setup`]), and
//! what to play instead of what is missing, as data ([`RevoiceRules`]). Out: the
//! cell on the kit at hand, each stroke that changed and why, and whether the
//! way back gives the cell again. Never here: MIDI keys, another rhythm, a
//! higher drum where the cell goes down.
//!
//! Runs round the toms keep their direction. A run whose toms all have one of
//! their own on the other kit stays as it is; any other is spread evenly over
//! the toms from its first to its last, within one stroke, if possible so that
//! no double of one hand is split between two drums.

mod along;
mod rules;
mod setup;
mod toms;

pub use along::{along, hand_on};
pub use rules::{RevoiceRules, RevoiceRulesError};
pub use setup::{Pedals, Setup};

use barform_score::music::{Articulation, BeatsError, Cell, Limb, Slot, Stroke, Voice};
use std::fmt;

/// A cell on another kit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Revoiced {
    /// The cell; same letter, grid and rhythm.
    pub cell: Cell,
    /// The strokes that changed, in order.
    pub changes: Vec<Change>,
    /// Whether moving it back gives the cell it was.
    pub reversible: bool,
}

/// One stroke that changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Change {
    /// Its slot, from 0.
    pub slot: usize,
    /// Its limb in the cell as written.
    pub limb: Limb,
    /// What it was played on.
    pub from: (Voice, Articulation),
    /// What it is played on; `None` if it is left out.
    pub to: Option<(Voice, Articulation)>,
    /// Why.
    pub why: Why,
}

/// Why a stroke changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// The tom in that place round the other kit.
    Place,
    /// A run spread evenly over the toms of the other kit.
    Spread,
    /// The kit does not have the voice.
    Missing,
    /// The voice is not struck that way.
    Articulation,
    /// There is no second pedal: the other foot plays it.
    OtherFoot,
    /// There is no second pedal, and the other foot is busy there.
    NoPedal,
}

/// The cell on the kit `to`, written for `from`, by the built-in rules.
///
/// # Errors
/// [`BeatsError::Overflow`] if the exact positions do not fit.
pub fn revoice(cell: &Cell, from: &Setup, to: &Setup) -> Result<Revoiced, BeatsError> {
    revoice_by(RevoiceRules::builtin(), cell, from, to)
}

/// [`revoice`] by other rules.
///
/// # Errors
/// As [`revoice`].
pub fn revoice_by(
    rules: &RevoiceRules,
    cell: &Cell,
    from: &Setup,
    to: &Setup,
) -> Result<Revoiced, BeatsError> {
    let (moved, changes) = moved(rules, cell, from, to)?;
    let reversible = self::moved(rules, &moved, to, from)?.0 == *cell;
    Ok(Revoiced {
        cell: moved,
        changes,
        reversible,
    })
}

fn moved(
    rules: &RevoiceRules,
    cell: &Cell,
    from: &Setup,
    to: &Setup,
) -> Result<(Cell, Vec<Change>), BeatsError> {
    let mut moved = cell.clone();
    let mut changes = Vec::new();
    if from == to {
        return Ok((moved, changes));
    }
    let toms = toms::place(rules, cell, from, to)?;
    for (number, slot) in cell.slots.iter().enumerate() {
        let mut played = Slot::new();
        for (i, stroke) in slot.iter().enumerate() {
            let new = match toms.get(&(number, i)) {
                Some((tom, why)) => Some((on(*stroke, *tom, stroke.articulation), *why)),
                None => other(rules, cell, number, stroke, from, to),
            };
            let change = |to, why| Change {
                slot: number,
                limb: stroke.limb,
                from: (stroke.voice, stroke.articulation),
                to,
                why,
            };
            match new {
                Some((new, why)) => {
                    if new != *stroke {
                        let bare = new.voice == stroke.voice && new.limb == stroke.limb;
                        let why = if bare { Why::Articulation } else { why };
                        changes.push(change(Some((new.voice, new.articulation)), why));
                    }
                    played.push(new);
                }
                None => {
                    let second = is_second_kick(stroke) && to.has(stroke.voice);
                    let why = if second { Why::NoPedal } else { Why::Missing };
                    changes.push(change(None, why));
                }
            }
        }
        moved.slots[number] = played;
    }
    Ok((moved, changes))
}

/// A stroke on another voice, struck the same way if that can be.
fn on(stroke: Stroke, voice: Voice, articulation: Articulation) -> Stroke {
    let known = voice.articulations().contains(&articulation);
    let articulation = if known {
        articulation
    } else {
        Articulation::Plain
    };
    Stroke {
        voice,
        articulation,
        ..stroke
    }
}

/// Whether a stroke needs a second pedal on the bass drum.
fn is_second_kick(stroke: &Stroke) -> bool {
    stroke.limb == Limb::HatFoot && stroke.voice == Voice::Kick
}

/// A stroke that is not moved round the toms; `None` to leave it out.
fn other(
    rules: &RevoiceRules,
    cell: &Cell,
    slot: usize,
    stroke: &Stroke,
    from: &Setup,
    to: &Setup,
) -> Option<(Stroke, Why)> {
    if is_second_kick(stroke) && !to.pedals().double_kick && from.pedals().double_kick {
        if !to.has(Voice::Kick) {
            return None;
        }
        // One foot for two: only where it has a slot of rest on both sides, so
        // that it never doubles what two feet shared.
        let busy = |i: usize| {
            let strokes = cell.slots.get(i).into_iter().flatten();
            strokes
                .filter(|s| s.limb.is_foot() && s.voice == Voice::Kick)
                .count()
        };
        let alone =
            busy(slot) == 1 && busy(slot + 1) == 0 && slot.checked_sub(1).map_or(0, busy) == 0;
        return alone.then_some((
            Stroke {
                limb: Limb::KickFoot,
                ..*stroke
            },
            Why::OtherFoot,
        ));
    }
    if to.has(stroke.voice) || !from.has(stroke.voice) && !toms::is_tom(stroke.voice) {
        return Some((
            on(*stroke, stroke.voice, stroke.articulation),
            Why::Articulation,
        ));
    }
    let instead = rules.instead(stroke.voice, stroke.articulation);
    let (voice, articulation) = instead.iter().copied().find(|(voice, _)| to.has(*voice))?;
    let articulation = articulation.unwrap_or(stroke.articulation);
    Some((on(*stroke, voice, articulation), Why::Missing))
}

fn name((voice, articulation): (Voice, Articulation)) -> String {
    match articulation {
        Articulation::Plain => voice.name().to_owned(),
        _ => format!("{}:{}", voice.name(), articulation.name()),
    }
}

impl fmt::Display for Change {
    /// One line: `slot 3 R: tom3 to tom2, the run is spread evenly`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "slot {} {}: {}",
            self.slot + 1,
            self.limb.letter(),
            name(self.from)
        )?;
        match self.to {
            Some(to) => write!(f, " to {}", name(to))?,
            None => f.write_str(" is left out")?,
        }
        f.write_str(match self.why {
            Why::Place => ", the tom in its place round the kit",
            Why::Spread => ", the run is spread evenly",
            Why::Missing => ", the kit has none",
            Why::Articulation => ", it is not struck that way",
            Why::OtherFoot => ", with the other foot: there is one pedal",
            Why::NoPedal => ", there is one pedal and its foot is busy",
        })
    }
}
