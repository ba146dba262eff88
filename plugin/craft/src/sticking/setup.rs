//! Where the voices stand, and which hand does what.

use crate::range::not_allowed;
use crate::rules::RuleError;
use barform_score::music::{Hand, Kit, Voice};
use serde::Deserialize;
use std::collections::BTreeMap;

/// A set-up as the data file states it.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SetupData {
    /// Left and right turned round.
    mirror: bool,
    /// `R` or `L`.
    lead: String,
    /// `R` or `L`.
    hat_hand: String,
}

impl SetupData {
    /// Whether both hands can be read.
    pub(super) fn check(&self, text: &str, name: &str) -> Result<(), RuleError> {
        for (key, hand) in [("lead", &self.lead), ("hat_hand", &self.hat_hand)] {
            if !matches!(hand.as_str(), "R" | "L") {
                let key = format!("setup.{name}.{key}");
                return Err(not_allowed(text, &key, format!("'{hand}'"), "R or L"));
            }
        }
        Ok(())
    }
}

/// The hand of a checked letter.
fn hand(letter: &str) -> Hand {
    if letter == "L" {
        Hand::Left
    } else {
        Hand::Right
    }
}

/// The toms and the cymbals in the order in which the data file's places go
/// round the kit.
const GROUPS: [&[Voice]; 2] = [
    &[
        Voice::Tom1,
        Voice::Tom2,
        Voice::Tom3,
        Voice::Tom4,
        Voice::Tom5,
        Voice::Tom6,
    ],
    &[
        Voice::Ride,
        Voice::Crash,
        Voice::Crash2,
        Voice::Splash,
        Voice::China,
    ],
];

/// A kit as it stands before a player.
///
/// Every voice stands at the place the rules give it. Where a kit names its
/// toms in another order, they change places among themselves so as to follow
/// it, and so do the cymbals.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Setup {
    /// The player's lead hand.
    pub lead: Hand,
    /// The hand that plays the hi-hat.
    pub hat_hand: Hand,
    /// Centimetres to the right of the snare and away from the player.
    places: [[i64; 2]; Voice::COUNT],
    /// Distances between all places, rounded down to whole centimetres.
    distances: Vec<u16>,
}

impl Setup {
    /// A set-up from checked data.
    pub(super) fn new(data: &SetupData, stated: &BTreeMap<String, [i64; 2]>, kit: &Kit) -> Setup {
        let place = |voice: Voice| stated.get(voice.name()).copied().unwrap_or([0, 0]);
        let mut places = [[0, 0]; Voice::COUNT];
        for voice in Voice::ALL {
            places[voice.index()] = place(voice);
        }
        for group in GROUPS {
            let mut asked: Vec<Voice> = Vec::new();
            for voice in &kit.order {
                if group.contains(voice) && !asked.contains(voice) {
                    asked.push(*voice);
                }
            }
            let round = group.iter().filter(|v| asked.contains(v));
            for (voice, spot) in asked.iter().zip(round) {
                places[voice.index()] = place(*spot);
            }
        }
        if data.mirror {
            places.iter_mut().for_each(|[right, _]| *right = -*right);
        }
        let distances = places
            .iter()
            .flat_map(|a| places.iter().map(move |b| (a, b)))
            // Both sides lie within 600 cm, so the root fits.
            .map(|(a, b)| ((a[0] - b[0]).pow(2) + (a[1] - b[1]).pow(2)).isqrt() as u16)
            .collect();
        Setup {
            lead: hand(&data.lead),
            hat_hand: hand(&data.hat_hand),
            places,
            distances,
        }
    }

    /// Centimetres to the right of the snare; negative to its left.
    pub fn cm_right(&self, voice: Voice) -> i64 {
        self.places[voice.index()][0]
    }

    /// Centimetres between two voices, rounded down.
    pub fn cm_between(&self, a: Voice, b: Voice) -> i64 {
        i64::from(self.distances[a.index() * Voice::COUNT + b.index()])
    }
}
