//! Sticking: which hand plays which stroke.
//!
//! In: a passage of hand strokes at exact times, some with a hand that the
//! player has settled, a tempo and a set-up. Out: the cheapest sticking by the
//! stated costs ([`Rules`], data), with every cost told per stroke. Hands that
//! are given are kept, and what is wrong with them is reported. Never here:
//! feet (they pass through untouched), rounding, taste that is not in the data.
//!
//! The optimum is exact for the stated costs. Of equally cheap stickings the
//! one wins that, at the first stroke where they differ, has the lead hand.

mod cell;
mod charge;
mod explain;
mod passage;
mod rules;
mod setup;
mod solve;

pub use cell::stick_cell;
pub use explain::{Cause, Charge, Sticking};
pub use passage::{OpenStroke, Passage, StickingError};
pub use rules::{Costs, Limits, Rules};
pub use setup::Setup;

use barform_score::music::{Beats, Hand};

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ask {
    /// Quarter-note beats per minute, above 0, at most 1000.
    pub tempo: Beats,
    /// The kit and the player.
    pub setup: Setup,
    /// The hand that leads; [`Setup::lead`] for the set-up's own.
    pub lead: Hand,
    /// Whether one hand may play two strokes in a row at speed.
    pub doubles: bool,
    /// Length of a beat for "back on the beat", above 0: one quarter note, or
    /// [`Meter::pulse`](barform_score::music::Meter::pulse).
    pub pulse: Beats,
    /// Position of the passage's start in the bar.
    pub from_bar_line: Beats,
}

impl Ask {
    /// Doubles allowed, beats of a quarter note, from a bar line, led as the
    /// set-up says.
    pub fn new(tempo: Beats, setup: Setup) -> Ask {
        let lead = setup.lead;
        Ask {
            tempo,
            setup,
            lead,
            doubles: true,
            pulse: Beats::ONE,
            from_bar_line: Beats::ZERO,
        }
    }
}
