//! One stroke: which limb, on what, how loud, how ornamented.

use super::{Articulation, Hand, Limb, Voice};

/// How loud a stroke is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub enum Level {
    /// Ghost note, written in parentheses.
    Ghost,
    /// Neither ghosted nor accented.
    #[default]
    Normal,
    /// Accent, written `>`.
    Accent,
}

/// The grace notes before a stroke: none, one (flam), two (drag) or three
/// (ruff), each with its hand, first to sound first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Graces {
    hands: [Option<Hand>; Graces::MAX],
}

impl Graces {
    /// Most grace notes before one stroke.
    pub const MAX: usize = 3;
    /// No grace note.
    pub const NONE: Graces = Graces {
        hands: [None; Graces::MAX],
    };

    /// The given hands in order, or `None` if there are more than
    /// [`Graces::MAX`].
    pub fn from_hands(hands: &[Hand]) -> Option<Graces> {
        let mut graces = Graces::NONE;
        for (i, hand) in hands.iter().enumerate() {
            *graces.hands.get_mut(i)? = Some(*hand);
        }
        Some(graces)
    }

    /// Number of grace notes, `0 ..= 3`.
    pub fn len(self) -> usize {
        self.hands.iter().flatten().count()
    }

    /// Whether there is none.
    pub fn is_empty(self) -> bool {
        self.len() == 0
    }

    /// The hands, first to sound first.
    pub fn iter(self) -> impl Iterator<Item = Hand> {
        self.hands.into_iter().flatten()
    }

    /// The trade's name for so many grace notes; empty for none.
    pub fn name(self) -> &'static str {
        ["", "flam", "drag", "four-stroke ruff"][self.len()]
    }
}

/// One stroke of one limb.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Stroke {
    /// The limb that plays it.
    pub limb: Limb,
    /// The instrument.
    pub voice: Voice,
    /// How it is struck.
    pub articulation: Articulation,
    /// Ghost, normal or accent.
    pub level: Level,
    /// Grace notes ahead of it.
    pub graces: Graces,
    /// Buzz: the stick is pressed and bounces on until the next slot.
    pub buzz: bool,
}

impl Stroke {
    /// A plain stroke of `limb` on the voice it plays when nothing else is
    /// said: hands on the snare, `K` on the kick, `H` on the hi-hat pedal.
    pub fn plain(limb: Limb) -> Stroke {
        let voice = match limb {
            Limb::RightHand | Limb::LeftHand => Voice::Snare,
            Limb::KickFoot => Voice::Kick,
            Limb::HatFoot => Voice::HatFoot,
        };
        Stroke {
            limb,
            voice,
            articulation: Articulation::Plain,
            level: Level::Normal,
            graces: Graces::NONE,
            buzz: false,
        }
    }
}

/// Sticking as it stands under a staff: letters, one per limb, hands first, grace hands ahead: `lR+K`.
pub fn sticking_under(strokes: &[Stroke]) -> String {
    let mut text = String::new();
    for limb in Limb::ALL {
        for stroke in strokes.iter().filter(|s| s.limb == limb) {
            if !text.is_empty() {
                text.push('+');
            }
            text.extend(stroke.graces.iter().map(|hand| hand.grace_letter()));
            text.push(limb.letter());
        }
    }
    text
}
