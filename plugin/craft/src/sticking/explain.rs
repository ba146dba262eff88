//! A sticking with its reasons.

use crate::range::Thousandths;
use barform_score::music::{Hand, Limb};
use std::fmt;

/// Why a stroke costs something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// The passage begins with the hand that does not lead.
    Start,
    /// On the beat, but not with the lead hand.
    OffLead,
    /// The same hand as the stroke before.
    Repeat,
    /// Third or later stroke in a row while the other hand is silent.
    Run {
        /// Which in the row this is, as far back as the hands remember.
        in_a_row: u8,
    },
    /// The hand plays at a rate that tires.
    Rate {
        /// Strokes per second.
        per_second: Thousandths,
    },
    /// The hand cannot play at this rate.
    TooFast {
        /// Strokes per second.
        per_second: Thousandths,
    },
    /// A double where none is allowed.
    Double {
        /// Strokes per second.
        per_second: Thousandths,
    },
    /// An accent right after the hand's own stroke.
    Accent,
    /// A stroke right after the hand's own buzz.
    Buzz,
    /// The way from the hand's last voice.
    Travel {
        /// Centimetres.
        cm: i64,
    },
    /// That way in little time.
    Haste {
        /// Centimetres per second.
        cm_per_second: i64,
    },
    /// That way in less time than a hand needs.
    TooFar {
        /// Centimetres per second.
        cm_per_second: i64,
    },
    /// Hands crossed.
    Crossing,
    /// Hands crossed for the hi-hat.
    HatCrossing,
    /// The hi-hat with the other hand.
    HatHand,
    /// A grace note with the hand of its main stroke.
    GraceHand,
    /// A grace note while both hands play.
    GraceBusy,
    /// Two strokes at once with one hand.
    OneHand,
}

impl Cause {
    /// Whether it cannot be played at all.
    pub fn is_impossible(self) -> bool {
        use Cause::*;
        matches!(
            self,
            TooFast { .. } | Double { .. } | TooFar { .. } | GraceBusy | OneHand
        )
    }
}

/// One cost of one stroke.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Charge {
    /// Why.
    pub cause: Cause,
    /// The hand it falls on.
    pub hand: Hand,
    /// How much, above 0.
    pub cost: i64,
}

impl fmt::Display for Charge {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let hand = Limb::from(self.hand).said();
        match self.cause {
            Cause::Start => write!(f, "starts on the non-lead hand"),
            Cause::OffLead => write!(f, "the {hand}, not the lead, on the beat"),
            Cause::Repeat => write!(f, "the {hand} again"),
            Cause::Run { in_a_row } => write!(f, "stroke {in_a_row} in a row for the {hand}"),
            Cause::Rate { per_second } => {
                write!(f, "the {hand} plays at {per_second} strokes a second")
            }
            Cause::TooFast { per_second } => {
                write!(
                    f,
                    "impossible: the {hand} would play at {per_second} strokes a second"
                )
            }
            Cause::Double { per_second } => write!(
                f,
                "no doubles are allowed: the {hand} would repeat at {per_second} strokes a second"
            ),
            Cause::Accent => write!(f, "an accent right after a stroke of the {hand}"),
            Cause::Buzz => write!(f, "a stroke right after a buzz of the {hand}"),
            Cause::Travel { cm } => write!(f, "the {hand} travels {cm} cm"),
            Cause::Haste { cm_per_second } => {
                write!(f, "the {hand} travels at {cm_per_second} cm a second")
            }
            Cause::TooFar { cm_per_second } => {
                write!(
                    f,
                    "impossible: the {hand} would travel at {cm_per_second} cm a second"
                )
            }
            Cause::Crossing => write!(f, "the hands cross"),
            Cause::HatCrossing => write!(f, "the hands cross for the hi-hat"),
            Cause::HatHand => write!(f, "the {hand} plays the hi-hat"),
            Cause::GraceHand => write!(f, "the {hand} plays its own grace note"),
            Cause::GraceBusy => write!(f, "impossible: a grace note while both hands play"),
            Cause::OneHand => write!(f, "impossible: two strokes at once with the {hand}"),
        }?;
        write!(f, ": {}", self.cost)
    }
}

/// Hands for a passage, and what they cost.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sticking {
    /// The hand of each stroke.
    pub hands: Vec<Hand>,
    /// What each stroke costs and why.
    pub charges: Vec<Vec<Charge>>,
    /// Sum of all costs.
    pub total: i64,
}

impl Sticking {
    /// One plain line for each cost of a stroke.
    pub fn reasons(&self, stroke: usize) -> Vec<String> {
        self.charges
            .get(stroke)
            .into_iter()
            .flatten()
            .map(Charge::to_string)
            .collect()
    }

    /// The strokes that cannot be played this way.
    pub fn impossible(&self) -> impl Iterator<Item = usize> {
        let bad = |charges: &Vec<Charge>| charges.iter().any(|c| c.cause.is_impossible());
        self.charges
            .iter()
            .enumerate()
            .filter(move |(_, c)| bad(c))
            .map(|(i, _)| i)
    }

    /// The letters in order, `RLRR`.
    pub fn letters(&self) -> String {
        self.hands
            .iter()
            .map(|h| if *h == Hand::Right { 'R' } else { 'L' })
            .collect()
    }
}
