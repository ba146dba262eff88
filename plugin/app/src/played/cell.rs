//! The cell that the strokes of a take make.

use super::Struck;
use super::round::{Landed, Round};
use crate::craft::sticking::{Ask, OpenStroke, Rules, StickingError, stick_cell};
use crate::music::{Beats, BeatsError, Cell, Graces, Grid, Hand, Level, Limb, Slot, Stroke, Voice};

/// Longest time from a grace note to its stroke, in milliseconds; the same that
/// the MIDI reader goes by. Common practice, no source.
const GRACE_MS: i64 = 42;

/// What a take does to the strokes that were there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Over {
    /// The take stands in their place.
    #[default]
    Replace,
    /// The take is added to them; what was struck again is as it was struck last.
    Overdub,
}

/// How hands are found for strokes whose hand is not known.
#[derive(Debug, Clone, Copy)]
pub struct Hands<'a> {
    /// Tempo, kit and player.
    pub ask: &'a Ask,
    /// Costs.
    pub rules: &'a Rules,
}

/// A stroke of a take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hit {
    /// What was struck.
    pub struck: Struck,
    /// When, in beats from the start of round 0.
    pub at: Beats,
    /// What slot it was meant for.
    pub landed: Landed,
}

/// The strokes played so far.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Take {
    round: Round,
    hits: Vec<Hit>,
}

/// The cell that a take makes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Played {
    /// The cell, with the letter and the grid of the one that went round.
    pub cell: Cell,
    /// What was played and is not in it, or not as it was played, a line each.
    pub told: Vec<String>,
}

/// A stroke on its way to a slot.
#[derive(Debug, Clone, Copy)]
struct Mark {
    struck: Struck,
    round: i64,
    graces: usize,
}

impl Take {
    /// Nothing played yet on a grid that goes round and round.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if its exact positions do not fit.
    pub fn new(grid: &Grid) -> Result<Take, BeatsError> {
        Ok(Take {
            round: Round::of(grid)?,
            hits: Vec::new(),
        })
    }

    /// The grid's rounds.
    pub fn round(&self) -> &Round {
        &self.round
    }

    /// The strokes in the order they came.
    pub fn hits(&self) -> &[Hit] {
        &self.hits
    }

    /// Adds a stroke at a moment in beats from the start of round 0.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if the exact positions do not fit; the take is
    /// then as it was.
    pub fn strike(&mut self, at: Beats, struck: Struck) -> Result<Landed, BeatsError> {
        let landed = self.round.land(at)?;
        self.hits.push(Hit { struck, at, landed });
        Ok(landed)
    }

    /// Takes the last stroke away.
    pub fn take_back(&mut self) -> Option<Hit> {
        self.hits.pop()
    }

    /// Takes all strokes away.
    pub fn clear(&mut self) {
        self.hits.clear();
    }

    /// How late the strokes are on the whole: the median, which one slip does
    /// not move. Negative if they are early; `None` if there are none.
    pub fn median_off(&self) -> Option<Beats> {
        let mut all: Vec<Beats> = self.hits.iter().map(|hit| hit.landed.off).collect();
        all.sort_unstable();
        all.get(all.len() / 2).copied()
    }

    /// The cell that the take makes of `written`, which went round. On a slot
    /// that was struck in several rounds the last one counts, drum by drum. A
    /// softer stroke right before another on the same drum is its grace note,
    /// one right after it a bounce of the pad. Two hands play two drums at once,
    /// each foot its own pedal; what is over is left out and told.
    ///
    /// # Errors
    /// As [`stick_cell`].
    pub fn cell(
        &self,
        written: &Cell,
        over: Over,
        hands: Hands<'_>,
    ) -> Result<Played, StickingError> {
        let mut told = Vec::new();
        let marks = self.marks(hands.ask.tempo, &mut told)?;
        let mut slots = match over {
            Over::Replace => Vec::new(),
            Over::Overdub => written.slots.clone(),
        };
        slots.resize(self.round.slots(), Slot::new());
        // By slot and number in it; strokes are only ever added at the end.
        let mut open: Vec<(usize, usize)> = Vec::new();
        for (number, (slot, marks)) in slots.iter_mut().zip(&marks).enumerate() {
            for mark in marks {
                match put(slot, mark) {
                    Put::Settled => {}
                    Put::Open => open.push((number, slot.len() - 1)),
                    Put::LeftOut => told.push(format!(
                        "{} on slot {} is left out: no hand or foot is free for it",
                        mark.struck.voice.name(),
                        number + 1
                    )),
                }
            }
        }
        let cell = Cell {
            letter: written.letter.clone(),
            grid: written.grid.clone(),
            slots,
        };
        let is_open = |slot, number| open.contains(&(slot, number));
        let (mut cell, _) = stick_cell(&cell, is_open, true, hands.ask, hands.rules)?;
        for slot in &mut cell.slots {
            slot.sort_by_key(|stroke| stroke.limb);
        }
        Ok(Played { cell, told })
    }

