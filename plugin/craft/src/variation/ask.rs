//! What is asked of a variation, and what can be wrong with the question.

use barform_score::music::{Articulation, Cell, Limb, Voice};
use std::ops::RangeInclusive;

/// Most variations in one answer.
pub const MAX_ASKED: usize = 10_000;

/// Most slots of a cell that is varied: sixteen beats of eight slots.
pub const MAX_VARIED_SLOTS: usize = 128;

/// A question: which cells to make.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ask<'a> {
    /// The cell to vary. Its grid is the frame.
    pub original: &'a Cell,
    /// Name of a level of the rules.
    pub level: String,
    /// Limbs that may play.
    pub limbs: Vec<Limb>,
    /// Voices that may be struck, and how. The kick foot plays `Kick` and the
    /// hi-hat foot `HatFoot`, if they are listed; hands play all the others.
    pub voices: Vec<(Voice, Articulation)>,
    /// What must stay.
    pub keep: Keep,
    /// The least and the greatest distance from the original; `None` for any.
    pub within: Option<RangeInclusive<u64>>,
    /// Whether the cell will be played again and again: then what comes in a
    /// row is counted across its end, too.
    pub repeats: bool,
    /// How many, `1 ..= MAX_ASKED`.
    pub count: usize,
    /// The seed.
    pub seed: u64,
}

/// What must stay as it is in the original.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Keep {
    /// The first so many slots, wholly.
    pub opening: usize,
    /// Accents stand where they stood, and nowhere else.
    pub accents: bool,
    /// The kick foot plays where it played, and nowhere else.
    pub kicks: bool,
    /// Rests stand where they stood, and nowhere else: the rhythm stays.
    pub rests: bool,
    /// The sticking line stays: limbs, accents, ghost and grace notes, buzzes.
    pub sticking: bool,
    /// The voices line stays; which limb plays them may change.
    pub voices: bool,
}

/// Why a question has no answer.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum VariationError {
    /// The cell's slots do not match its grid.
    #[error("the cell has {slots} slots and its grid {grid}")]
    SlotCount {
        /// Slots of the cell.
        slots: usize,
        /// Slots of its grid.
        grid: usize,
    },
    /// The cell is too long.
    #[error("a cell of {slots} slots; at most {MAX_VARIED_SLOTS} are varied")]
    TooManySlots {
        /// Its slots.
        slots: usize,
    },
    /// More or fewer variations than allowed.
    #[error("{asked} variations asked for; allowed are 1 to {MAX_ASKED}")]
    Asked {
        /// How many.
        asked: usize,
    },
    /// More slots to stay than there are.
    #[error("an opening of {opening} slots to keep; the cell has {slots}")]
    Opening {
        /// How many were to stay.
        opening: usize,
        /// How many there are.
        slots: usize,
    },
    /// The level is not known.
    #[error("unknown level '{read}'; known are {known}")]
    UnknownLevel {
        /// What was read.
        read: String,
        /// Levels of the rules.
        known: String,
    },
    /// A voice cannot be struck that way.
    #[error("{} has no articulation '{}'", voice.name(), articulation.name())]
    Articulation {
        /// The voice.
        voice: Voice,
        /// The articulation.
        articulation: Articulation,
    },
    /// The greatest distance is below the least.
    #[error("distances {least} to {most}: the second is at least the first")]
    Within {
        /// The least.
        least: u64,
        /// The greatest.
        most: u64,
    },
    /// Counting exactly would take minutes.
    #[error(
        "too many ways to count them exactly; keep more, set a smaller distance or vary a \
         shorter cell"
    )]
    TooManyWays,
    /// The greatest distance is too great to count up to.
    #[error("distances up to {most}; allowed are up to {allowed}, or no limit at all")]
    WithinTooWide {
        /// The greatest.
        most: u64,
        /// The greatest allowed.
        allowed: u64,
    },
}

/// Greatest distance that can be asked for as a limit; bounds the work. Twenty
/// rests turned into strokes.
pub const MAX_WITHIN: u64 = 160;

impl<'a> Ask<'a> {
    /// A question about a cell: its own limbs and voices, nothing kept, at any
    /// distance, to be played again and again, seed 1.
    pub fn new(original: &'a Cell, level: &str, count: usize) -> Ask<'a> {
        let strokes = || original.slots.iter().flatten();
        let mut limbs: Vec<Limb> = strokes().map(|s| s.limb).collect();
        limbs.sort();
        limbs.dedup();
        let mut voices: Vec<_> = strokes().map(|s| (s.voice, s.articulation)).collect();
        voices.sort();
        voices.dedup();
        Ask {
            original,
            level: level.to_owned(),
            limbs,
            voices,
            keep: Keep::default(),
            within: None,
            repeats: true,
            count,
            seed: 1,
        }
    }

    /// The same sticking on other voices.
    pub fn other_voices(mut self) -> Ask<'a> {
        self.keep.sticking = true;
        self
    }

    /// The same rhythm, accents, kicks and voices with another sticking.
    pub fn other_sticking(mut self) -> Ask<'a> {
        self.keep = Keep {
            accents: true,
            kicks: true,
            rests: true,
            voices: true,
            ..self.keep
        };
        self
    }

    /// Refuses what makes no sense, before any work is done.
    pub(super) fn check(&self) -> Result<(), VariationError> {
        let slots = self.original.slots.len();
        let grid = self.original.grid.slot_count();
        if slots != grid {
            return Err(VariationError::SlotCount { slots, grid });
        }
        if slots > MAX_VARIED_SLOTS {
            return Err(VariationError::TooManySlots { slots });
        }
        if !(1..=MAX_ASKED).contains(&self.count) {
            return Err(VariationError::Asked { asked: self.count });
        }
        if self.keep.opening > slots {
            return Err(VariationError::Opening {
                opening: self.keep.opening,
                slots,
            });
        }
        if let Some((voice, articulation)) = self
            .voices
            .iter()
            .copied()
            .find(|(voice, how)| !voice.articulations().contains(how))
        {
            return Err(VariationError::Articulation {
                voice,
                articulation,
            });
        }
        if let Some(within) = &self.within {
            let (least, most) = (*within.start(), *within.end());
            if most < least {
                return Err(VariationError::Within { least, most });
            }
            if most > MAX_WITHIN {
                return Err(VariationError::WithinTooWide {
                    most,
                    allowed: MAX_WITHIN,
                });
            }
        }
        Ok(())
    }
}
