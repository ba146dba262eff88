//! Which stroke silences which ringing cymbal, and how fast.

use barform_score::music::{Articulation, Voice};

/// Seconds in which closing hi-hats fall silent.
const HAT_CLOSE_S: f64 = 0.06;

/// Seconds in which a cymbal caught by the hand falls silent.
const HAND_S: f64 = 0.16;

/// Seconds a cymbal struck and caught rings before the hand has it.
pub(super) const HAND_DELAY_S: f64 = 0.05;

/// A way of silencing: a wait, then a fade.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Choke {
    /// Seconds until the fade starts.
    pub wait_s: f64,
    /// Seconds from there to silence.
    pub fade_s: f64,
}

/// What a stroke does to its own sound.
pub(super) fn own(articulation: Articulation) -> Option<Choke> {
    (articulation == Articulation::Choke).then_some(Choke {
        wait_s: HAND_DELAY_S,
        fade_s: HAND_S,
    })
}

/// What a new stroke does to a sound that rings already; `None` lets it ring.
///
/// Hi-hats: the closer stroke stops the more open one. Other cymbals: a choked
/// stroke catches what the same cymbal still rings. Everything else overlaps.
pub(super) fn of_ringing(
    new: (Voice, Articulation),
    ringing: (Voice, Articulation),
) -> Option<Choke> {
    if let (Some(new), Some(old)) = (openness(new), openness(ringing)) {
        return (new < old).then_some(Choke {
            wait_s: 0.0,
            fade_s: HAT_CLOSE_S,
        });
    }
    let caught = new.0 == ringing.0 && new.1 == Articulation::Choke;
    caught.then_some(Choke {
        wait_s: HAND_DELAY_S,
        fade_s: HAND_S,
    })
}

/// How far apart the hi-hats are: 0 closed, 1 half open, 2 open; `None` for
/// other voices.
fn openness((voice, articulation): (Voice, Articulation)) -> Option<u8> {
    match (voice, articulation) {
        (Voice::Hat | Voice::HatFoot, Articulation::Open) => Some(2),
        (Voice::Hat, Articulation::Half) => Some(1),
        (Voice::Hat | Voice::HatFoot, _) => Some(0),
        _ => None,
    }
}
