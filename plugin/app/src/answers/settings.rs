//! What a tool is asked about, and how.

use super::written_pedals;
use crate::craft::revoice::Pedals;
use crate::music::{Cell, Hand, Voice};
use crate::score::Score;
use crate::session::CompiledScore;

/// A cell, and what of its score matters to it.
pub struct Subject {
    /// The cell as it plays.
    pub cell: Cell,
    /// Its score without form and cells.
    pub score: Score,
    /// The pedals that the score is written for.
    pub pedals: Pedals,
}

impl Subject {
    /// A cell of a score.
    pub fn of(score: &CompiledScore, cell: Cell) -> Subject {
        Subject {
            cell,
            pedals: written_pedals(&score.timeline.variants),
            score: Score {
                title: String::new(),
                sections: Vec::new(),
                cells: Vec::new(),
                ostinatos: Vec::new(),
                ..score.score().clone()
            },
        }
    }
}

/// All settings of all tools.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ToolSettings {
    /// How the kit stands, by its name in the rules.
    pub setup: String,
    /// How hard variations may be, by its name in the rules.
    pub level: String,
    /// Accents stay.
    pub accents: bool,
    /// The kick foot's strokes stay.
    pub kicks: bool,
    /// Rests stay.
    pub rests: bool,
    /// The sticking line stays.
    pub sticking: bool,
    /// The voices line stays.
    pub voices: bool,
    /// Any that exist, not the nearest.
    pub any: bool,
    /// Which of equally good ones.
    pub seed: u64,
    /// The hand that goes to one voice.
    pub hand: Hand,
    /// That voice; the kit's ride or last one if none is chosen.
    pub voice: Option<Voice>,
}

impl Default for ToolSettings {
    fn default() -> Self {
        ToolSettings {
            setup: "right-handed".to_owned(),
            level: "intermediate".to_owned(),
            accents: false,
            kicks: false,
            rests: false,
            sticking: false,
            voices: false,
            any: false,
            seed: 1,
            hand: Hand::Right,
            voice: None,
        }
    }
}

impl ToolSettings {
    /// The voice one hand goes to.
    pub fn voice_in(&self, score: &Score) -> Option<Voice> {
        let order = &score.kit.order;
        let there = |voice: &Voice| order.contains(voice);
        let ride = Some(Voice::Ride).filter(there);
        self.voice
            .filter(there)
            .or(ride)
            .or_else(|| order.last().copied())
    }
}
