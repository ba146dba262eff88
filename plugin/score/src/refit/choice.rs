//! Why each new slot plays what it plays, in one line.

use super::Stretch;
use super::choose::{How, Pick};
use super::opening::hand_voices;
use super::sticking::{Change, Plan};
use crate::music::{Cell, Hand, Level, Limb, Voice};
use std::fmt;

/// What one slot of a refit cell takes from the cell as it was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// The new slot, from 0.
    pub slot: usize,
    /// The slot of the cell it takes, from 0; `None` for a rest that the cell
    /// does not have.
    pub from: Option<usize>,
    /// Why this one.
    pub why: Why,
    /// The hand that plays, if the other did in the cell.
    pub hand: Option<Hand>,
    /// Limbs that play on `from` and rest here, lest they play more in a row
    /// than in the cell.
    pub left_out: Vec<Limb>,
}

/// Why a slot was chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// The opening figure stays.
    Opening,
    /// Both grids have a slot on this beat; true if a foot plays there.
    OnTheBeat {
        /// Whether a foot plays there.
        foot: bool,
    },
    /// It is in the same place at the same time in the cell.
    InPlace,
    /// It comes next.
    Next,
    /// Others are left out so that this accent stays.
    KeepsAccent,
    /// Others are left out so that this move to another voice stays.
    KeepsMove(Voice),
    /// Others are left out so that this foot stays.
    KeepsFoot(Limb),
    /// Others are left out; it is nearest.
    Nearest,
    /// The voice is held for one more slot.
    Stays,
    /// The cell's rest lasts for one more slot.
    HoldsRest,
    /// A passage begins again.
    BeginsAgain,
    /// The passage that has begun again goes on.
    GoesOn,
    /// Nothing: a repeat would be harder than the cell.
    Rest,
}

/// The choices of a finished refit.
pub(super) fn explain(
    cell: &Cell,
    stretches: &[Stretch],
    picks: &[Pick],
    plan: &Plan,
    opening: usize,
) -> Vec<Choice> {
    let mut choices = Vec::with_capacity(picks.len());
    let places = stretches
        .iter()
        .flat_map(|s| s.target.clone().map(move |slot| (slot, s)));
    for ((slot, stretch), (pick, change)) in places.zip(picks.iter().zip(&plan.changes)) {
        let Change { hand, left_out } = change.clone();
        let why = match (pick.from, pick.how) {
            (Some(from), How::Next | How::Skips) => {
                taken(cell, stretch, slot, from, pick.how, opening)
            }
            (Some(from), How::Stays) if cell.slots[from].is_empty() => Why::HoldsRest,
            (_, How::Stays) => Why::Stays,
            (_, How::Back) => Why::BeginsAgain,
            (_, How::Again) => Why::GoesOn,
            _ => Why::Rest,
        };
        choices.push(Choice {
            slot,
            from: pick.from,
            why,
            hand,
            left_out,
        });
    }
    choices
}

fn taken(
    cell: &Cell,
    stretch: &Stretch,
    slot: usize,
    from: usize,
    how: How,
    opening: usize,
) -> Why {
    let strokes = &cell.slots[from];
    let foot = strokes.iter().map(|s| s.limb).find(|l| l.is_foot());
    let before = cell.slots[..from]
        .iter()
        .rev()
        .map(hand_voices)
        .find(|v| !v.is_empty());
    let voice = hand_voices(strokes).first().copied();
    match how {
        _ if slot < opening => Why::Opening,
        _ if slot == stretch.target.start => Why::OnTheBeat {
            foot: foot.is_some(),
        },
        _ if stretch.alike => Why::InPlace,
        How::Next => Why::Next,
        _ if strokes.iter().any(|s| s.level == Level::Accent) => Why::KeepsAccent,
        _ => match (voice, before.and_then(|v| v.first().copied()), foot) {
            (Some(here), Some(there), _) if here != there => Why::KeepsMove(here),
            (_, _, Some(foot)) => Why::KeepsFoot(foot),
            _ => Why::Nearest,
        },
    }
}

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Why::Opening => f.write_str("the opening figure stays"),
            Why::OnTheBeat { foot: true } => f.write_str("on the beat, with its foot"),
            Why::OnTheBeat { foot: false } => f.write_str("on the beat"),
            Why::InPlace => f.write_str("stays in its place"),
            Why::Next => f.write_str("comes next"),
            Why::KeepsAccent => f.write_str("the accent stays, others are left out"),
            Why::KeepsMove(voice) => {
                write!(f, "the move to {} stays, others are left out", voice.name())
            }
            Why::KeepsFoot(limb) => {
                write!(f, "the foot ({}) stays, others are left out", limb.letter())
            }
            Why::Nearest => f.write_str("nearest, others are left out"),
            Why::Stays => f.write_str("stays on the voice for one more"),
            Why::HoldsRest => f.write_str("the rest lasts for one more"),
            Why::BeginsAgain => f.write_str("a passage begins again"),
            Why::GoesOn => f.write_str("the passage goes on"),
            Why::Rest => f.write_str("rests, a repeat would be harder than the cell"),
        }
    }
}

impl fmt::Display for Choice {
    /// One line, slots counted from 1: `slot 4 from 5: the accent stays, …`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "slot {}", self.slot + 1)?;
        if let Some(from) = self.from {
            write!(f, " from {}", from + 1)?;
        }
        write!(f, ": {}", self.why)?;
        if let Some(hand) = self.hand {
            let letter = Limb::from(hand).letter();
            write!(
                f,
                "; {letter} plays it, to keep the sticking no harder than the cell's"
            )?;
        }
        for limb in &self.left_out {
            write!(f, "; {} rests, the cell has fewer in a row", limb.letter())?;
        }
        Ok(())
    }
}