    /// What is on each slot: one mark for each drum.
    fn marks(&self, tempo: Beats, told: &mut Vec<String>) -> Result<Vec<Vec<Mark>>, BeatsError> {
        let graces = self.graces(tempo, told)?;
        let mut slots: Vec<Vec<Mark>> = vec![Vec::new(); self.round.slots()];
        for (hit, graces) in self.hits.iter().zip(graces) {
            let (Some(graces), Some(slot)) = (graces, slots.get_mut(hit.landed.slot)) else {
                continue;
            };
            let mark = Mark {
                struck: hit.struck,
                round: hit.landed.round,
                graces,
            };
            let known = slot.iter_mut().find(|m| m.struck.voice == hit.struck.voice);
            let Some(known) = known else {
                slot.push(mark);
                continue;
            };
            if known.round == mark.round {
                told.push(format!(
                    "two strokes on {} fell on slot {}: the louder stays",
                    mark.struck.voice.name(),
                    hit.landed.slot + 1
                ));
                if mark.struck.velocity < known.struck.velocity {
                    continue;
                }
            }
            *known = mark;
        }
        Ok(slots)
    }

    /// For each stroke the number of its grace notes; `None` for what is a grace
    /// note or a bounce itself.
    fn graces(
        &self,
        tempo: Beats,
        told: &mut Vec<String>,
    ) -> Result<Vec<Option<usize>>, BeatsError> {
        // Where slots are as close as that, the next slot is meant.
        let half = self.round.shortest()?.checked_mul(Beats::new(1, 2))?;
        let window = tempo.checked_mul(Beats::new(GRACE_MS, 60_000))?.min(half);
        let mut graces: Vec<Option<usize>> = Vec::with_capacity(self.hits.len());
        for (i, hit) in self.hits.iter().enumerate() {
            let before = (0..i).rev().find(|j| {
                graces.get(*j).is_some_and(Option::is_some)
                    && self.hits[*j].struck.voice == hit.struck.voice
            });
            let mut own = Some(0);
            if let Some(j) = before {
                let gap = hit.at.checked_sub(self.hits[j].at)?;
                let close = gap >= Beats::ZERO && gap <= window;
                let softer = self.hits[j].struck.velocity < hit.struck.velocity;
                let foot = foot_of(hit.struck.voice).is_some();
                let had = graces[j].unwrap_or(0);
                if close && softer && !foot && had < Graces::MAX {
                    own = Some(had + 1);
                    graces[j] = None;
                } else if close {
                    own = None;
                    told.push(format!(
                        "a second contact on {} right after slot {} counts as a bounce",
                        hit.struck.voice.name(),
                        self.hits[j].landed.slot + 1
                    ));
                }
            }
            graces.push(own);
        }
        Ok(graces)
    }
}

/// What became of a mark.
enum Put {
    /// Its limb is known.
    Settled,
    /// It stands at the end of the slot and wants a hand.
    Open,
    /// There was no room.
    LeftOut,
}

/// The pedal's foot, if the voice has one.
fn foot_of(voice: Voice) -> Option<Limb> {
    match voice {
        Voice::Kick => Some(Limb::KickFoot),
        Voice::HatFoot => Some(Limb::HatFoot),
        _ => None,
    }
}

/// Puts a mark on a slot.
fn put(slot: &mut Slot, mark: &Mark) -> Put {
    let Struck {
        voice,
        articulation,
        level,
        ..
    } = mark.struck;
    if let Some(there) = slot.iter_mut().find(|s| s.voice == voice) {
        // The drum was struck here before: by whom stays.
        there.articulation = articulation;
        there.level = level;
        there.buzz = false;
        there.graces = there
            .limb
            .hand()
            .map_or(Graces::NONE, |hand| graces(mark, hand));
        return Put::Settled;
    }
    let busy = |limb: Limb| slot.iter().any(|s| s.limb == limb);
    let on = |limb| Stroke {
        limb,
        voice,
        articulation,
        level,
        graces: Graces::NONE,
        buzz: false,
    };
    if let Some(foot) = foot_of(voice) {
        if busy(foot) {
            return Put::LeftOut;
        }
        slot.push(on(foot));
        return Put::Settled;
    }
    if slot.iter().filter(|s| !s.limb.is_foot()).count() >= 2 {
        return Put::LeftOut;
    }
    let known = mark.struck.limb.and_then(|limb| Some((limb, limb.hand()?)));
    if let Some((limb, hand)) = known.filter(|(limb, _)| !busy(*limb)) {
        slot.push(Stroke {
            graces: graces(mark, hand),
            ..on(limb)
        });
        return Put::Settled;
    }
    slot.push(Stroke {
        graces: graces(mark, Hand::Right),
        ..on(Limb::RightHand)
    });
    Put::Open
}

/// The grace notes of a mark that a hand plays.
fn graces(mark: &Mark, hand: Hand) -> Graces {
    let count = vec![hand; mark.graces.min(Graces::MAX)];
    let graces = Graces::from_hands(&count).unwrap_or(Graces::NONE);
    // Hand by hand as where a hand is found.
    let open = OpenStroke {
        at: Beats::ZERO,
        voice: mark.struck.voice,
        level: Level::Normal,
        graces,
        buzz: false,
        hand: None,
    };
    open.graces_with(hand)
}
